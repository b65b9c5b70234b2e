"""Which worker does what: two go through each stretch of the work from its ends, with what they have solved."""

from collections import deque
from collections.abc import Sequence
from itertools import pairwise

Group = tuple[int, ...]


class Lots:
    """Groups in order, one stretch of them for every two workers, who meet somewhere in it.

    A worker whose stretch is done helps with the longest one left.

    Parameters
    ----------
    groups : sequence of tuple of int
        Neighbours have more in common than others.
    workers : int
        How many take from them.
    """

    def __init__(self, groups: Sequence[Group], workers: int) -> None:
        count = (workers + 1) // 2
        share, rest = divmod(len(groups), count)
        ends = [number * share + min(number, rest) for number in range(count + 1)]
        self._stretches = [deque(groups[start:end]) for start, end in pairwise(ends)]

    def __bool__(self) -> bool:
        return any(self._stretches)

    def left(self) -> list[Group]:
        """All that nobody has taken, in order."""
        return [group for stretch in self._stretches for group in stretch]

    def next(self, worker: int) -> Group:
        """What a worker is to do next; it stays here until `take` says that the worker has it."""
        return self._stretch(worker)[-(worker % 2)]

    def take(self, worker: int) -> None:
        """Remove what `next` gave."""
        del self._stretch(worker)[-(worker % 2)]

    def _stretch(self, worker: int) -> deque[Group]:
        own = self._stretches[worker // 2]
        return own or max(self._stretches, key=len)
