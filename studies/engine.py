"""The sweep: what is left to do, shared out to worker processes, survived and reported."""

import signal
import time
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.process import BaseProcess
from pathlib import Path

from studies.lots import Lots
from studies.pieces import BrokenPieceError, Content, changed_since, read_record
from studies.sharing import field_axes, neighbour_axes
from studies.store import piece_path
from studies.study import Study
from studies.work import compute, key_of, origin, store_death, watch_parent

LARGEST_GROUP = 8
MOST_DEATHS = 3
PATIENCE = 5.0
"""How long a worker may take to end when told to [s]; then it is killed."""
DIED = "its worker process died three times: out of memory, or a crash in a library"

Report = Callable[[int, str, float], None]
"""Called for each finished candidate with its index, status and seconds."""


Results = list[tuple[int, str, float]]
Task = Callable[[Path, tuple[int, ...]], Results]
"""What a worker is given: computes and stores the candidates of a group."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be computed: groups of candidates that share a field solve; and stored pieces that do not serve.

    ``broken`` names those that are damaged, ``outdated`` says why others no longer hold, with their numbers.
    """

    groups: tuple[tuple[int, ...], ...]
    stored: int
    broken: tuple[str, ...]
    outdated: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        """Candidates to compute."""
        return sum(len(group) for group in self.groups)


def plan(study: Study, folder: Path) -> Plan:
    """What a folder still lacks of a study; a broken piece, or one of something else, counts as lacking."""
    groups: dict[Hashable, list[int]] = {}
    stored, broken, outdated = 0, list[str](), Counter[str]()
    axes, mine = field_axes(study), origin(study)
    for index in range(study.count):
        path = piece_path(folder, study.design_name(index))
        if path.exists():
            try:
                content = Content.read(path)
                if content.record.get("origin") == mine or content.key == key_of(study, index)[0]:
                    stored += 1
                    continue
                outdated[changed_since(content)] += 1
            except BrokenPieceError as fault:
                broken.append(str(fault))
        swept = study.swept(index)
        groups.setdefault(tuple(swept[axis][1] for axis in axes), []).append(index)
    _put_neighbours_together(study, groups.values())
    because = tuple(f"{count} stored before {why}" for why, count in outdated.items() if why)
    return Plan(tuple(_split(groups.values())), stored, tuple(broken), because)


def _put_neighbours_together(study: Study, groups: Iterable[list[int]]) -> None:
    """Coils of like size next to each other within each group: a worker goes through them in this order."""
    axes = neighbour_axes(study)
    for group in groups if axes else ():
        group.sort(key=lambda index: [study.swept(index)[axis][1] for axis in axes])


def _split(groups: Iterable[list[int]]) -> Iterable[tuple[int, ...]]:
    for group in groups:
        for start in range(0, len(group), LARGEST_GROUP):
            yield tuple(group[start : start + LARGEST_GROUP])


def carry_out(study: Study, folder: Path, todo: Plan, workers: int, report: Report, task: Task = compute) -> None:
    """Compute what is left, each candidate stored before it is reported.

    A worker that dies is replaced; the candidates it may have had in hand are tried again one by one, and one that
    kills its worker for the third time is stored as failed. Then the others go on with all workers.
    """
    waiting, suspects = list(todo.groups), list[tuple[int, ...]]()
    deaths: dict[int, int] = {}
    while waiting or suspects:
        groups = suspects or waiting
        left = _with_pool(groups, folder, 1 if suspects else workers, report, task)
        again = _after_death(study, folder, left.in_hand, report, deaths)
        waiting, suspects = (waiting, again + left.untried) if suspects else (left.untried, again)


@dataclass(frozen=True, slots=True)
class _Left:
    """Groups not computed when a pool ended: those that a worker may have had in hand as one died, and the others."""

    in_hand: list[tuple[int, ...]]
    untried: list[tuple[int, ...]]


def _with_pool(groups: list[tuple[int, ...]], folder: Path, workers: int, report: Report, task: Task) -> _Left:
    """Work until all is done or a worker dies."""
    workers = min(workers, len(groups))
    untried, idle = Lots(groups, workers), list(range(workers))
    running: dict[Future[Results], tuple[int, tuple[int, ...]]] = {}
    with worker_pool(workers) as pool:
        try:
            while untried or running:
                while untried and idle:
                    group = untried.next(idle[-1])
                    with no_interrupt():
                        future = pool.submit(task, folder, group)
                    untried.take(idle[-1])  # only now: a pool that is broken already takes nothing
                    running[future] = idle.pop(), group
                done, _ = wait(running, return_when=FIRST_COMPLETED)
                for future in done:
                    results = future.result()
                    idle.append(running.pop(future)[0])
                    for index, status, seconds in results:
                        report(index, status, seconds)
        except BrokenProcessPool:
            return _Left([group for _, group in running.values()], untried.left())
    return _Left([], [])


@contextmanager
def worker_pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Worker processes, none of which outlives the block, however it ends."""
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=watch_parent)
    try:
        yield pool
    finally:
        processes = list((getattr(pool, "_processes", None) or {}).values())  # gone once the pool is shut down
        pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()
        for process in processes:  # none may store a candidate that the next pool is given
            if not _has_ended(process):
                process.kill()
                _has_ended(process)


def _has_ended(process: BaseProcess) -> bool:
    """Whether a worker that was told to end has done so, waited for at most `PATIENCE`.

    To join it is not enough: where the pool's own thread has the news of its death first, `join` returns at once,
    an instant before the process is known to have ended.
    """
    deadline = time.monotonic() + PATIENCE
    process.join(PATIENCE)
    while (alive := process.is_alive()) and time.monotonic() < deadline:
        time.sleep(0.001)
    return not alive


@contextmanager
def no_interrupt() -> Iterator[None]:
    """Workers started here do not see Ctrl-C, which reaches every process of a terminal: the run ends them itself."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _after_death(
    study: Study, folder: Path, suspects: list[tuple[int, ...]], report: Report, deaths: dict[int, int]
) -> list[tuple[int, ...]]:
    """Each unfinished candidate that was in hand, alone; those at their third death are given up."""
    again: list[tuple[int, ...]] = []
    for index in (index for group in suspects for index in group):
        path = piece_path(folder, study.design_name(index))
        if path.exists() and _holds(path, study, index):
            report(index, read_record(path)[1].status, 0.0)
            continue
        deaths[index] = deaths.get(index, 0) + 1
        if deaths[index] >= MOST_DEATHS:
            store_death(study, folder, index, DIED)
            report(index, "failed", 0.0)
        else:
            again.append((index,))
    return again


def _holds(path: Path, study: Study, index: int) -> bool:
    try:
        return read_record(path)[0] == key_of(study, index)[0]
    except BrokenPieceError:
        return False
