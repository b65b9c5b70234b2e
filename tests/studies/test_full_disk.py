"""A disk that is full, and a folder that goes away, while a run is at work: told in one paragraph, nothing half stored.

The disk is a real one of a few megabytes where this machine lets one be mounted.
"""

import multiprocessing
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from errno import EROFS
from pathlib import Path
from types import SimpleNamespace

import h5py
import numpy as np
import pytest

from studies import running
from studies.cluster_engine import _Sharing
from studies.errors import StorageError
from studies.files import write_bytes
from studies.pieces import Content
from studies.running import run_study
from studies.sink import Sink
from studies.storing import storing
from studies.study import Study, read_study
from studies.work import computed
from tests.studies.small import SMALL
from tests.studies.test_running import rows

pytestmark = pytest.mark.slow
ROOT = Path(__file__).parents[2]
MOUNTED = 12_000_000


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of a few megabytes."""
    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={MOUNTED}", "tmpfs", str(place)]
    try:
        subprocess.run(command, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("no disk can be mounted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.fixture
def study(tmp_path: Path) -> Study:
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    return read_study(tmp_path / "small.toml")


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("whole")
    (folder / "small.toml").write_text(SMALL, encoding="utf-8")
    return run_study(read_study(folder / "small.toml"), folder / "run", 1, fresh=False).run.folder


def fill(disk: Path, left: int) -> None:
    with (disk / "filler").open("wb", buffering=0) as file:
        file.write(bytes(shutil.disk_usage(disk).free - left))


def when_counted(monkeypatch: pytest.MonkeyPatch, number: int, act: Callable[[], object]) -> None:
    """Do something as soon as so many candidates are counted."""
    counted: list[int] = []

    @contextmanager
    def progress(*_: object) -> Iterator[Callable[[int, str, float], None]]:
        def count(index: int, status: str, seconds: float) -> None:
            counted.append(index)
            if len(counted) == number:
                act()

        yield count

    monkeypatch.setattr(running, "progress", progress)


def check_nothing_is_half(folder: Path) -> None:
    assert not multiprocessing.active_children()
    assert not list(folder.rglob("*.partial"))
    for path in (folder / "designs").glob("c*.npz"):
        Content.read(path)


def test_a_disk_full_while_candidates_are_stored(
    disk: Path, study: Study, whole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    when_counted(monkeypatch, 2, lambda: fill(disk, 0))
    with pytest.raises(StorageError, match=r"No space left on device.*make room there, and the same command") as caught:
        run_study(study, disk / "run", 2, fresh=False)
    assert "\n" not in str(caught.value)
    check_nothing_is_half(disk / "run")
    (disk / "filler").unlink()
    again = run_study(study, disk / "run", 2, fresh=False)
    assert again.todo.stored >= 2
    assert rows(disk / "run") == rows(whole)


@pytest.mark.parametrize("left", [0, 12_000, 60_000, 200_000])
def test_a_disk_full_while_the_run_is_closed(left: int, disk: Path, study: Study, whole: Path) -> None:
    """By the command itself: told of a full disk, the library of the maps crashed as the process ended."""
    run = disk / "run"
    run.mkdir()
    for name in ("run.json", "study.toml"):
        shutil.copy(whole / name, run)
    shutil.copytree(whole / "designs", run / "designs")
    fill(disk, left)
    code = "from studies.command import main; main()"
    command = [sys.executable, "-c", code, "run", str(study.path), "--out", str(run), "--workers", "1"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    said = done.stderr.splitlines()
    assert (done.returncode, len(said)) == (2, 1), done.stderr
    assert said[0].startswith(f"the run folder {run} can no longer be written: No space left on device")
    check_nothing_is_half(run)
    (disk / "filler").unlink()
    assert run_study(study, run, 1, fresh=False).todo.count == 0
    assert rows(run) == rows(whole)
    assert run.joinpath("maps.nc").stat().st_size == whole.joinpath("maps.nc").stat().st_size


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("run", r"the run folder .* was removed, or its disk taken away, while the run was at work"),
        ("run/designs", r"designs was removed while the run was at work|6 of 6 stored designs are gone"),
    ],
)
@pytest.mark.parametrize("number", [1, 6])
def test_a_folder_that_goes_away(
    number: int, what: str, said: str, study: Study, whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    when_counted(monkeypatch, number, lambda: shutil.rmtree(tmp_path / what))
    with pytest.raises(StorageError, match=said):
        run_study(study, tmp_path / "run", 2, fresh=False)
    assert not multiprocessing.active_children()
    run_study(study, tmp_path / "run", 2, fresh=False)
    assert rows(tmp_path / "run") == rows(whole)


def test_stored_pieces_that_go_away_are_missed(study: Study, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    when_counted(monkeypatch, 6, lambda: (tmp_path / "run/designs/c0002.npz").unlink())
    with pytest.raises(StorageError, match="1 of 6 stored designs are gone"):
        run_study(study, tmp_path / "run", 2, fresh=False)


def test_a_disk_that_turns_read_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(EROFS, os.strerror(EROFS))

    (tmp_path / "designs").mkdir()
    monkeypatch.setattr("studies.files.os.replace", refuse)
    monkeypatch.setattr(Path, "unlink", refuse)
    with (
        pytest.raises(StorageError, match=r"Read-only file system\. What was finished is stored; see to that"),
        storing(tmp_path),
    ):
        write_bytes(tmp_path / "designs" / "c0001.npz", b"piece")


def test_what_a_cluster_returns_to_a_full_disk(disk: Path, study: Study) -> None:
    (disk / "designs").mkdir()
    fill(disk, 0)
    said: list[int] = []
    sharing = _Sharing(
        SimpleNamespace(),  # type: ignore[arg-type]
        study,
        disk,
        SimpleNamespace(groups=(), count=1),  # type: ignore[arg-type]
        lambda index, *_: said.append(index),
    )
    content = computed(study, 4)[1]
    with pytest.raises(StorageError, match="No space left on device"), storing(disk):
        sharing._store("worker", 4, content)
    assert not said
    assert not list((disk / "designs").iterdir())
    (disk / "filler").unlink()
    sharing._store("worker", 4, content)
    assert said == [4]


def test_the_library_of_the_maps_is_never_told(disk: Path) -> None:
    values = np.random.default_rng(1).random((40, 100, 100))
    with closing(Sink(disk / "maps.nc")) as sink:
        with h5py.File(sink, "w") as file:
            stored = file.create_dataset("values", values.shape, dtype="f8", chunks=(1, 100, 100))
            stored[:10] = values[:10]
            sink.check()
            fill(disk, 100_000)
            stored[10:] = values[10:]
            np.testing.assert_array_equal(stored[5:15], values[5:15])  # from disk and from memory
        with pytest.raises(OSError, match="No space left"):
            sink.check()
