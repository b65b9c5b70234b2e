"""The command: exit statuses, one plain paragraph for every fault, and what it prints."""

import csv
import errno
import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from studies import evaluation
from studies.command import main
from studies.specification import Candidate
from tests.studies.small import SMALL

ROOT = Path(__file__).parents[2]


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


HEAVY = "numpy scipy matplotlib skfem gmsh pydantic h5netcdf h5py xarray jinja2 rich"
LOADED = """
import sys
from click.testing import CliRunner
from studies.command import main
found = CliRunner().invoke(main, sys.argv[2:])
assert found.exit_code == 0, found.stderr
print(*(name for name in sys.argv[1].split() if name in sys.modules))
"""


def modules_loaded(*arguments: str) -> set[str]:
    """Heavy modules that a fresh process loads for a command."""
    command = [sys.executable, "-c", LOADED, HEAVY, *arguments]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return set(subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout.split())


def test_help_and_check_load_nothing_that_solves(small: Path, tmp_path: Path) -> None:
    assert modules_loaded("--help") == set()
    assert modules_loaded("--version") == set()
    assert modules_loaded("run", "--help") == set()
    assert modules_loaded("new", str(tmp_path / "new.toml")) == set()
    drawing = str(tmp_path / "section.svg")
    assert modules_loaded("check", str(small), "--drawing", drawing) <= {"numpy", "matplotlib", "pydantic"}


def test_the_version_is_told_of_a_bare_checkout_too() -> None:
    found = called("--version")
    assert found.exit_code == 0
    assert found.output.startswith("trivet ")


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "SMALL", "--drawing", "SMALL/section.svg"),
        ("run", "SMALL", "--out", "SMALL"),
        ("run", "SMALL", "--out", "SMALL/run"),
        ("run", "SMALL", "--out", "."),
        ("new", "nowhere/study.toml"),
        ("new", "."),
        ("show", "SMALL"),
        ("report", "nowhere"),
    ],
)
def test_a_place_that_cannot_be_used_is_one_plain_fault(
    arguments: tuple[str, ...], small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(small.parent)
    found = called(*(argument.replace("SMALL", small.name) for argument in arguments))
    assert found.exit_code == 2
    assert len(found.stderr.strip().splitlines()) == 1
    assert "fault of its own" not in found.stderr
    assert small.read_text(encoding="utf-8") == SMALL


def test_a_fault_of_our_own_is_told_as_one(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(*_: object) -> None:
        raise KeyError("mesh")

    monkeypatch.setattr("studies.evaluation.evaluated", failing)
    found = called("solve", str(small))
    assert found.exit_code == 1
    assert found.stderr == "trivet met a fault of its own (KeyError: 'mesh'); please report it with the study file.\n"


def test_a_full_disk_ends_a_run_with_what_to_do(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", "c0001.npz")

    monkeypatch.setattr("studies.running.run_study", full)
    found = called("run", str(small), "--out", str(small.parent / "run"))
    assert found.exit_code == 2
    assert "No space left on device (c0001.npz)" in found.stderr
    assert "the same command carries on from there" in found.stderr


def test_a_margin_of_minus_infinity_is_null_in_json(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """JSON has no infinity; most readers refuse the word."""
    true = evaluation.evaluated

    def silent(candidate: Candidate) -> evaluation.Evaluation:
        found = true(candidate)
        return replace(found, row=found.row | {"margin_dB": float("-inf"), "critical_coupling": float("inf")})

    monkeypatch.setattr(evaluation, "evaluated", silent)
    found = called("solve", str(small), "--json")
    assert found.exit_code == 0, found.stderr
    row = json.loads(found.stdout, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    assert row["margin_dB"] is None
    assert row["critical_coupling"] is None


@pytest.mark.parametrize("change", ["crlf", "mark", "both", "other alphabet"])
def test_text_as_other_editors_save_it_is_read(change: str, small: Path) -> None:
    text = SMALL.replace("\n", "\r\n") if change in ("crlf", "both") else SMALL
    if change == "other alphabet":
        text = text.replace('"plate"', '"plaque chauffée µ"')
    mark = b"\xef\xbb\xbf" if change in ("mark", "both") else b""
    small.write_bytes(mark + text.encode())
    found = called("solve", str(small), "--json")
    assert found.exit_code == 0, found.stderr
    assert json.loads(found.stdout)["status"] == "done"


def test_a_reader_that_goes_away_ends_it_without_a_word(small: Path) -> None:
    code = "from studies.command import main; main()"
    command = [sys.executable, "-c", code, "check", str(small), "--drawing", str(small.parent / "section.svg")]
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == ""
    process.stderr.close()
    assert process.wait() != 0


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


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of four candidates, all of which can be built; two are required to do too much."""
    folder = tmp_path_factory.mktemp("finished")
    (folder / "good.toml").write_text(SMALL.replace("[40, 60, 300]", "[40, 60]"), encoding="utf-8")
    called("run", str(folder / "good.toml"), "--out", str(folder / "run"), "--workers", "1")
    return folder


@pytest.mark.slow
def test_strict_asks_that_all_pass(finished: Path, tmp_path: Path) -> None:
    folder = tmp_path / "run"
    shutil.copytree(finished / "run", folder)
    with (folder / "designs.csv").open(encoding="utf-8", newline="") as file:
        verdicts = [row["verdict"] for row in csv.DictReader(file)]
    assert set(verdicts) == {"pass"}
    usual = ("run", str(finished / "good.toml"), "--out", str(folder), "--workers", "1")
    assert called(*usual, "--strict").exit_code == 0
    hard = ("--set", "require.at_most.coil_voltage=1 V", "--fresh")
    assert called(*usual, *hard).exit_code == 0
    found = called(*usual, *hard[:2], "--strict")
    assert found.exit_code == 1
    assert "coil voltage" in found.output


@pytest.mark.slow
def test_json_has_the_names_and_values_of_the_table(finished: Path) -> None:
    with (finished / "run" / "designs.csv").open(encoding="utf-8", newline="") as file:
        row = next(csv.DictReader(file))
    arguments = ("--set", "base_coil.turns=40", "--set", "base_coil.mean_diameter=30 mm", "--json")
    solved = json.loads(called("solve", str(finished / "good.toml"), *arguments).stdout)
    assert [name for name in row if "." not in name] == list(solved)
    for name, value in solved.items():
        if isinstance(value, float):
            assert float(row[name]) == value
        elif name != "design":
            assert row[name] == ("" if value is None else str(value))


@pytest.mark.slow
def test_another_study_needs_fresh(finished: Path, tmp_path: Path) -> None:
    folder = tmp_path / "run"
    shutil.copytree(finished / "run", folder)
    usual = ("run", str(finished / "good.toml"), "--out", str(folder), "--workers", "1", "--set", "drive.supply=4 V")
    refused = called(*usual)
    assert refused.exit_code == 2
    assert "--fresh" in refused.stderr
    assert called(*usual, "--fresh").exit_code == 0
    assert 'supply = "4 V"' in (folder / "study.toml").read_text(encoding="utf-8")


def test_solve_in_the_whole_space_at_a_place(small: Path) -> None:
    found = called("solve", str(small), "--whole-space", "--place", "15 mm, 6 mm, 25 deg", "--json")
    assert found.exit_code == 0, found.stderr
    row = json.loads(found.stdout)
    assert row["whole_space_edges"] == 0  # an air-cored tag
    assert abs(row["place_1_raw_rel_difference"]) < 1e-4
    shown = called("solve", str(small), "--whole-space")
    assert shown.exit_code == 0, shown.stderr
    assert "no core" in shown.stdout


def test_a_place_the_map_does_not_cover_is_refused(small: Path) -> None:
    found = called("solve", str(small), "--whole-space", "--place", "15 mm, 60 mm")
    assert found.exit_code == 2
    assert "offsets go from 0 mm to 8 mm" in found.stderr
    alone = called("solve", str(small), "--place", "15 mm")
    assert alone.exit_code == 2
    assert "--whole-space" in alone.stderr


@pytest.mark.parametrize("command", ["check", "run", "pick"])
def test_a_value_set_for_a_swept_key_is_told_to_hold_for_the_base_design_alone(
    small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.chdir(tmp_path)
    for name in ("studies.running.run_study", "studies.pick_command.search_and_tell"):
        monkeypatch.setattr(name, stopped)
    swept = called(command, str(small), "--set", "base_coil.turns=50", "--set", "drive.supply=6 V")
    told = [line for line in swept.stderr.splitlines() if "is swept" in line]
    assert len(told) == 1
    assert told[0].startswith("Warning: base_coil.turns is swept: what was set holds for the base design alone.")
    assert "is swept" not in called(command, str(small), "--set", "drive.supply=6 V").stderr


def test_the_way_it_says_to_sweep_other_values_works(small: Path) -> None:
    found = called("check", str(small), "--set", "sweep.base_coil.turns=[50]")
    assert "Swept: base_coil.turns, 1 value" in found.stdout
    assert "Designs: 2" in found.stdout
