"""What a check says of a study before anything is solved."""

from pathlib import Path

import pytest

from studies.checking import check_lines, draw_study
from studies.engine import plan
from tests.studies.conftest import FIRST_LOOK, FULL, Reader
from tests.studies.small import SMALL


def test_designs_and_fields_are_counted(read: Reader) -> None:
    text = "\n".join(check_lines(read(FULL)))
    assert "Designs: 78, 26 fields to solve" in text  # three numbers of turns share each of 13 × 2 fields
    assert "56 heights × 31 offsets × 3 tilts, 5208 places a design" in text
    assert "Swept: base_coil.turns, 3 values from 40 to 90" in text


def test_the_design_is_told_with_its_assumptions(read: Reader) -> None:
    text = "\n".join(check_lines(read(FIRST_LOOK)))
    assert "as many turns as 390 µH takes, mean diameter 44 mm, under heater" in text
    assert "plate (solid), heater (meander)" in text
    assert "Assumed: layers.heater.ribbon_width = 2.5 mm" in text
    assert "Designs: 1, 1 field to solve" in text


def test_impossible_designs_are_named_a_few_at_a_time(read: Reader) -> None:
    few = [line for line in check_lines(read(SMALL)) if line.startswith("Impossible")]
    assert len(few) == 2
    assert few[0].startswith("Impossible: c0005: base_coil.turns: 300 turns")
    many = read(SMALL.replace("[40, 60, 300]", "{ from = 301, to = 320, count = 20 }"))
    lines = [line for line in check_lines(many) if line.startswith("Impossible")]
    assert len(lines) == 6
    assert lines[-1] == "Impossible: and 35 more designs"


def test_warnings_of_the_file_are_told(read: Reader) -> None:
    assert any(line.startswith("Warning: base_coil.clearance") for line in check_lines(read(FULL)))


def test_the_count_of_fields_is_what_a_run_plans(read: Reader, tmp_path: Path) -> None:
    study = read(SMALL)
    groups = plan(study, tmp_path / "nowhere").groups
    assert f"Designs: 6, {len(groups)} fields" in "\n".join(check_lines(study))


@pytest.mark.parametrize("name", ["section.svg", "section.png"])
def test_the_section_is_drawn_where_it_is_wanted(name: str, read: Reader, tmp_path: Path) -> None:
    place = tmp_path / "deeper" / name
    assert draw_study(read(FIRST_LOOK), place) == place
    head = place.read_bytes()[:100]
    assert head.startswith(b"\x89PNG") if name.endswith("png") else b"<?xml" in head


def test_the_section_is_drawn_beside_the_runs_by_default(
    read: Reader, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = read(FIRST_LOOK)
    monkeypatch.chdir(tmp_path)
    assert draw_study(study, None) == Path("results/first-look/section.svg")
    assert (tmp_path / "results/first-look/section.svg").is_file()
