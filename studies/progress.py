"""How far a run has come: a bar on a terminal, a plain line every twentieth elsewhere."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol


class Progress(Protocol):
    """What counts finished candidates."""

    def __call__(self, index: int, status: str, seconds: float) -> None:
        """Count one."""


@contextmanager
def progress(total: int, what: str) -> Iterator[Progress]:
    """Count ``total`` candidates on stderr, with the time left."""
    if sys.stderr.isatty():
        with _bar(total, what) as count:
            yield count
    else:
        yield _Lines(total, what)


@contextmanager
def _bar(total: int, what: str) -> Iterator[Progress]:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("left"),
    )
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=total)

        def count(index: int, status: str, seconds: float) -> None:
            bar.advance(task)

        yield count


class _Lines:
    """One plain line for every twentieth of the work."""

    def __init__(self, total: int, what: str) -> None:
        self.total, self.what = total, what
        self.done, self.said, self.start = 0, 0, time.monotonic()

    def __call__(self, index: int, status: str, seconds: float) -> None:
        self.done += 1
        if self.done - self.said >= self.total / 20.0 or self.done == self.total:
            self.said = self.done
            left = (time.monotonic() - self.start) / self.done * (self.total - self.done)
            print(
                f"{self.what}: {self.done} of {self.total} candidates, about {duration(left)} left",
                file=sys.stderr,
                flush=True,
            )


def duration(seconds: float) -> str:
    """A time for people."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"
