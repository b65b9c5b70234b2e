"""Which worker does what: each goes through its own part of the work, so that it can go on with what it has solved."""

from collections import deque
from collections.abc import Sequence
from itertools import pairwise

Group = tuple[int, ...]


class Lots:
    """Groups in order, one stretch of them a worker; a worker whose stretch is done helps with the longest left.

    Parameters
    ----------
    groups : sequence of tuple of int
        Neighbours have more in common than others.
    workers : int
        How many stretches.
    """

    def __init__(self, groups: Sequence[Group], workers: int) -> None:
        share, rest = divmod(len(groups), workers)
        ends = [number * share + min(number, rest) for number in range(workers + 1)]
        self._lots = [deque(groups[start:end]) for start, end in pairwise(ends)]

    def __bool__(self) -> bool:
        return any(self._lots)

    def __len__(self) -> int:
        return sum(map(len, self._lots))

    def left(self) -> list[Group]:
        """All that nobody has taken, in order."""
        return [group for lot in self._lots for group in lot]

    def next(self, worker: int) -> Group:
        """What a worker is to do next; it stays here until `take` says that the worker has it."""
        own = self._lots[worker]
        return own[0] if own else self._longest()[-1]

    def take(self, worker: int) -> None:
        """Remove what `next` gave."""
        own = self._lots[worker]
        if own:
            own.popleft()
        else:
            self._longest().pop()

    def _longest(self) -> deque[Group]:
        return max(self._lots, key=len)
