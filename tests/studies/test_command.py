"""The command: exit statuses, one plain paragraph for every fault, and what it prints."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from studies.command import main
from tests.studies.small import SMALL


def called(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    return path


def test_help_names_every_command() -> None:
    found = called("--help")
    assert found.exit_code == 0
    for name in ("new", "check", "solve", "run", "show", "report"):
        assert name in found.output


def test_a_new_study_is_written_once(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    assert called("new", str(path)).exit_code == 0
    text = path.read_text(encoding="utf-8")
    again = called("new", str(path))
    assert again.exit_code == 2
    assert "nothing is overwritten" in again.stderr
    assert path.read_text(encoding="utf-8") == text
    assert called("check", str(path), "--drawing", str(tmp_path / "section.svg")).exit_code == 0


def test_check_counts_and_draws_without_solving(small: Path, tmp_path: Path) -> None:
    drawing = tmp_path / "section.svg"
    found = called("check", str(small), "--drawing", str(drawing))
    assert found.exit_code == 0, found.stderr
    assert "Designs: 6" in found.output
    assert "Impossible: c0005" in found.output
    assert drawing.read_text(encoding="utf-8").lstrip().startswith("<?xml")


def test_solve_gives_the_columns_of_the_table_as_json(small: Path) -> None:
    found = called("solve", str(small), "--json")
    assert found.exit_code == 0, found.stderr
    row = json.loads(found.stdout)
    assert row["design"] == "base"
    assert row["base_turns"] == 40
    assert row["status"] == "done"
    assert not any(isinstance(value, dict | list) for value in row.values())
    changed = json.loads(called("solve", str(small), "--json", "--set", "base_coil.turns=60").stdout)
    ratio = changed["base_inductance_H"] / row["base_inductance_H"]
    assert ratio == pytest.approx((60 / 40) ** 2, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"134.2 kHz"', '"134.2"', "study.frequency"),
        ('"134.2 kHz"', '"134.2 mm"', "study.frequency"),
        ("turns = 40", "turn = 40", "did you mean turns"),
        ('"3 mm"\nwinding', '"-3 mm"\nwinding', "base_coil.radial_build"),
        ("accuracy = 0.02", "accuracy = nan", "study.accuracy"),
        ("turns = 40", 'turns = 40\ninductance = "1 mH"', "inductance"),
        ('from = "6 mm"', 'from = "0 mm"', "map.height"),
        ('"glass-ceramic"', '"glas-ceramic"', "glass-ceramic"),
        ('"134.2 kHz"', '"134.2 GHz"', "study.frequency"),
        ('"base_coil.turns" = ', '"base_coil.turn" = ', "sweep"),
    ],
)
def test_a_wrong_file_ends_with_2_and_names_line_and_key(small: Path, old: str, new: str, said: str) -> None:
    assert old in SMALL
    small.write_text(SMALL.replace(old, new, 1), encoding="utf-8")
    found = called("run", str(small), "--out", str(small.parent / "run"))
    assert found.exit_code == 2
    assert said in found.stderr
    assert "small.toml:" in found.stderr
    assert "Traceback" not in found.output + found.stderr
    assert not (small.parent / "run").exists()


@pytest.mark.parametrize("command", ["check", "solve", "run"])
def test_a_file_that_cannot_be_read_is_one_plain_fault(command: str, tmp_path: Path) -> None:
    (tmp_path / "binary.toml").write_bytes(b"\xff\x00\xfe")
    for path in (tmp_path / "missing.toml", tmp_path, tmp_path / "binary.toml"):
        found = called(command, str(path))
        assert found.exit_code == 2
        assert len(found.stderr.strip().splitlines()) == 1


def test_show_and_report_of_what_is_no_run(tmp_path: Path) -> None:
    for command in ("show", "report"):
        found = called(command, str(tmp_path))
        assert found.exit_code == 2
        assert "holds no run" in found.stderr


@pytest.mark.slow
def test_run_show_and_report(small: Path, tmp_path: Path) -> None:
    folder = tmp_path / "run"
    found = called("run", str(small), "--out", str(folder), "--workers", "1")
    assert found.exit_code == 1  # two candidates cannot be built
    assert "c0005 failed" in found.stderr
    assert f"Report: {folder / 'report.html'}" in found.output
    shown = called("show", str(folder))
    assert shown.exit_code == 0
    assert "6 of 6 designs stored" in shown.output
    assert "c0006  failed" in shown.output
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert "http://" not in page.replace("http://www.w3.org", "").replace("http://purl.org", "").replace(
        "http://creativecommons.org", ""
    )
    (folder / "report.html").unlink()
    assert called("report", str(folder)).exit_code == 0
    assert (folder / "report.html").is_file()
