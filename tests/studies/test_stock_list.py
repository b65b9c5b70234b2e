"""Lists of stock parts: what is read, and every fault with its line."""

from pathlib import Path

import pytest

from studies.csv_rows import FAULTS_TOLD
from studies.faults import StudyFaults
from studies.stock_list import StockList, read_stock

SHIPPED = Path(__file__).parents[2] / "studies" / "library" / "stock-tags.csv"
HEAD = "name,inductance_mH,dc_resistance,diameter_mm,height_mm,tolerance,self_resonance_kHz"
ROW = "A1,2.7,11 ohm,6,5,10 %,900"


def listed(tmp_path: Path, *lines: str) -> StockList:
    file = tmp_path / "parts.csv"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_stock(file)


def faults(tmp_path: Path, *lines: str) -> list[str]:
    with pytest.raises(StudyFaults) as caught:
        listed(tmp_path, *lines)
    return str(caught.value).replace(f"{tmp_path}/", "").split("\n")


def test_units_stand_in_the_heading_or_in_the_cells(tmp_path: Path) -> None:
    (part,) = listed(tmp_path, HEAD, ROW).parts
    assert (part.line, part.name, part.inductance, part.dc_resistance) == (2, "A1", 2.7e-3, 11.0)
    assert (part.diameter, part.height, part.outer_diameter) == (6e-3, 5e-3, 6e-3)
    assert (part.tolerance, part.self_resonance, part.saturation_current) == (0.1, 900e3, None)
    again = listed(tmp_path, "name,Inductance [uH],DC resistance (ohm),diameter,height", "B,2700,11,6 mm,0.005 m")
    assert again.parts[0].inductance == part.inductance
    assert again.parts[0].height == part.height


def test_a_square_part_is_reckoned_by_the_round_core_in_it_and_has_to_fit_with_its_corners(tmp_path: Path) -> None:
    head = "name,inductance,dc_resistance,length_mm,width_mm,height_mm,axis"
    upright, lying = listed(tmp_path, head, "U,1 mH,9 ohm,8,6,4,height", "L,1 mH,9 ohm,12,4,3,length").parts
    assert (upright.diameter, upright.height) == (6e-3, 4e-3)
    assert upright.outer_diameter == pytest.approx(10e-3, rel=1e-12, abs=0.0)  # 6, 8, 10
    assert (lying.diameter, lying.height) == (3e-3, 12e-3)
    assert lying.outer_diameter == pytest.approx(5e-3, rel=1e-12, abs=0.0)  # 3, 4, 5
    (wound,) = listed(tmp_path, f"{head},diameter_mm", "W,1 mH,9 ohm,12,4,3,length,2.5").parts
    assert (wound.diameter, wound.height) == (2.5e-3, 12e-3), "the wound body's own diameter, where it is given"
    assert wound.outer_diameter == lying.outer_diameter


def test_empty_rows_are_counted_and_other_columns_kept(tmp_path: Path) -> None:
    found = listed(tmp_path, HEAD + ",shelf", ROW + ",7b", "", ",,,,,,,", ROW.replace("A1", "A2") + ',"8, left"')
    assert [part.name for part in found.parts] == ["A1", "A2"]
    assert [part.line for part in found.parts] == [2, 5]
    assert found.empty_rows == 2
    assert found.unknown == ("shelf",)
    assert found.parts[1].others == (("shelf", "8, left"),)


def test_a_name_given_twice_is_told_with_both_lines(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, HEAD, ROW, "", ROW)
    assert fault == 'parts.csv:4: name: "A1" is the name of the part on line 2 too; a name of its own for every part'


@pytest.mark.parametrize(
    ("heading", "said"),
    [
        (HEAD.replace("inductance_mH", "inductence_mH"), "inductence_mH: is no column known here"),
        (HEAD.replace("inductance_mH", "inductance_mm"), 'inductance_mm: "mm" is no unit of its own'),
        (HEAD.replace(",height_mm", ",shelf"), "height: there is no such column"),
        (HEAD.replace("diameter_mm", "shelf"), "diameter: there is no such column; diameter, or length and width"),
        (HEAD.replace("tolerance", "height"), "height: stands in more than one column"),
        (HEAD.replace(",", ";"), "cells are parted by semicolons; cells parted by commas"),
        (HEAD.replace(",", ";") + ";remark, as sold", "cells are parted by semicolons"),
        (HEAD.replace(",", "\t"), "cells are parted by tabs"),
        (HEAD.replace(",", "|"), "cells are parted by upright strokes"),
        (HEAD.replace("tolerance", ""), "column 6: has no name; a heading over every column"),
        (HEAD + ",shelf,shelf", "shelf: stands in more than one column"),
    ],
)
def test_wrong_columns_are_refused_with_their_line(tmp_path: Path, heading: str, said: str) -> None:
    found = faults(tmp_path, "", heading, ROW)
    assert all(line.startswith("parts.csv:2: ") for line in found)
    assert any(said in line for line in found)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (ROW.replace("2.7", "2.7 mH"), '3: inductance: "2.7 mH"; a bare number: the heading says mH'),
        (ROW.replace("11 ohm", "11"), '3: dc_resistance: "11" has no unit'),
        (ROW.replace("11 ohm", "11 mm"), '3: dc_resistance: "11 mm" is a length'),
        (ROW.replace("2.7", "nan"), '3: inductance: "nan"; a bare number: the heading says mH'),
        (ROW.replace("2.7", "-2.7"), '3: inductance: "-2.7 mH" is'),
        (ROW.replace(",6,", ",,"), "3: diameter: is empty"),
        (ROW.replace("A1", ""), "3: name: is empty"),
        (ROW.replace("A1", "A\x1b[31m1"), '3: name: "A?[31m1"; up to 100 printable characters on one line'),
        (ROW.replace("A1", '"A\n1"'), '3: name: "A 1"; up to 100 printable characters on one line'),
        (ROW.replace("A1", "A" * 101), "3: name: "),
        (ROW.replace("10 %", "10"), '3: tolerance: "10" has no unit'),
        (ROW.replace("10 %", "200 %"), '3: tolerance: "200 %" is out of bounds'),
        (
            ROW.replace("2.7", '"2,7"'),
            '3: inductance: "2,7" has a decimal comma; a number with a point; did you mean "2.7"',
        ),
        (
            ROW.replace("11 ohm", '"11,5 ohm"'),
            '3: dc_resistance: "11,5 ohm" has a decimal comma; a number with a point; did you mean "11.5 ohm"',
        ),
        (ROW + ",x", "3: 8 cells where the headings are 7"),
        ("A1,2.7", "3: 2 cells where the headings are 7"),
    ],
)
def test_a_faulty_row_is_refused_with_its_line(tmp_path: Path, row: str, said: str) -> None:
    (fault,) = faults(tmp_path, HEAD, ROW.replace("A1", "A0"), row)
    assert f"parts.csv:{said}" in fault


def test_what_a_spreadsheet_leaves_behind_is_no_column(tmp_path: Path) -> None:
    found = listed(tmp_path, HEAD + ",,", ROW + ",,")
    assert found.unknown == ()
    assert found.parts[0].others == ()


def test_lines_end_at_line_ends_alone(tmp_path: Path) -> None:
    odd = "a\x0bb\x0cc\x85d\u2028e"
    found = listed(tmp_path, HEAD + ",shelf", f"{ROW},{odd}", ROW.replace("A1", "A2") + ",")
    assert [part.line for part in found.parts] == [2, 3]
    assert found.parts[0].others == (("shelf", odd),)
    file = tmp_path / "old.csv"
    file.write_bytes(f"{HEAD}\r{ROW}\r".encode())
    assert read_stock(file).parts[0].name == "A1"


def test_a_quotation_mark_that_is_not_closed_is_told_however_long_the_file(tmp_path: Path) -> None:
    found = faults(tmp_path, HEAD, ROW.replace("A1", '"A1'), *[ROW] * 6000)
    assert "parts.csv:2: a cell from here on has more than 131,072 characters" in found[0]


def test_of_many_wrong_headings_the_first_are_told(tmp_path: Path) -> None:
    found = faults(tmp_path, HEAD + "," * (FAULTS_TOLD + 6) + "shelf", ROW)
    assert len(found) == FAULTS_TOLD + 1
    assert "and 5 more faults" in found[-1]


def test_a_file_that_is_no_list_is_refused(tmp_path: Path) -> None:
    assert "holds no row" in faults(tmp_path, "", ",,")[0]
    assert "no part follows the headings" in faults(tmp_path, HEAD)[0]
    assert "cannot be taken apart into cells" in faults(tmp_path, HEAD, 'A1,"2.7')[0]
    for content, said in ((b"name\xff", "holds no UTF-8 text"), (b"name\0", "a zero byte")):
        file = tmp_path / "parts.csv"
        file.write_bytes(content)
        with pytest.raises(StudyFaults, match=said):
            read_stock(file)
    with pytest.raises(StudyFaults, match="does not exist"):
        read_stock(tmp_path / "none.csv")
    with pytest.raises(StudyFaults, match="is a directory"):
        read_stock(tmp_path)


def test_ten_thousand_rows_are_read_and_none_is_lost(tmp_path: Path) -> None:
    rows = [ROW.replace("A1", f"A{i}") for i in range(10_000)]
    assert [part.name for part in listed(tmp_path, HEAD, *rows).parts] == [f"A{i}" for i in range(10_000)]
    rows[7_000] = rows[7_000].replace("2.7", "2,7")
    assert faults(tmp_path, HEAD, *rows) == [
        "parts.csv:7002: 8 cells where the headings are 7; a cell a heading, empty where nothing is known"
    ]
    told = faults(tmp_path, HEAD, *(row.replace("11 ohm", "11") for row in rows))
    assert len(told) == FAULTS_TOLD + 1
    assert f"and {10_000 - FAULTS_TOLD} more faults" in told[-1]


def test_the_list_that_ships_says_that_it_is_invented() -> None:
    found = read_stock(SHIPPED)
    assert len(found.parts) >= 15
    assert all("invented" in dict(part.others)["remark"] for part in found.parts)
    assert "invented for this demo: no such parts are known to us" in SHIPPED.read_text(encoding="utf-8")
