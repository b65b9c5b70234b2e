"""One candidate's record: columns that agree with one another, places inside and outside the map, sane numbers."""

from math import copysign, isfinite, pi, sqrt
from re import findall

import numpy as np
import pytest

from studies.engineering import place_text
from studies.evaluation import Evaluation
from studies.rows import number
from studies.specification import Place
from tests.studies.conftest import Evaluator

OMEGA = 2.0 * pi * 134.2e3


@pytest.fixture(scope="session")
def found(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of()


def test_resistance_is_the_sum_of_its_parts(found: Evaluation) -> None:
    row = found.row
    winding = sum(number(row, f"base_{part}_resistance_ohm") for part in ("direct_current", "skin", "proximity"))
    assert row["base_winding_resistance_ohm"] == pytest.approx(winding, rel=1e-12, abs=0.0)
    total = winding + number(row, "base_reflected_resistance_ohm")
    assert row["base_resistance_ohm"] == pytest.approx(total, rel=1e-12, abs=0.0)
    tag = number(row, "tag_winding_resistance_ohm") + number(row, "tag_core_resistance_ohm")
    assert row["tag_resistance_ohm"] == pytest.approx(tag, rel=1e-12, abs=0.0)


def test_quality_factors_and_tuning_follow_from_the_coils(found: Evaluation) -> None:
    row = found.row
    for coil in ("base", "tag"):
        quality = OMEGA * number(row, f"{coil}_inductance_H") / number(row, f"{coil}_resistance_ohm")
        assert row[f"{coil}_q"] == pytest.approx(quality, rel=1e-12, abs=0.0)
    series = 1.0 / (OMEGA**2 * number(row, "base_inductance_H"))
    assert row["tuning_capacitance_F"] == pytest.approx(series, rel=1e-12, abs=0.0)
    inductance, resistance = number(row, "tag_inductance_H"), number(row, "tag_resistance_ohm")
    parallel = inductance / (resistance**2 + (OMEGA * inductance) ** 2)
    assert row["tag_tuning_capacitance_F"] == pytest.approx(parallel, rel=1e-12, abs=0.0)


def test_parallel_tuning_takes_the_other_capacitor(evaluation_of: Evaluator) -> None:
    row = evaluation_of("link.tuning=parallel").row
    inductance, resistance = number(row, "base_inductance_H"), number(row, "base_resistance_ohm")
    parallel = inductance / (resistance**2 + (OMEGA * inductance) ** 2)
    assert row["tuning_capacitance_F"] == pytest.approx(parallel, rel=1e-12, abs=0.0)
    assert number(row, "coil_voltage_V") < 4.0 / pi * 5.0 * 1.0001  # never more than the source gives


def test_coupling_and_margin_follow_from_the_fields_and_the_chip(found: Evaluation) -> None:
    row = found.row
    coils = number(row, "base_inductance_H") * number(row, "tag_inductance_H")
    assert row["coupling_coefficient"] == pytest.approx(
        number(row, "mutual_inductance_H") / sqrt(coils), rel=1e-12, abs=0.0
    )
    margin = 20.0 * np.log10(number(row, "chip_voltage_V") / 0.2)
    assert row["power_margin_dB"] == pytest.approx(margin, rel=1e-12, abs=0.0)
    assert row["margin_dB"] == min(number(row, f"{limit}_margin_dB") for limit in ("power", "reply", "dead_time"))
    own = 0.5 * (number(row, "base_inductance_rel_error") + number(row, "tag_inductance_rel_error"))
    both = number(row, "mutual_inductance_rel_error") + own
    assert row["coupling_coefficient_rel_error"] == pytest.approx(both, rel=1e-12, abs=0.0)


def test_the_chip_voltage_follows_from_the_circuit(found: Evaluation) -> None:
    """The link equations of DESIGN 4.5 written out once more, from the row's own L, R, C and M."""
    row = found.row
    mutual = number(row, "mutual_inductance_H")
    l1, r1 = number(row, "base_inductance_H"), number(row, "base_resistance_ohm")
    l2, r2 = number(row, "tag_inductance_H"), number(row, "tag_resistance_ohm")
    load = 25e3 / (1.0 + 1j * OMEGA * number(row, "tag_tuning_capacitance_F") * 25e3)
    secondary = r2 + 1j * OMEGA * l2 + load
    reflected = (OMEGA * mutual) ** 2 / secondary
    primary = 6.0 + r1 + 1j * OMEGA * l1 + 1.0 / (1j * OMEGA * number(row, "tuning_capacitance_F")) + reflected
    current = 4.0 / pi * 5.0 / primary
    chip = abs(OMEGA * mutual * current / secondary * load)
    assert row["chip_voltage_V"] == pytest.approx(chip, rel=1e-4, abs=0.0)  # M's small imaginary part is not in the row


def test_field_and_current_density_follow_from_the_current(found: Evaluation) -> None:
    """H = m/(2πr³) on the axis, rms; the ring's own Bz where the field is greatest cannot be less than its middle's."""
    row = found.row
    current, section = number(row, "base_current_A") / sqrt(2.0), found.coils.base.section
    moment = 40 * current * pi * section.mean_radius**2
    assert row["field_at_10_m_rms_A_per_m"] == pytest.approx(moment / (2.0 * pi * 1e3), rel=1e-2, abs=0.0)
    area = 0.25 * pi * 0.25e-3**2
    assert row["current_density_rms_A_per_m2"] == pytest.approx(current / area, rel=1e-9, abs=0.0)
    radius, depth = section.mean_radius, -section.mid_height
    middle = 2e-7 * pi * 40 * current * radius**2 / np.hypot(radius, depth) ** 3
    assert number(row, "flux_density_on_plate_rms_T") > 0.98 * middle


def test_every_number_is_finite_and_of_its_sign(found: Evaluation) -> None:
    for name, value in found.row.items():
        if isinstance(value, float):
            assert isfinite(value), name
            assert value >= 0.0 or name == "margin_dB", name
            assert not (value == 0.0 and copysign(1.0, value) < 0.0), f"{name} is −0"
        if name.endswith("_rel_error"):  # that of R: nothing reflects any loss here, but proximity hangs on the field
            assert 0.0 < number(found.row, name) < 0.1, name
    assert 0.0 < number(found.row, "coupling_coefficient") < 1.0


def test_the_place_of_the_row_is_the_map_at_that_place(evaluation_of: Evaluator) -> None:
    place = 'require.places=[{ height = "14 mm", offset = "8 mm", tilt = "20 deg" }]'
    found = evaluation_of(place)
    kept, heights = found.map, found.candidate.grid.heights
    at = heights.index(next(h for h in heights if abs(h - 14e-3) < 1e-12))
    # The map's margins are interpolated between some hundred exchanges.
    assert found.row["margin_dB"] == pytest.approx(float(kept.worst_margin[at, 1, 1]), abs=1e-3, rel=0.0)
    worst = abs(kept.worst_mutual_inductance[at, 1, 1])
    assert found.row["mutual_inductance_H"] == pytest.approx(float(worst), rel=1e-9, abs=0.0)
    assert found.row["worst_place"] == "14 mm up, 8 mm off, 20° tilt" == place_text(Place(14e-3, 8e-3, 20 * pi / 180))


def test_the_worst_of_several_places_makes_the_margin(evaluation_of: Evaluator) -> None:
    near, far = '{ height = "10 mm" }', '{ height = "28 mm" }'
    both = evaluation_of(f"require.places=[{near}, {far}]")
    assert both.row["margin_dB"] == evaluation_of(f"require.places=[{far}]").row["margin_dB"]
    assert str(both.row["worst_place"]).startswith("28 mm up")
    assert number(both.row, "margin_dB") < number(evaluation_of(f"require.places=[{near}]").row, "margin_dB")


@pytest.mark.parametrize("height", ["1 mm", "70 mm", "400 mm"])
def test_a_read_height_outside_the_map_is_computed(height: str, evaluation_of: Evaluator) -> None:
    found = evaluation_of("require={ at_least = { read_height = " + f'"{height}"' + " } }")
    expected = {"1 mm": "6 mm up"}.get(height, f"{height} up")
    assert str(found.row["worst_place"]).startswith(expected)
    assert isfinite(number(found.row, "margin_dB"))


@pytest.mark.parametrize("height", ["6 mm", "0.3 m"])
def test_a_map_of_one_place_is_computed(height: str, evaluation_of: Evaluator) -> None:
    found = evaluation_of(
        "map.height=" + height, "map.offset=0 mm", "map.tilt=0 deg", f'require.places=[{{ height = "{height}" }}]'
    )
    assert found.map.margin.shape == (1, 1, 1)
    assert found.row["margin_dB"] == pytest.approx(float(found.map.margin[0, 0, 0]), abs=1e-3, rel=0.0)


def test_whole_turns_that_miss_the_wanted_inductance_are_told(evaluation_of: Evaluator) -> None:
    found = evaluation_of("base_coil.inductance=10 nH")
    assert found.row["base_turns"] == 1
    assert any(text.startswith("base_coil.inductance: 1 turn") for text in found.warnings)
    close = evaluation_of("base_coil.inductance=150 uH")
    assert not any(text.startswith("base_coil.inductance") for text in close.warnings)


def test_a_section_far_larger_than_its_turns_need_is_told_with_what_hangs_on_it(evaluation_of: Evaluator) -> None:
    """10 turns in 3 × 3 mm lie close in a square of 1.1 mm: what is told against the same turns in that square."""
    thick = ("base_coil.turns=10", "base_coil.wire.diameter=0.28 mm", "study.frequency=120 kHz")
    wide = evaluation_of(*thick)
    (told,) = [text for text in wide.warnings if text.startswith("base_coil: its turns need 12 % of the section")]
    inductance, resistance = (float(found) for found in findall(r"([0-9.]+) % more", told))
    close = evaluation_of(*thick, "base_coil.radial_build=1.1 mm", "base_coil.winding_length=1.1 mm")
    assert not [text for text in close.warnings if text.startswith("base_coil: its turns need")]
    ratio = number(close.row, "base_inductance_H") / number(wide.row, "base_inductance_H")
    assert inductance == pytest.approx(100.0 * (ratio - 1.0), rel=0.05)
    ratio = number(close.row, "base_resistance_ohm") / number(wide.row, "base_resistance_ohm")
    assert resistance == pytest.approx(100.0 * (ratio - 1.0), rel=0.25)  # the turns' own cells are no bunch
