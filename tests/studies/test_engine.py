"""The plan of a sweep, and its share-out to workers that die at the worst moments."""

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest

from studies import engine
from studies.engine import LARGEST_GROUP, Plan, carry_out, plan
from studies.pieces import read_record, write_piece
from studies.store import piece_path, prepare
from studies.stored import StoredDesign
from studies.study import Study, read_study
from studies.work import first_columns, key_of, store_death
from tests.studies.small import SMALL

Said = list[tuple[int, str]]
Results = list[tuple[int, str, float]]


def small_study(folder: Path, text: str = SMALL) -> Study:
    (folder / "small.toml").write_text(text, encoding="utf-8")
    study = read_study(folder / "small.toml")
    prepare_folder(folder / "run", study)
    return study


def prepare_folder(folder: Path, study: Study) -> None:
    folder.mkdir()
    prepare(folder, study, fresh=False)


def pretend(folder: Path, indices: tuple[int, ...]) -> Results:
    """Stores a candidate without computing it: the engine is tested here, not the fields."""
    study = read_study(folder / "study.toml")
    for index in indices:
        stored(study, folder, index)
    return [(index, "done", 0.0) for index in indices]


def stored(study: Study, folder: Path, index: int) -> None:
    name = study.design_name(index)
    design = StoredDesign(index, name, "done", "", first_columns(study, index))
    write_piece(piece_path(folder, name), key_of(study, index)[0], design, None)


def deadly_at_two(folder: Path, indices: tuple[int, ...]) -> Results:
    """Dies of the third candidate, every time."""
    done = []
    for index in indices:
        if index == 2:
            os.kill(os.getpid(), signal.SIGKILL)
        done += pretend(folder, (index,))
    return done


def deadly_once(folder: Path, indices: tuple[int, ...]) -> Results:
    """Dies once in the life of the run, of whatever it has in hand."""
    mark = folder / ".died"
    if not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return pretend(folder, indices)


def failing(folder: Path, indices: tuple[int, ...]) -> Results:
    raise OSError(28, "No space left on device", "c0001.npz")


def carried(study: Study, folder: Path, workers: int, task: Callable[..., Results]) -> Said:
    said: Said = []
    carry_out(study, folder, plan(study, folder), workers, lambda i, status, _: said.append((i, status)), task)
    return sorted(said)


def test_candidates_that_share_a_field_go_together(tmp_path: Path) -> None:
    """Turns in a given section do not change the field per turn, so each diameter makes one group."""
    study = small_study(tmp_path, SMALL.replace("[40, 60, 300]", "[40, 50, 60, 70]"))
    found = plan(study, tmp_path / "run")
    assert found.groups == ((0, 2, 4, 6), (1, 3, 5, 7))
    assert (found.count, found.stored, found.broken) == (8, 0, ())


def test_large_groups_are_split(tmp_path: Path) -> None:
    study = small_study(tmp_path, SMALL.replace("[40, 60, 300]", "{ from = 31, to = 50, count = 20 }"))
    found = plan(study, tmp_path / "run")
    assert sorted(index for group in found.groups for index in group) == list(range(40))
    assert max(len(group) for group in found.groups) == LARGEST_GROUP


def test_what_is_stored_is_left_and_what_is_broken_or_strange_is_not(tmp_path: Path) -> None:
    study, folder = small_study(tmp_path), tmp_path / "run"
    for index in (0, 1, 2):
        stored(study, folder, index)
    piece_path(folder, "c0002").write_bytes(b"broken")
    piece_path(folder, "c0003").write_bytes(piece_path(folder, "c0001").read_bytes())
    found = plan(study, folder)
    assert found.stored == 1
    assert sorted(index for group in found.groups for index in group) == [1, 2, 3, 4, 5]
    assert len(found.broken) == 1
    assert found.broken[0].startswith("c0002.npz")


@pytest.mark.slow
@pytest.mark.parametrize("workers", [1, 2, 5])
def test_every_candidate_is_computed_once(workers: int, tmp_path: Path) -> None:
    study = small_study(tmp_path)
    assert carried(study, tmp_path / "run", workers, pretend) == [(index, "done") for index in range(6)]
    assert plan(study, tmp_path / "run").count == 0


@pytest.mark.slow
def test_a_deadly_candidate_fails_alone_after_three_deaths(tmp_path: Path) -> None:
    study, folder = small_study(tmp_path), tmp_path / "run"
    said = carried(study, folder, 2, deadly_at_two)
    assert said == [(index, "failed" if index == 2 else "done") for index in range(6)]
    found = read_record(piece_path(folder, "c0003"))[1]
    assert found.status == "failed"
    assert found.message.startswith("its worker process died three times")


@pytest.mark.slow
def test_one_death_costs_no_candidate(tmp_path: Path) -> None:
    study, folder = small_study(tmp_path), tmp_path / "run"
    assert carried(study, folder, 2, deadly_once) == [(index, "done") for index in range(6)]


@pytest.mark.slow
def test_a_disk_that_is_full_ends_the_run_and_its_workers(tmp_path: Path) -> None:
    study, folder = small_study(tmp_path), tmp_path / "run"
    with pytest.raises(OSError, match="No space left on device"):
        carried(study, folder, 2, failing)
    assert plan(study, folder).stored == 0


class BrittlePool:
    """Runs in this process; takes two groups, then finds itself broken as the next is handed in."""

    taken: int
    pools = 0

    def __init__(self, *_: object, **__: object) -> None:
        type(self).pools += 1
        self.taken = 0

    def submit(self, task: Callable[..., Results], folder: Path, group: tuple[int, ...]) -> "Future[Results]":
        if self.taken == 2 and type(self).pools == 1:
            raise BrokenProcessPool("a worker died just now")
        self.taken += 1
        future: Future[Results] = Future()
        future.set_result(task(folder, group))
        return future

    def shutdown(self, **_: object) -> None:
        """Nothing to shut down."""


def test_a_group_handed_to_a_dying_pool_is_not_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study, folder = small_study(tmp_path), tmp_path / "run"
    monkeypatch.setattr(engine, "ProcessPoolExecutor", BrittlePool)
    monkeypatch.setattr(BrittlePool, "pools", 0)
    todo = Plan(tuple((index,) for index in range(6)), 0, ())
    said: Said = []
    carry_out(study, folder, todo, 1, lambda i, status, _: said.append((i, status)), pretend)
    assert sorted(said) == [(index, "done") for index in range(6)]
    assert BrittlePool.pools == 2


def test_a_candidate_once_dead_is_tried_again_by_the_next_run(tmp_path: Path) -> None:
    study, folder = small_study(tmp_path), tmp_path / "run"
    store_death(study, folder, 0, "its worker process died three times")
    assert 0 in {index for group in plan(study, folder).groups for index in group}


def test_no_worker_counts_as_alive_once_its_pool_has_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """Even where the pool's own thread is the first to know of a worker's death, and slow to write it down."""
    known = os.waitpid

    def slowly(pid: int, options: int) -> tuple[int, int]:
        main = threading.current_thread() is threading.main_thread()
        time.sleep(0.1 if main else 0.0)
        found = known(pid, options)
        time.sleep(0.5 if found[0] and not main else 0.0)
        return found

    monkeypatch.setattr(os, "waitpid", slowly)
    with engine.worker_pool(1) as pool:
        pool.submit(time.sleep, 60.0)
    assert not multiprocessing.active_children()


def deaf(mark: Path) -> None:
    """Does not end when told to."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    mark.touch()
    time.sleep(60.0)


@pytest.mark.slow
def test_a_worker_that_does_not_end_when_told_to_is_killed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "PATIENCE", 0.5)
    with engine.worker_pool(1) as pool:
        pool.submit(deaf, tmp_path / "deaf")
        deadline = time.monotonic() + 60.0
        while not (tmp_path / "deaf").exists():
            assert time.monotonic() < deadline, "the worker does not start"
            time.sleep(0.01)
    assert not multiprocessing.active_children()
