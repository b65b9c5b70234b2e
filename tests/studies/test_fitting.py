"""Tuning capacitors as bought: chosen parts, their tolerance, the worst of it in the verdict; faults of the file."""

from itertools import product

import numpy as np
import pytest

from studies.coupling import asked_of, coupling_of
from studies.fitting import USUAL, chosen, corner_margins, corners, fitted
from studies.rows import number
from studies.specification import CapacitorChoice, CapacitorSpecification
from tests.studies.conftest import Evaluator, FaultLister, Reader
from tests.studies.test_tuning import with_capacitors

PAIR = "base_coil.capacitor={ choose = 'pair', tolerance = 0.02 }"
TAG_PAIR = "tag.capacitor={ choose = 'pair', tolerance = 0.02 }"
NO_TAG_PAIR = "tag.capacitor={ choose = 'pair', tolerance = 0.0 }"


@pytest.mark.parametrize("choose", ["one part", "pair", "bank"])
def test_parts_come_near_what_tunes(choose: str) -> None:
    exact = 8.77e-9
    found = chosen(CapacitorChoice(choose, "E12", 0.05, (0.99, 0.98, 1.0), 20e-12), exact)  # type: ignore[arg-type]
    assert found.capacitance == pytest.approx(sum(found.parts) * 0.99 + 20e-12, rel=1e-12, abs=0.0)
    nearest = {"one part": 0.08, "pair": 0.005, "bank": 0.005}[choose]
    assert abs(found.capacitance / exact - 1.0) < nearest
    assert found.least < found.capacitance < found.greatest
    if choose == "bank":  # set once it is built: a step is left, no tolerance
        assert found.greatest / found.least - 1.0 < 0.04
    else:
        assert found.least == pytest.approx(sum(found.parts) * 0.98 * 0.95 + 20e-12, rel=1e-12, abs=0.0)


def test_the_verdict_takes_the_worst_corner(evaluation_of: Evaluator) -> None:
    """Against each corner given as a capacitance by itself and evaluated whole."""
    found = evaluation_of(PAIR, TAG_PAIR, "tag.chip.minimum_voltage=3 V")
    made = fitted(found.candidate, found.coils)
    base, tag = made.coil.capacitor, made.tag.capacitor
    assert isinstance(base, CapacitorSpecification)
    assert isinstance(tag, CapacitorSpecification)
    margins = []
    for first, second in product((base.least, base.greatest), (tag.least, tag.greatest)):
        given = f"base_coil.capacitor.capacitance={first * 1e9!r} nF", f"tag.capacitor.capacitance={second * 1e9!r} nF"
        margins.append(number(evaluation_of(*given, "tag.chip.minimum_voltage=3 V").row, "margin_dB"))
    assert number(found.row, "margin_dB") == pytest.approx(min(margins), abs=1e-6, rel=0.0)
    assert number(found.row, "margin_as_fitted_dB") == pytest.approx(min(margins), abs=1e-6, rel=0.0)
    assert number(found.row, "margin_tuned_dB") > number(found.row, "margin_dB") + 0.3
    assert float(found.map.worst_margin.max()) < float(evaluation_of("tag.chip.minimum_voltage=3 V").map.margin.max())


def test_no_word_of_capacitors_is_tuned_and_tells_what_usual_parts_cost(evaluation_of: Evaluator) -> None:
    row = evaluation_of("tag.chip.minimum_voltage=3 V").row
    assert row["margin_dB"] == pytest.approx(number(row, "margin_tuned_dB"), abs=1e-9, rel=0.0)
    assert number(row, "margin_as_fitted_dB") < number(row, "margin_tuned_dB")
    assert str(row["tuning_parts"]).count(" pF") == 2


def test_the_first_corner_is_typical_and_the_rest_are_its_ends(evaluation_of: Evaluator) -> None:
    found = evaluation_of()
    bought = fitted(found.candidate, found.coils, USUAL)
    fits = corners(bought, found.coils)
    assert len(fits) == 5
    assert len(corners(found.candidate, found.coils)) == 1
    coupling = coupling_of(found.candidate, found.coils)
    margins = corner_margins(bought, coupling, asked_of(coupling, found.candidate.require.places), fits)
    assert margins.shape == (5,)
    assert np.argmin(margins) != 0


def test_stray_capacitance_is_part_of_it(evaluation_of: Evaluator) -> None:
    plain = evaluation_of("tag.capacitor={ capacitance = '4 nF' }")
    stray = evaluation_of("tag.capacitor={ parts = ['3 nF', '0.9 nF'], stray = '100 pF' }")
    assert stray.row["tag_tuning_capacitance_F"] == pytest.approx(4e-9, rel=1e-12, abs=0.0)
    assert stray.row["margin_dB"] == pytest.approx(number(plain.row, "margin_dB"), abs=1e-9, rel=0.0)


def test_a_capacitor_under_its_voltage_is_told(evaluation_of: Evaluator) -> None:
    found = evaluation_of("base_coil.capacitor={ capacitance = '9 nF', rated_voltage = '10 V', loss_factor = 0.001 }")
    volts = number(found.row, "capacitor_voltage_V")
    assert volts > 10.0
    assert any(f"rated_voltage: {volts:.3g} V peak stands across it, 10 V" in text for text in found.warnings)
    current = number(found.row, "capacitor_current_rms_A")
    peak = number(found.row, "source_current_A")
    assert current == pytest.approx(peak / np.sqrt(2.0), rel=2e-3, abs=0.0)
    assert number(found.row, "capacitor_loss_W") == pytest.approx(0.5e-3 * volts * peak, rel=1e-6, abs=0.0)


def test_what_the_supply_gives_and_the_third_harmonic(evaluation_of: Evaluator) -> None:
    row = evaluation_of("drive.resistance=50 ohm").row
    assert number(row, "supply_current_A") == pytest.approx(number(row, "input_power_W") / 5.0, rel=0.02, abs=0.0)
    assert number(row, "supply_current_A") > number(row, "input_power_W") / 5.0
    # At three times resonance the circuit is all but a reactance of (3 - 1/3) ωL.
    reactance = (3.0 - 1.0 / 3.0) * 2.0 * np.pi * 134.2e3 * number(row, "base_inductance_H")
    expected = 4.0 / np.pi * 5.0 / 3.0 / np.hypot(reactance, 50.0 + number(row, "base_resistance_ohm"))
    assert number(row, "third_harmonic_source_current_A") == pytest.approx(expected, rel=1e-6, abs=0.0)
    assert number(evaluation_of("drive={ bridge = 'sine', source_voltage = '5 V', resistance = '6 ohm' }").row,
                  "third_harmonic_source_current_A") == 0.0  # fmt: skip


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ('capacitance = "3 nF", choose = "pair"', "both capacitance and choose are given; one of the three ways"),
        ('capacitance = "3 nF", series = "E12"', "series is given without choose; both or neither"),
        ('choose = "two"', '"two" is not known here; one of one part, pair, bank'),
        ('choose = "pair", series = "E13"', '"E13" is not known here; one of E3, E6, E12, E24, E48, E96, E192'),
        ('choose = "pair", tolerance = 2', "2 is out of bounds"),
        ("parts = []", "an empty list"),
    ],
)
def test_faults(faults: FaultLister, bare: str, given: str, told: str) -> None:
    (line,) = faults(with_capacitors(bare, given))
    assert told in line
    assert "base_coil.capacitor" in line


def test_what_is_assumed_of_a_choice_is_told(read: Reader, bare: str) -> None:
    base = read(with_capacitors(bare, 'choose = "bank"')).base
    assumed = {one.key: one.value for one in base.assumptions}
    assert assumed["base_coil.capacitor.series"] == "E24"
    assert assumed["base_coil.capacitor.tolerance"] == "0.02"
    assert isinstance(base.coil.capacitor, CapacitorChoice)
