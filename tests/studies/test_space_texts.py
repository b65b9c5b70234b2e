"""The whole-space check told: a table, and one flat row."""

import pytest

from studies.space_texts import check_lines, check_row
from studies.specification import Place
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
