"""Load modulation against the spectrum of a keyed wave and against a circuit solved at all its sidebands at once."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from links.budget import link_budget
from links.circuits import BaseCircuit, TagCircuit
from links.errors import LinkError
from links.full_duplex import Keying, LoadModulation, Receiver, load_modulation, reply_margin

FREQUENCY = 134.2e3
BASE = BaseCircuit(390e-6, 9.0, source_voltage=6.0, source_resistance=6.0)
TAG = TagCircuit(2.0e-3, 30.0, load_resistance=25e3)
MUTUAL = 3e-6
# Slow enough that neither circuit takes anything off.
SLOW = Keying(5e3, frequency=1e-3)


def modulation(base: BaseCircuit, tag: TagCircuit, mutual: complex, keying: Keying) -> LoadModulation:
    return load_modulation(link_budget(FREQUENCY, base, tag, mutual), keying)


def test_slow_sidebands_are_the_spectrum_of_the_switched_phasor() -> None:
    found = modulation(BASE, TAG, MUTUAL, SLOW)
    plain = complex(link_budget(FREQUENCY, BASE, TAG, MUTUAL).base_current)
    keyed = complex(link_budget(FREQUENCY, BASE, replace(TAG, load_resistance=5e3), MUTUAL).base_current)
    phasor = np.where(np.arange(4096) < 2048, plain, keyed)
    spectrum = np.fft.fft(phasor) / 4096
    assert complex(found.base_current_change) == pytest.approx(keyed - plain, rel=1e-12, abs=0.0)
    assert float(found.sideband_current) == pytest.approx(abs(spectrum[1]), rel=1e-6, abs=0.0)
    assert float(found.sideband_current) == pytest.approx(abs(spectrum[-1]), rel=1e-6, abs=0.0)
    assert float(found.carrier_current) == pytest.approx(abs(spectrum[0]), rel=1e-12, abs=0.0)
    assert float(found.modulation_depth_decibels) == pytest.approx(
        20.0 * np.log10(abs(spectrum[0]) / abs(spectrum[1])), abs=1e-5
    )


@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_sideband_voltage_is_the_change_across_the_coil(tuning: str) -> None:
    base = replace(BASE, tuning=tuning, source_resistance=50.0)
    plain = link_budget(FREQUENCY, base, TAG, MUTUAL)
    keyed = link_budget(FREQUENCY, base, replace(TAG, load_resistance=5e3), MUTUAL)
    omega = 2.0 * pi * FREQUENCY
    phasors = [
        complex(state.base_current * (9.0 + 1j * omega * 390e-6 + state.reflected_impedance))
        for state in (plain, keyed)
    ]
    found = modulation(base, TAG, MUTUAL, SLOW)
    assert float(found.sideband_voltage) == pytest.approx(abs(phasors[1] - phasors[0]) / pi, rel=1e-9, abs=0.0)


def conversion_sidebands(base: BaseCircuit, tag: TagCircuit, mutual: float, keying: Keying) -> np.ndarray:
    """Base current at the carrier and its first sidebands, the load's conductance switched by a square wave.

    Every harmonic of the keying is an unknown of its own: base loop, tag loop and chip node at each of them, joined
    by the Fourier series of the conductance. Nothing here is quasi-static.
    """
    count = 25  # at 1/32 of the carrier the 32nd lower sideband would be direct current
    orders = np.arange(-count, count + 1)
    s = 2j * pi * (FREQUENCY + orders * keying.frequency)
    difference = orders[:, None] - orders[None, :]
    plain, keyed = 1.0 / tag.load_resistance, 1.0 / keying.modulated_load_resistance
    odd = difference % 2 != 0
    switched = np.where(odd, (plain - keyed) / (1j * pi * np.where(odd, difference, 1)), 0.0)
    base_c, tag_c = float(base.tuning_capacitance(FREQUENCY)), float(tag.tuning_capacitance(FREQUENCY))
    source, drive = base.source_resistance + 1.0 / (s * base_c), base.source_voltage
    if base.tuning == "parallel":
        source = base.source_resistance / (1.0 + s * base_c * base.source_resistance)
        drive = base.source_voltage / (1.0 + s[count] * base_c * base.source_resistance)
    unit, nothing, coupling = np.eye(orders.size), np.zeros_like(switched), np.diag(s * mutual)
    matrix = np.block(
        [
            [np.diag(source + base.resistance + s * base.inductance), coupling, nothing],
            [coupling, np.diag(tag.resistance + s * tag.inductance), unit],
            [nothing, -unit, switched + 0.5 * (plain + keyed) * unit + np.diag(s * tag_c)],
        ]
    )
    right = np.zeros(matrix.shape[0], complex)
    right[count] = drive
    return np.linalg.solve(matrix, right)[count - 1 : count + 2]


def against_the_whole_circuit(base: BaseCircuit, tag: TagCircuit, mutual: float, keying: Keying) -> float:
    """Sideband of the module over the mean of the two true ones."""
    lower, _, upper = np.abs(conversion_sidebands(base, tag, mutual, keying))
    return float(modulation(base, tag, mutual, keying).sideband_current) / (0.5 * (lower + upper))


def circuits(tuning: str, resistance: float, load: float, share: float) -> tuple[BaseCircuit, TagCircuit, float]:
    """A link at ``share`` of its critical coupling."""
    source = 6.0 if tuning == "series" else 1800.0
    base = replace(BASE, tuning=tuning, resistance=resistance, source_resistance=source)
    tag = replace(TAG, load_resistance=load)
    critical = float(link_budget(FREQUENCY, base, tag, 0.0).critical_coupling)
    return base, tag, share * critical * np.sqrt(base.inductance * tag.inductance)


@pytest.mark.parametrize("tuning", ["series", "parallel"])
@pytest.mark.parametrize("share", [0.05, 1.0, 3.0])
@pytest.mark.parametrize("divisor", [1e6, 64.0, 32.0])
@pytest.mark.parametrize(("resistance", "load"), [(9.0, 25e3), (1.0, 400e3)])
def test_lightly_keyed_sidebands_are_exact(
    tuning: str, share: float, divisor: float, resistance: float, load: float
) -> None:
    base, tag, mutual = circuits(tuning, resistance, load, share)
    ratio = against_the_whole_circuit(base, tag, mutual, Keying(0.99 * load, FREQUENCY / divisor))
    assert ratio == pytest.approx(1.0, abs=1e-4)  # second order in the keyed share of the conductance


@pytest.mark.parametrize("tuning", ["series", "parallel"])
@pytest.mark.parametrize("divisor", [64.0, 32.0])
@pytest.mark.parametrize("share", [0.05, 0.5, 1.0])
@pytest.mark.parametrize(("load", "keyed"), [(25e3, 10e3), (25e3, 500.0), (100e3, 20e3)])
def test_heavily_keyed_sidebands_stay_within_the_error_the_docstring_tells(
    tuning: str, divisor: float, share: float, load: float, keyed: float
) -> None:
    base, tag, mutual = circuits(tuning, 1.0, load, share)
    assert 0.8 < against_the_whole_circuit(base, tag, mutual, Keying(keyed, FREQUENCY / divisor)) < 1.2


def test_weakly_coupled_sidebands_lose_one_pole_each() -> None:
    base, tag, mutual = circuits("series", 9.0, 25e3, 1e-3)
    keying = Keying(0.99 * 25e3, FREQUENCY / 64)
    kept = (
        modulation(base, tag, mutual, keying).sideband_current
        / modulation(base, tag, mutual, replace(keying, frequency=1e-3)).sideband_current
    )
    budget = link_budget(FREQUENCY, base, tag, mutual)
    poles = [np.hypot(1.0, 2.0 * float(q) / 64) for q in (budget.base_quality_factor, budget.tag_quality_factor)]
    # A pole takes ω for ω0 in the reactances: right to about one part in 64.
    assert float(kept) == pytest.approx(1.0 / (poles[0] * poles[1]), rel=0.02, abs=0.0)


def test_an_envelope_detector_has_nulls_where_the_phasors_differ() -> None:
    # Detuned tags on both sides of a null: the magnitude's change turns its sign, the phasor's never comes near 0.
    capacitance = np.linspace(0.8, 1.2, 401) * float(TAG.tuning_capacitance(FREQUENCY))
    found = modulation(BASE, replace(TAG, capacitance=capacitance), MUTUAL, SLOW)
    assert found.envelope_change.min() < 0.0 < found.envelope_change.max()
    crossing = int(np.flatnonzero(np.diff(np.sign(found.envelope_change)))[0])
    assert abs(found.base_current_change[crossing]) > 20.0 * abs(found.envelope_change[crossing])
    assert np.all(np.abs(found.base_current_change) >= np.abs(found.envelope_change) * (1.0 - 1e-9))


def test_keying_defaults_to_one_64th_of_the_carrier() -> None:
    default = modulation(BASE, TAG, MUTUAL, Keying(5e3))
    assert default.sideband_current == modulation(BASE, TAG, MUTUAL, Keying(5e3, 134.2e3 / 64)).sideband_current
    assert default.sideband_current < modulation(BASE, TAG, MUTUAL, SLOW).sideband_current


@pytest.mark.parametrize("keyed_load", [5e3, 200e3])
@pytest.mark.parametrize("mutual", [1e-7, 3e-6, 3e-5])
def test_the_drive_keeps_one_voltage_that_meets_its_limit_in_both_states(mutual: float, keyed_load: float) -> None:
    # Either state may be the one that draws more: keyed to the lower load, or to the higher.
    limited, keying = replace(BASE, current_limit=0.1), Keying(keyed_load, 1e-3)
    free, held = modulation(BASE, TAG, mutual, keying), modulation(limited, TAG, mutual, keying)
    loads = (TAG.load_resistance, keyed_load)
    currents = [
        abs(complex(link_budget(FREQUENCY, BASE, replace(TAG, load_resistance=load), mutual).base_current))
        for load in loads
    ]
    share = min(1.0, 0.1 / max(currents))
    assert float(held.sideband_current) == pytest.approx(share * float(free.sideband_current), rel=1e-12, abs=0.0)
    assert float(held.carrier_current) == pytest.approx(share * float(free.carrier_current), rel=1e-12, abs=0.0)


def test_without_coupling_nothing_comes_back() -> None:
    found = modulation(BASE, TAG, np.array([0.0, 3e-6]), Keying(5e3))
    margins = reply_margin(found, Receiver(minimum_voltage=1e-3, dynamic_range=70.0))
    assert found.modulation_depth_decibels[0] == np.inf
    assert margins.dynamic_range_margin[0] == margins.voltage_margin[0] == margins.margin[0] == -np.inf
    assert np.all(np.isfinite([margins.dynamic_range_margin[1], margins.voltage_margin[1]]))


def test_reply_margins_are_the_distances_to_the_receivers_two_limits() -> None:
    found = modulation(BASE, TAG, MUTUAL, Keying(5e3))
    depth, voltage = float(found.modulation_depth_decibels), float(found.sideband_voltage)
    assert depth > 0.0
    margins = reply_margin(found, Receiver(minimum_voltage=0.5 * voltage, dynamic_range=depth + 3.0))
    assert float(margins.dynamic_range_margin) == pytest.approx(3.0, abs=1e-9)
    assert float(margins.voltage_margin) == pytest.approx(6.0206, abs=1e-4)
    assert float(margins.margin) == float(margins.dynamic_range_margin)


def test_keyings_and_receivers_that_cannot_be() -> None:
    with pytest.raises(LinkError, match=r"modulated load resistance: 0.0 given"):
        Keying(0.0)
    with pytest.raises(LinkError, match=r"keying frequency: -1.0 given"):
        Keying(5e3, -1.0)
    with pytest.raises(
        LinkError, match=r"^keying frequency: 134200.0 given; it must be less than the carrier's, 134200.0$"
    ):
        modulation(BASE, TAG, MUTUAL, Keying(5e3, FREQUENCY))
    with pytest.raises(LinkError, match=r"minimum voltage of the receiver: 0.0 given"):
        Receiver(0.0, 70.0)
    with pytest.raises(LinkError, match=r"dynamic range of the receiver: -1.0 given"):
        Receiver(1e-3, -1.0)
