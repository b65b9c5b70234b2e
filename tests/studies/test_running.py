"""A run from study to report: stored, resumed, damaged, killed, shared out, and read back."""

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import h5py
import numpy as np
import pytest
import xarray

from studies.engine import Plan, carry_out, plan
from studies.errors import FolderTakenError, NotARunError
from studies.pieces import BrokenPieceError, read_record
from studies.running import Outcome, run_study
from studies.store import arrays_of, claimed, piece_path, prepare, read_run
from studies.study import Study, read_study
from studies.tables import write_maps
from studies.work import compute_one
from tests.studies.conftest import LIBRARY
from tests.studies.small import SMALL

pytestmark = pytest.mark.slow
linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks for processes in /proc")
ROOT = Path(__file__).parents[2]


def small_study(folder: Path, text: str = SMALL) -> Study:
    path = folder / "small.toml"
    path.write_text(text, encoding="utf-8")
    return read_study(path)


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    folder = tmp_path_factory.mktemp("whole")
    return run_study(small_study(folder), folder / "run", 2, fresh=False)


def rows(folder: Path) -> list[dict[str, str]]:
    with (folder / "designs.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def stamps(folder: Path) -> dict[str, tuple[int, int]]:
    return {p.name: (p.stat().st_ino, p.stat().st_mtime_ns) for p in (folder / "designs").glob("*.npz")}


def test_four_are_done_and_two_fail_with_their_reason(outcome: Outcome) -> None:
    found = rows(outcome.run.folder)
    assert [row["status"] for row in found] == ["done"] * 4 + ["failed"] * 2
    assert "fit" in found[-1]["message"]
    assert all(row["message"] == "" for row in found[:4])
    assert outcome.report.is_file()


def test_the_table_has_the_columns_and_full_precision(outcome: Outcome) -> None:
    wanted = (
        "design", "base_coil.turns", "base_inductance_H", "base_resistance_ohm", "base_winding_resistance_ohm",
        "base_reflected_resistance_ohm", "base_q", "tag_inductance_H", "tag_resistance_ohm", "tag_q",
        "tuning_capacitance_F", "status", "message", "base_inductance_rel_error", "mutual_inductance_rel_error",
        "coupling_coefficient_rel_error",
    )  # fmt: skip
    found = rows(outcome.run.folder)
    assert set(wanted) <= set(found[0])
    for row, stored in zip(found, outcome.run.designs, strict=True):
        for name, value in stored.row.items():
            if isinstance(value, float):
                assert float(row[name]) == value


def test_columns_agree_with_each_other(outcome: Outcome) -> None:
    row = outcome.run.designs[0].row
    omega = 2.0 * np.pi * 134.2e3
    parts = [row[f"base_{part}_resistance_ohm"] for part in ("direct_current", "skin", "proximity", "reflected")]
    assert sum(parts) == pytest.approx(row["base_resistance_ohm"], rel=1e-12, abs=0.0)
    quality = omega * row["base_inductance_H"] / row["base_resistance_ohm"]
    assert row["base_q"] == pytest.approx(quality, rel=1e-12, abs=0.0)
    resonance = row["tuning_capacitance_F"] * row["base_inductance_H"] * omega**2
    assert resonance == pytest.approx(1.0, rel=1e-12, abs=0.0)
    assert row["power_margin_dB"] == pytest.approx(20.0 * np.log10(row["chip_voltage_V"] / 0.2), rel=1e-9, abs=0.0)
    coupling = row["mutual_inductance_H"] / np.sqrt(row["base_inductance_H"] * row["tag_inductance_H"])
    assert row["coupling_coefficient"] == pytest.approx(coupling, rel=1e-9, abs=0.0)


def test_maps_open_in_two_readers_with_units_and_equal_the_pieces(outcome: Outcome) -> None:
    path = outcome.run.folder / "maps.nc"
    with xarray.open_dataset(path, engine="h5netcdf") as maps:
        assert maps["mutual_inductance_re"].dims == ("design", "height", "offset", "tilt")
        assert maps["mutual_inductance_re"].attrs["units"] == "H"
        assert maps["height"].attrs["units"] == "m"
        assert maps["tilt"].attrs["units"] == "rad"
        assert "long_name" in maps["margin"].attrs
        assert "not a safety or compliance approval" in maps.attrs["comment"]
        assert list(maps["design"].values) == [stored.design for stored in outcome.run.designs]
        for place, stored in enumerate(outcome.run.designs):
            if stored.status == "failed":
                assert bool(np.isnan(maps["margin"][place]).all())
                continue
            kept = arrays_of(outcome.run, stored).map
            np.testing.assert_array_equal(maps["mutual_inductance_re"][place], kept.mutual_inductance.real)
            np.testing.assert_array_equal(maps["mutual_inductance_im"][place], kept.mutual_inductance.imag)
            np.testing.assert_array_equal(maps["margin"][place], kept.margin)
    with h5py.File(path) as other:
        assert other["coupling_coefficient"].shape == (6, 4, 2, 2)


def test_the_worst_lean_is_never_better_than_the_outward_one(outcome: Outcome) -> None:
    for stored in outcome.run.designs[:4]:
        kept = arrays_of(outcome.run, stored).map
        assert np.all(kept.worst_margin <= kept.margin + 1e-6)
        assert np.all(np.abs(kept.worst_mutual_inductance) <= np.abs(kept.mutual_inductance) * (1.0 + 1e-9))
        assert np.all(kept.mutual_inductance_error > 0.0)


def test_the_error_band_holds_the_line(outcome: Outcome) -> None:
    for line in arrays_of(outcome.run, outcome.run.designs[0]).profiles:
        assert np.all(line.margin_low <= line.margin)
        assert np.all(line.margin <= line.margin_high)


def test_the_same_command_again_recomputes_nothing(outcome: Outcome) -> None:
    before = stamps(outcome.run.folder)
    again = run_study(read_study(outcome.run.folder.parent / "small.toml"), outcome.run.folder, 1, fresh=False)
    assert again.todo.count == 0
    assert again.todo.stored == 6
    assert again.run.info["elapsed_s"] == outcome.run.info["elapsed_s"] > 0.0
    assert again.run.info["seconds"] == outcome.run.info["seconds"]
    assert stamps(outcome.run.folder) == before


def test_worker_count_and_order_do_not_change_a_bit(outcome: Outcome, tmp_path: Path) -> None:
    study = small_study(tmp_path)
    alone = run_study(study, tmp_path / "alone", 1, fresh=False)
    assert rows(alone.run.folder) == rows(outcome.run.folder)
    for first, second in zip(alone.run.designs[:4], outcome.run.designs[:4], strict=True):
        one, other = arrays_of(alone.run, first).map, arrays_of(outcome.run, second).map
        np.testing.assert_array_equal(one.mutual_inductance, other.mutual_inductance)


@pytest.mark.parametrize("damage", ["cut", "flipped", "empty"])
def test_a_damaged_piece_is_noticed_named_and_computed_again(damage: str, outcome: Outcome, tmp_path: Path) -> None:
    study = small_study(tmp_path)
    folder = tmp_path / "run"
    with claimed(folder):
        prepare(folder, study, fresh=False)
        compute_one(study, folder, 0)
    path = piece_path(folder, study.design_name(0))
    whole = path.read_bytes()
    middle = len(whole) // 2
    damaged = {"cut": whole[:middle], "empty": b""}
    flipped = whole[:middle] + bytes([whole[middle] ^ 0xFF]) + whole[middle + 1 :]
    path.write_bytes(damaged.get(damage, flipped))
    with pytest.raises(BrokenPieceError, match=r"c0001\.npz"):
        read_record(path)
    todo = plan(study, folder)
    assert todo.count == 6
    assert len(todo.broken) == 1
    assert todo.broken[0].startswith("c0001.npz")
    compute_one(study, folder, 0)
    assert read_record(path)[1].row == outcome.run.designs[0].row


def test_one_folder_holds_one_run(outcome: Outcome, tmp_path: Path) -> None:
    folder = tmp_path / "taken"
    with claimed(folder), pytest.raises(FolderTakenError, match="another run is at work"), claimed(folder):
        pass
    other = small_study(tmp_path, SMALL.replace('"5 V"', '"4 V"'))
    with pytest.raises(FolderTakenError, match="another study"):
        prepare(outcome.run.folder, other, fresh=False)
    strange = tmp_path / "strange"
    strange.mkdir()
    (strange / "holiday.jpg").write_bytes(b"x")
    with pytest.raises(FolderTakenError, match=r"holiday\.jpg"):
        prepare(strange, other, fresh=False)
    with pytest.raises(NotARunError):
        read_run(tmp_path / "nowhere")


def deadly(folder: Path, indices: tuple[int, ...]) -> list[tuple[int, str, float]]:
    """Computes its candidates, but dies of the second one."""
    study = read_study(folder / "study.toml")
    found = []
    for index in indices:
        if index == 1:
            os.kill(os.getpid(), signal.SIGKILL)
        found.append(compute_one(study, folder, index))
    return found


def test_a_candidate_that_kills_its_worker_fails_alone(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    folder = tmp_path / "run"
    said: list[tuple[int, str]] = []
    with claimed(folder):
        prepare(folder, study, fresh=False)
        carry_out(study, folder, plan(study, folder), 2, lambda i, status, _: said.append((i, status)), deadly)
    assert sorted(said) == [(0, "done"), (1, "failed"), (2, "done"), (3, "done"), (4, "failed"), (5, "failed")]
    record = read_record(piece_path(folder, study.design_name(1)))[1]
    assert "three times" in record.message


LONG = SMALL.replace("[40, 60, 300]", "[40, 300]").replace(
    '["30 mm", "44 mm"]', '{ from = "26 mm", to = "46 mm", count = 6 }'
)
"""Six fields for six candidates, and six candidates that cannot be built."""


@pytest.fixture(scope="module")
def unbroken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("long")
    run_study(small_study(folder, LONG), folder / "run", 2, fresh=False)
    return folder / "run"


class Started:
    """A run of the long study by the command itself, in a process group of its own as on a terminal."""

    def __init__(self, folder: Path) -> None:
        (folder / "small.toml").write_text(LONG, encoding="utf-8")
        self.run = folder / "run"
        code = "from studies.command import main; main()"
        self.command = [sys.executable, "-c", code, "run", str(folder / "small.toml"), "--out", str(self.run)]
        self.command += ["--workers", "2"]
        self.environment = os.environ | {"PYTHONPATH": str(ROOT)}
        self.process = subprocess.Popen(
            self.command,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )

    def wait_for_pieces(self, count: int) -> None:
        deadline = time.monotonic() + 90.0
        while len(list((self.run / "designs").glob("c*.npz"))) < count:
            assert time.monotonic() < deadline, "the run stores nothing"
            assert self.process.poll() is None, self.process.communicate()[1]
            time.sleep(0.02)

    def workers(self) -> list[int]:
        """Process ids of the workers: children that were spawned, but the one that tracks shared resources."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text(encoding="ascii")
        lines = {int(child): Path(f"/proc/{child}/cmdline").read_text(encoding="utf-8") for child in children.split()}
        return [child for child, line in lines.items() if "spawn_main" in line]

    def again(self) -> subprocess.CompletedProcess[str]:
        return subprocess.run(self.command, env=self.environment, capture_output=True, text=True, check=False)


def gone(pid: int) -> bool:
    """Whether a process has ended; one that waits to be counted by its parent has."""
    try:
        return "\nState:\tZ" in Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    except (FileNotFoundError, ProcessLookupError):
        return True


def wait_until_gone(pids: list[int]) -> None:
    deadline = time.monotonic() + 5.0
    while not all(gone(pid) for pid in pids):
        assert time.monotonic() < deadline, "a worker outlives its run"
        time.sleep(0.05)


def maps_equal(one: Path, other: Path) -> bool:
    with h5py.File(one / "maps.nc") as first, h5py.File(other / "maps.nc") as second:
        numbers = [name for name in first if first[name].dtype.kind == "f"]
        assert "margin" in numbers
        assert set(first) == set(second)
        return all(np.array_equal(first[name][()], second[name][()], equal_nan=True) for name in numbers)


def check_carried_on(started: Started, unbroken: Path, before: dict[str, tuple[int, int]]) -> None:
    """The same command finishes the run, leaves what was stored alone, and comes to the very same numbers."""
    again = started.again()
    assert again.returncode == 1, again.stderr  # the candidates that cannot be built
    assert "Traceback" not in again.stderr
    assert f"{len(before)} of 12 designs were stored already" in again.stdout
    after = stamps(started.run)
    assert len(after) == 12
    assert {name: after[name] for name in before} == before
    assert rows(started.run) == rows(unbroken)
    assert maps_equal(started.run, unbroken)
    assert not list(started.run.rglob("*.partial"))
    info = json.loads((started.run / "run.json").read_text(encoding="utf-8"))
    assert info["status"] == "complete"
    assert all(info["seconds"][f"c{index:04d}"] > 0.0 for index in range(1, 7))  # those of before the end, too


@linux
@pytest.mark.parametrize("pieces", [1, 4])
def test_a_run_killed_after_some_pieces_is_carried_on(pieces: int, unbroken: Path, tmp_path: Path) -> None:
    started = Started(tmp_path)
    started.wait_for_pieces(pieces)
    workers = started.workers()
    assert workers
    started.process.kill()
    started.process.communicate()
    wait_until_gone(workers)
    check_carried_on(started, unbroken, stamps(started.run))


@linux
def test_a_run_killed_before_anything_is_stored_is_carried_on(unbroken: Path, tmp_path: Path) -> None:
    started = Started(tmp_path)
    deadline = time.monotonic() + 60.0
    while not (workers := started.workers()) and time.monotonic() < deadline:
        time.sleep(0.005)
    started.process.kill()  # while the workers still load their libraries
    started.process.communicate()
    wait_until_gone(workers)
    again = started.again()
    assert again.returncode == 1, again.stderr
    assert rows(started.run) == rows(unbroken)


@linux
def test_an_interrupt_ends_the_run_at_once_and_quietly(unbroken: Path, tmp_path: Path) -> None:
    """Ctrl-C reaches every process of the terminal: no worker may answer it with a traceback of its own."""
    started = Started(tmp_path)
    started.wait_for_pieces(1)
    workers = started.workers()
    os.killpg(started.process.pid, signal.SIGINT)
    _, said = started.process.communicate(timeout=5.0)
    assert started.process.returncode == 130
    assert said.splitlines()[-1].startswith("Interrupted. What was finished is stored")
    assert "Traceback" not in said
    wait_until_gone(workers)
    check_carried_on(started, unbroken, stamps(started.run))


@linux
def test_an_interrupt_while_workers_start_is_as_quiet(tmp_path: Path) -> None:
    started = Started(tmp_path)
    deadline = time.monotonic() + 60.0
    while not started.workers() and time.monotonic() < deadline:
        time.sleep(0.005)
    os.killpg(started.process.pid, signal.SIGINT)
    _, said = started.process.communicate(timeout=10.0)
    assert started.process.returncode == 130
    assert "Traceback" not in said


@linux
def test_a_run_survives_the_death_of_a_worker(unbroken: Path, tmp_path: Path) -> None:
    started = Started(tmp_path)
    started.wait_for_pieces(1)
    os.kill(started.workers()[0], signal.SIGKILL)
    out, said = started.process.communicate(timeout=120.0)
    assert started.process.returncode == 1, said
    assert "Traceback" not in said
    assert "Report: " in out
    assert rows(started.run) == rows(unbroken)
    assert maps_equal(started.run, unbroken)


def test_broken_pieces_are_named_in_the_outcome_and_nothing_else_is_touched(unbroken: Path, tmp_path: Path) -> None:
    folder = tmp_path / "run"
    shutil.copytree(unbroken, folder)
    path = folder / "designs" / "c0002.npz"
    path.write_bytes(path.read_bytes()[:-100])
    before = stamps(folder)
    outcome = run_study(small_study(tmp_path, LONG), folder, 1, fresh=False)
    assert outcome.todo.count == 1
    assert len(outcome.todo.broken) == 1
    assert outcome.todo.broken[0].startswith("c0002.npz")
    assert outcome.run.info["recomputed"] == list(outcome.todo.broken)
    after = stamps(folder)
    assert {name for name in after if after[name] != before[name]} == {"c0002.npz"}
    assert rows(folder) == rows(unbroken)
    assert maps_equal(folder, unbroken)


def test_a_piece_of_other_physics_is_computed_again(
    unbroken: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studies.pieces.PHYSICS_VERSION", -1)
    assert plan(read_study(unbroken / "study.toml"), unbroken).count == 12


def test_values_set_on_the_command_line_are_found_again(tmp_path: Path) -> None:
    """The study is stored with its overrides, so that its pieces hold when it is run in the same way again."""
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    overrides = ('sweep."base_coil.turns"=[41]', "base_coil.wire.temperature=123.4 degC", "drive.supply=3.3 V")
    study = read_study(tmp_path / "small.toml", overrides)
    first = run_study(study, tmp_path / "run", 1, fresh=False)
    assert first.todo.count == 2
    before = stamps(tmp_path / "run")
    second = run_study(read_study(tmp_path / "small.toml", overrides), tmp_path / "run", 1, fresh=False)
    assert second.todo.count == 0
    assert stamps(tmp_path / "run") == before
    with pytest.raises(FolderTakenError, match="another study"):
        run_study(read_study(tmp_path / "small.toml"), tmp_path / "run", 1, fresh=False)


def test_run_json_tells_what_was_done(outcome: Outcome) -> None:
    info = json.loads((outcome.run.folder / "run.json").read_text(encoding="utf-8"))
    assert info["status"] == "complete"
    assert info["designs"] == 6
    assert set(info["errors"]) == {"c0005", "c0006"}
    assert {"trivet", "python", "numpy", "scipy", "scikit-fem", "gmsh"} <= set(info["versions"])
    assert info["settings"]["accuracy"] == 0.02
    assert info["mesh_triangles"]["c0001"] > 100
    assert set(info["seconds"]) == {stored.design for stored in outcome.run.designs}


def test_the_short_study_runs_as_it_stands(tmp_path: Path) -> None:
    """DESIGN 5: this must run."""
    outcome = run_study(read_study(LIBRARY / "first-look.toml"), tmp_path / "run", 1, fresh=False)
    (only,) = outcome.run.designs
    assert only.passed
    assert only.row["base_inductance_H"] == pytest.approx(390e-6, rel=0.015, abs=0.0)
    assert only.row["tag_inductance_H"] == pytest.approx(2.7e-3, rel=1e-9, abs=0.0)
    assert only.row["required_read_height_m"] > 30e-3


def test_a_few_candidates_of_the_full_vocabulary_are_computed(tmp_path: Path) -> None:
    """First, last and two between of the 42, by the workers and into the tables, each in three states."""
    study, folder = read_study(LIBRARY / "full-vocabulary.toml"), tmp_path / "run"
    assert study.count == 42
    chosen = (0, 12, 20, 41)
    with claimed(folder):
        prepare(folder, study, fresh=False)
        carry_out(study, folder, Plan(tuple((i,) for i in chosen), 0, ()), 2, lambda *_: None)
    run = read_run(folder)
    assert [stored.status for stored in run.designs] == ["done"] * 4
    assert [stored.index for stored in run.designs] == list(chosen)
    for stored in run.designs:
        assert 0.0 < stored.row["coupling_coefficient"] < 0.1
        assert stored.row["base_reflected_resistance_ohm"] > 0.0
        assert stored.row["states"] == "as given; cold; hot"
    write_maps(run)
    with h5py.File(folder / "maps.nc") as maps:
        assert maps["margin"].shape == (4, 56, 31, 3)
        assert np.isfinite(maps["margin"][()]).all()
