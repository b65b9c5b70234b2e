"""What a search computes: candidates of a space by worker processes, each on disk before it counts."""

from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack
from functools import lru_cache
from pathlib import Path

from studies.engine import DIED, MOST_DEATHS, Report, no_interrupt, worker_pool
from studies.pick_space import Space, space_of
from studies.pieces import BrokenPieceError, piece_key, read_record, write_piece
from studies.stored import StoredDesign
from studies.study import Study, study_of
from studies.work import computed, first_columns, origin

Given = tuple[str, str, int]
"""What a worker makes the space of: text of the study, its path as told, tries of the search."""


@lru_cache(maxsize=1)
def _study(given: Given) -> Study:
    text, path, tries = given
    return space_of(study_of(text, Path(path)), tries).study


def try_one(given: Given, mine: str, index: int, path: Path) -> StoredDesign:
    """Compute a candidate of the space and store what is known of it, its map left out."""
    stored, _ = computed(_study(given), index, mine)
    write_piece(path, piece_key(None, mine), stored, None)
    return stored


class Solver:
    """Computes candidates in processes that last as long as the search, so that they keep what candidates share.

    Use as a context.
    """

    def __init__(self, space: Space, tries: int, folder: Path, workers: int, report: Report) -> None:
        study = space.study
        self.study, self.folder, self.workers, self.report = study, folder, workers, report
        self.given = study.text, str(study.path), tries
        self.mine = origin(study)
        self.taken_over = 0
        self._stack = ExitStack()
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> "Solver":
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    def __call__(self, indices: Sequence[int]) -> list[StoredDesign]:
        """Candidates in the order asked for; those that an earlier search has stored are read."""
        found: dict[int, StoredDesign] = {}
        for index in indices:
            stored = self._stored(index)
            if stored is not None:
                found[index] = stored
                self.taken_over += 1
                self.report(index, stored.status, stored.seconds)
        self._compute([index for index in indices if index not in found], found)
        return [found[index] for index in indices]

    def _compute(self, waiting: list[int], found: dict[int, StoredDesign]) -> None:
        """All at once; after a worker's death one by one, so that the one that kills it is known."""
        deaths: Counter[int] = Counter()
        together = True
        while waiting:
            hand = waiting if together else waiting[:1]
            try:
                for stored in self._results(hand):
                    found[stored.index] = stored
                    self.report(stored.index, stored.status, stored.seconds)
            except BrokenProcessPool:
                self._stack.close()
                self._pool, together = None, False
                deaths.update(hand if len(hand) == 1 else ())
                for index in (index for index in hand if deaths[index] >= MOST_DEATHS):
                    found[index] = self._given_up(index)
                    self.report(index, "failed", 0.0)
            waiting = [index for index in waiting if index not in found]

    def _results(self, indices: Sequence[int]) -> Iterator[StoredDesign]:
        if self._pool is None:
            self._pool = self._stack.enter_context(worker_pool(self.workers))
        with no_interrupt():
            futures = [self._pool.submit(try_one, self.given, self.mine, index, self._path(index)) for index in indices]
        for future in futures:
            yield future.result()

    def _path(self, index: int) -> Path:
        return self.folder / f"{index}.npz"

    def _stored(self, index: int) -> StoredDesign | None:
        """What an earlier search with the same code found; None where there is none, or a broken one."""
        if not self._path(index).exists():
            return None
        try:
            stored = read_record(self._path(index))[1]
        except BrokenPieceError:
            return None
        return stored if stored.origin == self.mine and stored.index == index else None

    def _given_up(self, index: int) -> StoredDesign:
        row = first_columns(self.study, index) | {"status": "failed", "message": DIED}
        return StoredDesign(index, self.study.design_name(index), "failed", DIED, row)
