"""A second station: read, refused, swept, and what the columns say of it."""

import cmath
from dataclasses import replace
from math import log10, pi

import pytest

from geometries.errors import GeometryError
from links.circuits import BaseCircuit
from studies.neighbour_columns import neighbour_columns, neighbour_remarks, turn_area
from studies.rows import number
from studies.solving import SolvedCoils, solved_coils
from studies.specification import Candidate, Neighbour
from studies.tuning import base_circuit
from tests.studies.conftest import FaultLister, Reader
from tests.studies.small import SMALL

BESIDE = '[neighbour]\nspacing = "200 mm"\n'
WITH_NEIGHBOUR = SMALL.replace("[map]", f"{BESIDE}\n[map]", 1)
MAP = SMALL.index("[sweep]")


@pytest.fixture(scope="module")
def solved(tmp_path_factory: pytest.TempPathFactory) -> tuple[Candidate, SolvedCoils, BaseCircuit]:
    from studies.study import read_study

    file = tmp_path_factory.mktemp("neighbour") / "study.toml"
    file.write_text(WITH_NEIGHBOUR, encoding="utf-8")
    candidate = read_study(file).base
    coils = solved_coils(candidate)
    return candidate, coils, BaseCircuit(coils.base.inductance, coils.base.resistance, 6.4, 6.0)


def test_as_the_file_describes_it(read: Reader) -> None:
    assert read(SMALL).base.neighbour is None
    assert read(WITH_NEIGHBOUR).base.neighbour == Neighbour(0.2, 0.0)
    higher = WITH_NEIGHBOUR.replace('"200 mm"', '"200 mm"\nlevel = "-15 mm"')
    assert read(higher).base.neighbour == Neighbour(0.2, -15e-3)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('spacing = "43 mm"', "neighbour.spacing: 43 mm given; the base coil is 43 mm across; more than 43 mm"),
        ('level = "5 mm"', "neighbour.spacing: is missing"),
        ('spacing = "200"', "neighbour.spacing: "),
        ('spacing = "200 mm"\ngap = "1 mm"', "neighbour.gap: is not a key known here"),
    ],
)
def test_what_is_refused(faults: FaultLister, table: str, said: str) -> None:
    (line,) = faults(SMALL.replace("[map]", f"[neighbour]\n{table}\n\n[map]", 1))
    assert said in line


def test_it_can_be_swept_whether_the_file_has_it_or_not(read: Reader) -> None:
    for text in (SMALL[:MAP], WITH_NEIGHBOUR[: WITH_NEIGHBOUR.index("[sweep]")]):
        study = read(text + '[sweep]\n"neighbour.spacing" = ["120 mm", "60 mm", "300 mm"]\n')
        found = [candidate.neighbour for candidate in study.candidates()]
        assert found == [Neighbour(0.12, 0.0), Neighbour(0.06, 0.0), Neighbour(0.3, 0.0)]


def test_no_neighbour_no_columns(solved: tuple[Candidate, SolvedCoils, BaseCircuit]) -> None:
    candidate, coils, circuit = solved
    alone = replace(candidate, neighbour=None)
    assert neighbour_columns(alone, coils, circuit, 0.1) == {}
    assert neighbour_remarks(alone, {}) == ()


def test_far_apart_it_is_a_pair_of_dipoles(solved: tuple[Candidate, SolvedCoils, BaseCircuit]) -> None:
    """M = −μ0 N² A²/(4π d³), the voltage k Q times the driven coil's."""
    candidate, coils, circuit = solved
    far = replace(candidate, neighbour=Neighbour(2.0, 0.0))
    row = neighbour_columns(far, coils, circuit, 0.1)
    mutual = -1e-7 * (40 * pi * 20e-3**2) ** 2 / 2.0**3
    assert row["neighbour_mutual_inductance_H"] == pytest.approx(mutual, rel=5e-3, abs=0.0)
    coefficient = abs(mutual) / coils.base.inductance
    assert row["neighbour_coupling_coefficient"] == pytest.approx(coefficient, rel=5e-3, abs=0.0)
    reactance = 2.0 * pi * 134.2e3 * coils.base.inductance
    tightness = coefficient * reactance / (coils.base.resistance + 6.0)
    assert row["neighbour_coupling_times_q"] == pytest.approx(tightness, rel=5e-3, abs=0.0)
    assert row["neighbour_isolation_dB"] == pytest.approx(-20.0 * log10(tightness), rel=0.0, abs=0.06)
    assert row["neighbour_voltage_V"] == pytest.approx(0.1 * reactance * tightness, rel=1e-2, abs=0.0)
    assert row["neighbour_surroundings_dB"] == pytest.approx(0.0, rel=0.0, abs=1e-6)  # ceramic alone


def test_through_a_lead_at_either_station(read: Reader) -> None:
    """The listening coil's EMF, its line and its reader's impedance, by the equations of a line (textbooks)."""
    lead = '[lead]\nlength = "8 m"\nresistance = "0.1 ohm/m"\ninductance = "0.6 uH/m"\ncapacitance = "300 pF/m"\n'
    candidate = read(WITH_NEIGHBOUR.replace("[map]", lead + "[map]", 1)).base
    coils = solved_coils(candidate)
    circuit, current, omega = base_circuit(candidate, coils), 0.1, 2.0 * pi * 134.2e3
    row = neighbour_columns(candidate, coils, circuit, current)
    mutual = number(row, "neighbour_mutual_inductance_H")
    base = coils.base
    series, shunt, length = 0.1 + 1j * omega * 0.6e-6, 1j * omega * 300e-12, 8.0
    wave, phase = cmath.sqrt(series / shunt), cmath.sqrt(series * shunt) * length
    stray = 1j * omega / ((2.0 * pi * base.self_resonance) ** 2 * base.inductance)
    reader = complex(circuit.source_impedance(134.2e3))
    # For 1 A into the reader's impedance: voltage and current at the coil, and the EMF that drives them.
    voltage = cmath.cosh(phase) * reader + wave * cmath.sinh(phase)
    into = cmath.sinh(phase) / wave * reader + cmath.cosh(phase) + stray * voltage
    emf = voltage + (base.resistance + 1j * omega * base.inductance) * into
    heard = current * omega * abs(mutual) * abs(reader / emf)
    assert row["neighbour_voltage_V"] == pytest.approx(heard, rel=1e-6, abs=0.0)
    assert row["neighbour_coupling_coefficient"] == pytest.approx(abs(mutual) / base.inductance, rel=1e-12, abs=0.0)


def test_the_mean_area_of_a_turn_is_its_moment_in_air(solved: tuple[Candidate, SolvedCoils, BaseCircuit]) -> None:
    _, coils, _ = solved
    assert turn_area(coils.base.section) == pytest.approx(abs(coils.base.field.moment), rel=1e-6, abs=0.0)


def test_stations_take_turns_where_the_receiver_would_hear(
    solved: tuple[Candidate, SolvedCoils, BaseCircuit],
) -> None:
    candidate, coils, circuit = solved
    row = neighbour_columns(candidate, coils, circuit, 0.3)
    (sentence,) = neighbour_remarks(candidate, row)
    assert "only if stations take turns" in sentence
    assert "dB above the 1 mV that its receiver hears" in sentence
    deaf = replace(candidate, link=replace(candidate.link, receiver_minimum_voltage=1e3))
    assert neighbour_remarks(deaf, row) == ()
    tight = replace(candidate, neighbour=Neighbour(44e-3, 0.0))
    close = neighbour_remarks(tight, neighbour_columns(tight, coils, circuit, 0.3))
    assert any("k Q of the two base coils" in one for one in close)


def test_turns_found_later_may_fill_the_gap(solved: tuple[Candidate, SolvedCoils, BaseCircuit]) -> None:
    candidate, coils, circuit = solved
    with pytest.raises(GeometryError, match="43 mm across"):
        neighbour_columns(replace(candidate, neighbour=Neighbour(42e-3, 0.0)), coils, circuit, 0.1)
