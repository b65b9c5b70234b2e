"""What a check says of a study before anything is solved."""

from pathlib import Path

import pytest

from studies.checking import check_lines, draw_study
from studies.engine import plan
from tests.studies.conftest import FIRST_LOOK, FULL, Reader
from tests.studies.small import SMALL


def test_designs_and_fields_are_counted(read: Reader) -> None:
    text = "\n".join(check_lines(read(FULL)))
    # Three numbers of turns share each of 7 × 2 fields, hot and cold; the state named hot has the heater as given.
    assert "Designs: 42, 28 fields to solve" in text
    assert "Judged in each of 3 states: as given, cold, hot" in text
    assert "56 heights × 31 offsets × 3 tilts, 5208 places a design" in text
    assert "Swept: base_coil.turns, 3 values from 40 to 90" in text


def test_the_design_is_told_with_its_assumptions(read: Reader) -> None:
    text = "\n".join(check_lines(read(FIRST_LOOK)))
    assert "as many turns as 390 µH takes, mean diameter 44 mm, under heater" in text
    assert "plate (solid), heater (meander)" in text
    assert "Assumed: layers.heater.ribbon_width = 2.5 mm" in text
    assert "Designs: 1, 2 fields to solve" in text


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


def test_fields_are_counted_as_a_run_groups_them(read: Reader, tmp_path: Path) -> None:
    study = read(SMALL)
    groups = plan(study, tmp_path / "nowhere").groups
    assert groups == ((0, 2, 4), (1, 3, 5))  # the last of each cannot be built
    assert "Designs: 6, 2 fields to solve" in "\n".join(check_lines(study))


def test_a_large_sweep_is_looked_at_here_and_there(read: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three designs of six are looked at, the last turns included; the fields are as many as there are diameters."""
    monkeypatch.setattr("studies.checking.COUNTED", 3)
    lines = check_lines(read(SMALL))
    assert any(line.startswith("Designs: 6, 2 fields") for line in lines)
    assert [line[:17] for line in lines if line.startswith("Impossible")] == ["Impossible: c0005"]


def test_warnings_of_states_are_told_with_their_names(read: Reader) -> None:
    text = SMALL.replace('overall_diameter = "0.30 mm"', 'overall_diameter = "0.30 mm", rated_temperature = "180 degC"')
    states = '[temperatures.cold]\ntag = "0 degC"\n[temperatures.hot]\n"base_coil.wire" = "300 degC"\n'
    study = read(text.replace("[40, 60, 300]", "[40, 60]") + states)
    told = [line for line in check_lines(study) if line.startswith("Warning")]
    assert len(told) == 1
    assert told[0].startswith("Warning: state hot: base_coil.wire.temperature: 300 degC is hotter than")


def test_warnings_of_single_designs_are_told_with_their_names(read: Reader) -> None:
    """One swept value warns though the base design does not."""
    text = SMALL.replace('overall_diameter = "0.30 mm"', 'overall_diameter = "0.30 mm", rated_temperature = "180 degC"')
    text = text.replace("[40, 60, 300]", '[40, 60]\n"base_coil.wire.temperature" = ["20 degC", "300 degC"]')
    study = read(text, "base_coil.wire.temperature=20 degC")
    told = [line for line in check_lines(study) if line.startswith("Warning")]
    assert study.base.warnings == ()
    assert len(told) == 1
    assert told[0].startswith("Warning: c0003 and 3 more: base_coil.wire.temperature: 300 degC is hotter than")


def test_a_warning_of_the_base_design_is_told_once(read: Reader) -> None:
    lines = check_lines(read(FULL))
    assert len([line for line in lines if "base_coil.clearance: the winding is nearer" in line]) == 1


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


def test_a_disk_too_small_is_told_before_anything_starts(read: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    study = read(SMALL)
    monkeypatch.setattr("studies.sizing.free_disk", lambda _: 100_000)
    (told,) = [line for line in check_lines(study) if "on disk, where" in line]
    assert told.startswith("Warning: 6 designs of 16 places take about 0.000254 GB on disk, where 0.0001 GB are free")
    monkeypatch.setattr("studies.sizing.free_disk", lambda _: 1_000_000)
    assert not [line for line in check_lines(study) if "on disk, where" in line]


def test_a_hundred_thousand_designs_are_counted_in_seconds(read: Reader) -> None:
    """No candidate is built for the count: the axes tell the fields."""
    text = (
        SMALL.split("[sweep]")[0]
        + """[sweep]
"base_coil.turns" = { from = 10, to = 59, count = 50 }
"base_coil.mean_diameter" = { from = "20 mm", to = "60 mm", count = 200 }
"drive.supply" = { from = "3 V", to = "12 V", count = 10 }
"""
    )
    study = read(text)
    lines = "\n".join(check_lines(study))
    assert "Designs: 100000, 200 fields to solve; about" in lines
    assert "4.23 GB on disk" in lines


def test_a_frequency_without_limits_is_warned_of_before_anything_is_solved(read):
    at_work = "\n".join(check_lines(read(SMALL)))
    assert "known here" not in at_work
    low = check_lines(read(SMALL, "study.frequency=2 kHz"))
    assert "Warning: no limit of the field at 10 m is known here at 2 kHz" in low
    assert "Warning: no reference level of exposure is known here at 2 kHz" in low
    low = "\n".join(check_lines(read(SMALL, "study.frequency=75 kHz")))
    assert "no limit of the field at 10 m is known here at 75 kHz" in low
    assert "no reference level" not in low


def test_a_vessel_wider_than_the_map_is_told_before_anything_is_solved(read: Reader) -> None:
    vessels = """
[[vessels]]
name = "dish"
outer_diameter = "190 mm"
height = "40 mm"
[[vessels]]
name = "tube"
outer_diameter = "18 mm"
height = "40 mm"
[puck]
shape = "disc"
diameter = "10 mm"
height = "8 mm"
"""
    wide = [line for line in check_lines(read(SMALL.partition("[sweep]")[0] + vessels)) if "wider" in line]
    assert wide == [
        "Vessel dish: tag 6 mm up; wider than the map, which ends 8 mm off the axis, its inside at 93 mm; "
        "computed all the same"
    ]
