"""One of the designs that are compared: found by ``RUN`` or ``RUN:DESIGN``, with all that its run stores of it."""

from dataclasses import dataclass
from pathlib import Path

from geometries.errors import GeometryError
from studies.errors import NotARunError, RunError
from studies.findings import findings
from studies.pieces import BrokenPieceError, Content
from studies.specification import Candidate, MapGrid
from studies.store import arrays_of, piece_path, read_run
from studies.stored import Arrays, Run, StoredDesign

LETTERS = "ABCDEFGHIJ"
"""Names of what is compared, the reference first; no more can be told apart on a page."""


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """A design of a run.

    ``letter`` is its name on the page, ``given`` what was typed, ``physics`` the version of the physics that computed
    the design, as its stored piece says.
    """

    letter: str
    given: str
    run: Run
    stored: StoredDesign
    candidate: Candidate
    arrays: Arrays
    physics: str

    @property
    def grid(self) -> MapGrid:
        """Places of its map."""
        return self.candidate.grid

    @property
    def name(self) -> str:
        """Study and design."""
        return f"{self.run.study.name} {self.stored.design}"

    @property
    def complete(self) -> bool:
        """Whether every candidate of its run is stored."""
        return len(self.run.designs) == self.run.study.count

    @property
    def stands(self) -> str:
        """How far its run is."""
        word = "complete" if self.complete else "incomplete"
        return f"{word}, {len(self.run.designs)} of {self.run.study.count} designs stored"


def sides(given: tuple[str, ...]) -> tuple[Side, ...]:
    """Find what is to be compared, in the order typed.

    Parameters
    ----------
    given : tuple of str
        Run folders, or ``FOLDER:DESIGN``; without a design the best one of the run.

    Raises
    ------
    RunError, StudyFaults
        Where there are too few or too many of them, or one is no run or no design that was computed.
    """
    if not 2 <= len(given) <= len(LETTERS):
        raise RunError(f"{len(given)} run{'s' * (len(given) != 1)} to compare; give 2 to {len(LETTERS)}")
    return tuple(_side(letter, one) for letter, one in zip(LETTERS, given, strict=False))


def _side(letter: str, given: str) -> Side:
    folder, design = _parts(given)
    run = _read(folder)
    stored = _best(run) if design is None else _named(run, design)
    try:
        candidate = run.study.candidate(stored.index)
        content = Content.read(piece_path(folder, stored.design))
        return Side(letter, given, run, stored, candidate, arrays_of(run, stored), content.made_with.get("physics", ""))
    except (BrokenPieceError, OSError) as fault:
        raise NotARunError(f"{folder}: {stored.design} is broken ({fault}); `trivet run` computes it again") from fault
    except GeometryError as fault:
        raise RunError(f"{stored.design} of {folder} can no longer be put together: {fault}") from fault


def _read(folder: Path) -> Run:
    """A run; what is wrong with it names its folder, since there are several."""
    try:
        return read_run(folder)
    except NotARunError as fault:
        if str(folder) in str(fault):
            raise
        raise NotARunError(f"{folder}: {fault}") from fault


def _parts(given: str) -> tuple[Path, str | None]:
    """Folder and design; a colon in a folder's own name counts as part of it where there is such a folder."""
    whole = Path(given)
    folder, colon, design = given.rpartition(":")
    if whole.exists() or not colon or not folder or "/" in design:
        return whole, None
    return Path(folder), design


def _best(run: Run) -> StoredDesign:
    best = findings(run).best
    if best is None:
        raise RunError(
            f"{run.folder} holds no design that was computed ({len(run.designs)} of {run.study.count} are stored); "
            "`trivet run` with the same study carries on"
        )
    return best


def _named(run: Run, design: str) -> StoredDesign:
    names = [run.study.design_name(index) for index in range(run.study.count)]
    if design not in names:
        raise RunError(f'no design of {run.study.name} is called "{design}"; {names[0]} to {names[-1]} are')
    stored = next((one for one in run.designs if one.design == design), None)
    if stored is None:
        raise RunError(
            f"{design} of {run.folder} has not been computed yet; `trivet run` with the same study carries on"
        )
    if stored.status != "done":
        raise RunError(f"{design} of {run.folder} failed, there is nothing to compare: {stored.message}")
    return stored
