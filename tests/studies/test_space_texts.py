"""The whole-space check told: a table, and one flat row."""

import tomllib
from dataclasses import replace

import pytest

from studies.space_magnets import MagnetEffect
from studies.space_texts import check_lines, check_row, correction_text
from studies.specification import Correction, Place
from studies.whole_space import PlaceCheck, WholeSpaceCheck

FOUND = PlaceCheck(Place(0.03, 0.005, 0.17453292519943295), 2e-6 + 1e-9j, 1.98e-6 + 0.99e-9j, 0.9899)
CHECK = WholeSpaceCheck((FOUND,), 123456, 17.6)


def test_differences_are_those_of_the_sizes() -> None:
    assert FOUND.raw == pytest.approx(-0.01, rel=1e-9, abs=0.0)
    assert FOUND.divided == pytest.approx(0.99 / 0.9899 - 1.0, rel=1e-9, abs=0.0)


def test_the_table_names_place_values_and_differences() -> None:
    lines = check_lines(CHECK)
    (line,) = [line for line in lines if "30 mm" in line]
    for part in ("5 mm", "10°", "2000 nH", "1980 nH", "-1.000 %", "+0.0101 %"):
        assert part in line
    text = " ".join(lines)
    assert "123456 edges, 18 s" in text
    assert "leave out the image" in text


def test_an_air_cored_tag_is_said_to_need_no_elements() -> None:
    text = " ".join(check_lines(WholeSpaceCheck((FOUND,), 0, 1.0)))
    assert "no core" in text
    assert "edges" not in text


def test_the_row_is_flat_with_units_in_its_names() -> None:
    row = check_row("base", CHECK)
    assert not any(isinstance(value, dict | list | complex) for value in row.values())
    assert row["design"] == "base"
    assert row["whole_space_edges"] == 123456
    assert row["place_1_height_m"] == 0.03
    assert row["place_1_map_mutual_inductance_re_H"] == 2e-6
    assert row["place_1_whole_space_mutual_inductance_im_H"] == 0.99e-9
    assert row["place_1_raw_rel_difference"] == pytest.approx(-0.01, rel=1e-9, abs=0.0)
    assert row["place_1_axis_rel_difference"] == pytest.approx(-0.0101, rel=1e-9, abs=0.0)


def test_magnets_are_told_with_the_correction_to_paste_and_a_caution() -> None:
    effect = MagnetEffect(0.9953, 28.7, (68.5, 35.4), ((1.0073, 1.0071),))
    lines = check_lines(replace(CHECK, magnets=effect))
    text = "\n".join(lines)
    assert '  correction = { inductance = 0.99530, coupling = 1.00720, added_resistance = "28.7 ohm" }' in lines
    for part in ("0.99530 times", "28.7 ohm", "68.5 without, 35.4 with", "k 1.00730 times at 30 mm up", "1.00710 with"):
        assert part in text
    assert "implants" in text
    assert "saturation" in text
    row = check_row("base", replace(CHECK, magnets=effect))
    assert row["magnets_added_resistance_ohm"] == 28.7
    assert row["place_1_coupling_ratio_across"] == 1.0071
    assert not any(isinstance(value, dict | list | tuple) for value in row.values())


def test_the_text_of_a_correction_is_what_a_study_file_takes() -> None:
    given = Correction(0.99531, 1.00725, 28.75)
    read = tomllib.loads(f"correction = {correction_text(given)}")["correction"]
    assert read == {"inductance": 0.99531, "coupling": 1.00725, "added_resistance": "28.75 ohm"}
