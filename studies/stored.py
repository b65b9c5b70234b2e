"""What a run folder holds of each candidate, as read back."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from fem.gathered_loops import Loops
from studies.linking import Profile
from studies.one_state import MapValues
from studies.rows import AnyRow
from studies.study import Study
from studies.verdict import Check


@dataclass(frozen=True, slots=True, eq=False)
class StoredDesign:
    """One candidate of a run.

    ``row`` is its line of ``designs.csv``; of a failed one it holds the design's name, the swept values, ``status`` and
    ``message`` only. ``index`` is its place in the sweep, ``seconds`` the time that it took [s]; ``origin`` tells study
    and code that made it.
    """

    index: int
    design: str
    status: Literal["done", "failed"]
    message: str
    row: AnyRow
    checks: tuple[Check, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    seconds: float = 0.0
    origin: str = ""

    @property
    def passed(self) -> bool:
        """Whether it was computed and meets every requirement."""
        return self.status == "done" and all(check.passed for check in self.checks)

    @property
    def failures(self) -> tuple[Check, ...]:
        """Requirements it misses, worst first."""
        return tuple(sorted((c for c in self.checks if not c.passed), key=lambda c: -c.shortfall))


@dataclass(frozen=True, slots=True, eq=False)
class Arrays:
    """What is stored of one candidate besides its row: its map, its lines of margin against height, its states.

    ``loops``, the sources of the base field, are for one ampere in one turn; ``states`` are rows of each state by
    itself, its name under ``state``; ``vessels`` are rows of each vessel.
    """

    map: MapValues
    profiles: tuple[Profile, ...]
    loops: Loops | None = None
    states: tuple[AnyRow, ...] = ()
    vessels: tuple[AnyRow, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A run folder: the study as run, every candidate, and what ``run.json`` says."""

    folder: Path
    study: Study
    designs: tuple[StoredDesign, ...]
    info: dict[str, Any]

    @property
    def state(self) -> str:
        """How far it has come, in a word or two."""
        told = str(self.info.get("status", "unknown"))
        if told == "complete" and len(self.designs) < self.study.count:
            return "incomplete: stored designs are gone, trivet run computes them again"
        return told
