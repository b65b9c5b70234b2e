"""A coil seen through its lead: closed forms, and a ladder of many lumps solved node by node."""

from math import cos, pi, sin, sqrt, tan

import numpy as np
import pytest
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve

from links.budget import link_budget
from links.circuits import BaseCircuit, TagCircuit
from links.errors import LinkError
from links.lead import Lead, LeadPart, apparent_coil, lead_notes, lead_resonance

FREQUENCY = 134.2e3
OMEGA = 2.0 * pi * FREQUENCY
L1, R1 = 390e-6, 9.0
HOT = LeadPart(0.4, 0.9, 0.8e-6, 60e-12)
COLD = LeadPart(3.0, 0.15, 0.6e-6, 90e-12)
LEAD = Lead((HOT, COLD), coil_stray=8e-12)
# Long enough to be felt: a tenth of a turn of phase, and a resonance at twice the carrier.
LONG = Lead((LeadPart(30.0, 0.4, 0.5e-6, 15e-12), LeadPart(20.0, 0.1, 2e-6, 10e-12)), coil_stray=20e-12)


def ladder(lead: Lead, mutual: complex, tag: TagCircuit, sections: int) -> tuple[complex, complex, complex, complex]:
    """Voltage at the reader's end, current in winding and tag, voltage at the winding, for 1 A into the lead.

    Each section is half its capacitance, its series impedance, half its capacitance; unknowns are the node voltages
    from coil to reader, then the currents of coil and tag.
    """
    n = sections * len(lead.parts) + 1
    matrix, right = lil_matrix((n + 2, n + 2), dtype=complex), np.zeros(n + 2, dtype=complex)
    matrix[0, 0] += 1j * OMEGA * lead.coil_stray
    for number, part in enumerate(lead.parts):
        series = (part.resistance + 1j * OMEGA * part.inductance) * part.length / sections
        shunt = 1j * OMEGA * part.capacitance * part.length / sections
        for i in range(number * sections, (number + 1) * sections):
            matrix[i, i] += 1.0 / series + 0.5 * shunt
            matrix[i + 1, i + 1] += 1.0 / series + 0.5 * shunt
            matrix[i, i + 1] -= 1.0 / series
            matrix[i + 1, i] -= 1.0 / series
    matrix[0, n] = 1.0  # the winding takes its current out of the first node
    matrix[n, 0], matrix[n, n], matrix[n, n + 1] = -1.0, R1 + 1j * OMEGA * L1, 1j * OMEGA * mutual
    matrix[n + 1, n], matrix[n + 1, n + 1] = 1j * OMEGA * mutual, complex(tag.loop_impedance(FREQUENCY))
    right[n - 1] = 1.0
    found = spsolve(matrix.tocsc(), right)
    return complex(found[n - 1]), complex(found[n]), complex(found[n + 1]), complex(found[0])


TAG = TagCircuit(2e-3, 30.0, 60e3, capacitance=705e-12)


@pytest.mark.parametrize("lead", [LEAD, LONG], ids=["short", "long"])
@pytest.mark.parametrize("coupling", [0.0, 0.02, 0.3 - 0.01j])
def test_a_ladder_of_many_lumps_agrees(lead: Lead, coupling: complex) -> None:
    mutual = coupling * sqrt(L1 * 2e-3)
    voltage, winding, tag_current, coil_voltage = ladder(lead, mutual, TAG, 1000)
    seen = apparent_coil(lead, L1, R1, FREQUENCY)
    # The apparent two-port of reader and tag: Z11, the scaled M, and what the open lead adds to the tag.
    scaled = complex(seen.mutual_inductance(mutual))
    loop = complex(TAG.loop_impedance(FREQUENCY) + seen.tag_impedance(mutual))
    impedance = complex(seen.resistance + 1j * OMEGA * seen.inductance)
    assert impedance + (OMEGA * scaled) ** 2 / loop == pytest.approx(voltage, rel=1e-6, abs=0.0)
    assert -1j * OMEGA * scaled / loop == pytest.approx(tag_current, rel=1e-6, abs=0.0)
    at_coil = seen.at_coil(voltage, 1.0)
    assert complex(at_coil[0]) == pytest.approx(coil_voltage, rel=1e-6, abs=0.0)
    assert complex(at_coil[1]) == pytest.approx(winding, rel=1e-6, abs=0.0)
    if coupling == 0.0:
        assert complex(seen.current_ratio) == pytest.approx(winding, rel=1e-6, abs=0.0)
        assert complex(seen.voltage_ratio) == pytest.approx(coil_voltage / voltage, rel=1e-6, abs=0.0)


@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_a_link_budget_takes_the_lead_in(tuning: str) -> None:
    mutual = 0.05 * sqrt(L1 * 2e-3)
    seen = apparent_coil(LONG, L1, R1, FREQUENCY)
    added = complex(seen.tag_impedance(mutual))
    tag = TagCircuit(2e-3 + added.imag / OMEGA, 30.0 + added.real, 60e3, capacitance=705e-12)
    base = BaseCircuit(
        float(seen.inductance), float(seen.resistance), 6.0, 6.0, tuning, float(seen.tuning_capacitance(tuning))
    )
    budget = link_budget(FREQUENCY, base, tag, seen.mutual_inductance(mutual))
    voltage, winding, tag_current, _ = ladder(LONG, mutual, TAG, 1000)
    source, behind = complex(base.open_circuit_voltage(FREQUENCY)), complex(base.source_impedance(FREQUENCY))
    current = source / (behind + voltage)
    assert complex(budget.base_current) == pytest.approx(current, rel=1e-6, abs=0.0)
    assert complex(budget.tag_current) == pytest.approx(current * tag_current, rel=1e-6, abs=0.0)
    _, coil = seen.at_coil(budget.network.coil_voltage, budget.base_current)
    assert complex(coil) == pytest.approx(current * winding, rel=1e-6, abs=0.0)


def test_a_ladder_comes_nearer_as_the_square_of_its_sections() -> None:
    seen = apparent_coil(LONG, L1, R1, FREQUENCY)
    exact = complex(seen.resistance + 1j * OMEGA * seen.inductance)
    errors = [abs(ladder(LONG, 0.0, TAG, n)[0] / exact - 1.0) for n in (4, 8, 16)]
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.05)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.02)


def test_a_line_without_loss_is_the_closed_form() -> None:
    line = LeadPart(50.0, 0.0, 0.5e-6, 50e-12)
    wave, angle = sqrt(0.5e-6 / 50e-12), OMEGA * 50.0 * sqrt(0.5e-6 * 50e-12)
    expected = [[cos(angle), 1j * wave * sin(angle)], [1j * sin(angle) / wave, cos(angle)]]
    assert line.chain_matrix(FREQUENCY) == pytest.approx(np.array(expected), rel=1e-13, abs=1e-18)
    seen = apparent_coil(Lead((line,)), 20e-6, 1e-9, FREQUENCY)
    reactance = OMEGA * 20e-6
    found = wave * (reactance + wave * tan(angle)) / (wave - reactance * tan(angle))
    assert float(seen.inductance) == pytest.approx(found / OMEGA, rel=1e-9, abs=0.0)


def test_a_chain_is_reciprocal_and_two_halves_are_the_whole() -> None:
    (a, b), (c, d) = chain = LONG.chain_matrix(FREQUENCY)
    assert a * d - b * c == pytest.approx(1.0, rel=1e-13, abs=0.0)
    halves = tuple(
        LeadPart(part.length / 2, part.resistance, part.inductance, part.capacitance)
        for part in LONG.parts
        for _ in range(2)
    )
    assert Lead(halves, 20e-12).chain_matrix(FREQUENCY) == pytest.approx(chain, rel=1e-12, abs=0.0)
    # The order matters: the hot part lies at the coil.
    assert abs(Lead(LONG.parts[::-1], 20e-12).chain_matrix(FREQUENCY)[0, 0] - a) > 1e-4


def test_a_short_lead_adds_its_inductance_and_its_resistance() -> None:
    lead = Lead((LeadPart(0.5, 0.3, 0.7e-6, 0.0), LeadPart(2.0, 0.1, 0.5e-6, 0.0)))
    seen = apparent_coil(lead, L1, R1, FREQUENCY)
    assert float(seen.inductance) == pytest.approx(L1 + 0.5 * 0.7e-6 + 2.0 * 0.5e-6, rel=1e-13, abs=0.0)
    assert float(seen.resistance) == pytest.approx(R1 + 0.15 + 0.2, rel=1e-12, abs=0.0)
    assert complex(seen.current_ratio) == 1.0
    assert lead_resonance(lead, L1) == np.inf
    # With capacitance the rest vanishes as the lead's length: halve it, and it halves.
    rest = []
    for length in (2e-3, 1e-3):
        part = LeadPart(length, 0.3, 0.7e-6, 60e-12)
        rest.append(float(apparent_coil(Lead((part,)), L1, R1, FREQUENCY).inductance) - L1 - length * 0.7e-6)
    assert rest[0] / rest[1] == pytest.approx(2.0, rel=1e-3, abs=0.0)


def test_no_lead_leaves_the_coil_as_it_is() -> None:
    coils = np.array([100e-6, 390e-6])
    seen = apparent_coil(Lead(()), coils, np.array([3.0, 9.0]), FREQUENCY)
    assert seen.inductance == pytest.approx(coils, rel=1e-14, abs=0.0)
    assert seen.share_in_coil == pytest.approx([1.0, 1.0], rel=1e-14, abs=0.0)
    assert lead_notes(Lead(()), L1, R1, FREQUENCY) == ()


def test_power_into_the_lead_is_the_coils_and_what_the_wires_take() -> None:
    seen = apparent_coil(LONG, L1, R1, FREQUENCY)
    winding = complex(seen.current_ratio)
    state = np.array([winding * complex(seen.coil_impedance), winding])
    state = np.array([[1.0, 0.0], [1j * OMEGA * 20e-12, 1.0]]) @ state
    lost = 0.0
    nodes, weights = np.polynomial.legendre.leggauss(24)
    for part in LONG.parts:
        places = [
            LeadPart(0.5 * part.length * (1.0 + x), part.resistance, part.inductance, part.capacitance) for x in nodes
        ]
        currents = np.array([(place.chain_matrix(FREQUENCY) @ state)[1] for place in places])
        lost += 0.25 * part.length * part.resistance * float(weights @ np.abs(currents) ** 2)
        state = part.chain_matrix(FREQUENCY) @ state
    entered = 0.5 * float(seen.resistance)
    assert entered == pytest.approx(lost + 0.5 * R1 * abs(winding) ** 2, rel=1e-12, abs=0.0)
    assert float(seen.share_in_coil) == pytest.approx(1.0 - lost / entered, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_the_capacitor_at_the_reader_leaves_no_reactance(tuning: str) -> None:
    seen = apparent_coil(LONG, L1, R1, FREQUENCY)
    impedance = complex(seen.resistance + 1j * OMEGA * seen.inductance)
    susceptance = 1j * OMEGA * float(seen.tuning_capacitance(tuning))  # type: ignore[arg-type]
    total = impedance + 1.0 / susceptance if tuning == "series" else 1.0 / impedance + susceptance
    assert abs(total.imag) < 1e-12 * abs(susceptance if tuning == "parallel" else impedance)


def test_resonances_in_closed_form() -> None:
    stray = Lead((), coil_stray=50e-12)
    assert lead_resonance(stray, L1) == pytest.approx(1.0 / (2.0 * pi * sqrt(L1 * 50e-12)), rel=1e-9, abs=0.0)
    # A line whose far end is nearly shorted resonates as a quarter wave.
    line = Lead((LeadPart(40.0, 0.7, 0.5e-6, 50e-12),))
    quarter = 1.0 / (4.0 * 40.0 * sqrt(0.5e-6 * 50e-12))
    assert lead_resonance(line, 1e-15) == pytest.approx(quarter, rel=1e-9, abs=0.0)
    halves = Lead((LeadPart(20.0, 0.7, 0.5e-6, 50e-12), LeadPart(20.0, 0.1, 0.5e-6, 50e-12)))
    assert lead_resonance(halves, 1e-15) == pytest.approx(quarter, rel=1e-9, abs=0.0)


@pytest.mark.parametrize("lead", [LEAD, LONG], ids=["short", "long"])
def test_at_the_resonance_the_reader_sees_an_open_circuit(lead: Lead) -> None:
    resonance = lead_resonance(lead, L1)
    impedance = lambda f: apparent_coil(lead.without_loss(), L1, 1e-6, f).inductance * 2.0 * pi * f  # noqa: E731
    assert impedance(resonance * (1.0 - 1e-6)) > 1e5
    assert impedance(resonance * (1.0 + 1e-6)) < -1e5
    below = [float(impedance(f)) for f in np.linspace(1e3, 0.999 * resonance, 500)]
    assert np.all(np.diff(below) > 0.0)  # a reactance rises (Foster) until its first pole


def test_a_lead_that_resonates_below_or_near_the_carrier_is_told_with_its_numbers() -> None:
    below = Lead((LeadPart(50.0, 0.1, 0.5e-6, 100e-12),))
    (fault,) = lead_notes(below, L1, R1, FREQUENCY)
    resonance = lead_resonance(below, L1)
    assert resonance < FREQUENCY
    assert (
        f"Coil and lead resonate at {resonance / 1e3:.4g} kHz, {resonance / FREQUENCY:.3g} times the carrier" in fault
    )
    assert "the reader drives no coil but a capacitor" in fault
    seen = apparent_coil(below, L1, R1, FREQUENCY)
    assert float(seen.inductance) < 0.0
    with pytest.raises(LinkError, match=r"lead: at 134\.2 kHz coil and lead are above their own resonance"):
        seen.tuning_capacitance("series")
    (warning,) = lead_notes(LONG, L1, R1, FREQUENCY)
    apparent = float(apparent_coil(LONG, L1, R1, FREQUENCY).inductance)
    assert f"the reader sees {apparent * 1e6:.4g} µH instead of 390 µH" in warning
    assert lead_notes(LEAD, L1, R1, FREQUENCY) == ()


def test_what_no_lead_can_be() -> None:
    with pytest.raises(LinkError, match=r"length of the lead: -1.0 given; it must be finite and at least 0"):
        LeadPart(-1.0, 0.0, 0.0, 0.0)
    with pytest.raises(LinkError, match="capacitance per metre of the lead: nan given"):
        LeadPart(1.0, 0.0, 0.0, float("nan"))
    with pytest.raises(LinkError, match=r"stray capacitance of the coil: -1e-12 given"):
        Lead((), -1e-12)
    with pytest.raises(LinkError, match=r"frequency: 0.0 given"):
        apparent_coil(LEAD, L1, R1, 0.0)
    with pytest.raises(LinkError, match="inductance of the base coil: nan given"):
        lead_resonance(LEAD, float("nan"))
    with pytest.raises(LinkError, match="inductance of the base coil: inf given; it must be finite"):
        lead_resonance(LEAD, float("inf"))
    with pytest.raises(LinkError, match=r"resistance of the base coil: 0.0 given"):
        apparent_coil(LEAD, L1, 0.0, FREQUENCY)
