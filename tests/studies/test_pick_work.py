"""Candidates of a search computed by worker processes, one of which dies."""

import os
import signal
from pathlib import Path

import pytest

from studies.engine import MOST_DEATHS
from studies.pick_space import space_of
from studies.pick_work import Given, Solver, try_one
from studies.stored import StoredDesign
from studies.study import read_study
from tests.studies.small import SMALL

DEADLY = 2


def deadly_at_two(given: Given, mine: str, index: int, path: Path) -> StoredDesign:
    if index == DEADLY:
        os.kill(os.getpid(), signal.SIGKILL)
    return try_one(given, mine, index, path)


def deadly_twice(given: Given, mine: str, index: int, path: Path) -> StoredDesign:
    for mark in (path.parent / "died", path.parent / "died again"):
        if index == DEADLY and not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
    return try_one(given, mine, index, path)


def solved(tmp_path: Path, wanted: tuple[int, ...]) -> tuple[list[StoredDesign], list[tuple[int, str]], int]:
    file = tmp_path / "small.toml"
    file.write_text(SMALL.replace("[40, 60, 300]", "[40, 50, 60]"), encoding="utf-8")
    said: list[tuple[int, str]] = []
    space = space_of(read_study(file), 8)
    folder = tmp_path / "tries"
    folder.mkdir(exist_ok=True)
    with Solver(space, 8, folder, 2, lambda index, status, seconds: said.append((index, status))) as solver:
        found = solver(wanted)
    return found, said, solver.taken_over


@pytest.mark.slow
def test_a_candidate_that_kills_its_worker_fails_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studies.pick_work.try_one", deadly_at_two)
    found, said, _ = solved(tmp_path, (0, 1, DEADLY, 3))
    assert [one.index for one in found] == [0, 1, DEADLY, 3]
    assert [one.status for one in found] == ["done", "done", "failed", "done"]
    assert found[2].message.startswith("its worker process died three times")
    assert MOST_DEATHS == 3
    assert sorted(said) == [(0, "done"), (1, "done"), (DEADLY, "failed"), (3, "done")]


@pytest.mark.slow
def test_two_deaths_cost_no_candidate_and_what_was_stored_is_taken_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr("studies.pick_work.try_one", deadly_twice)
        found, _, before = solved(tmp_path, (0, DEADLY, 3))
    assert [one.status for one in found] == ["done", "done", "done"]
    again, _, taken_over = solved(tmp_path, (0, DEADLY, 3))
    assert (before, taken_over) == (0, 3)
    assert [one.row["margin_dB"] for one in again] == [one.row["margin_dB"] for one in found]
