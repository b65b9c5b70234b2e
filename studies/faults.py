"""What is wrong with a study file, found all at once and said in one line each.

StudyFaults     one or many faults of one study file
"""

from collections.abc import Iterable
from dataclasses import dataclass

LONGEST_KEY = 120
LONGEST_CLAUSE = 800
"""Letters that a line holds of a key path, and of each clause."""

KeyPath = tuple[str | int, ...]
"""Where a value stands in the file: table keys as text, places in a list as numbers from 0."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong, before it is known on which line of which file.

    Parameters
    ----------
    path : KeyPath
        The key at fault.
    given : str
        What was given, as a clause.
    allowed : str
        What is allowed.
    hint : str
        What was probably meant; empty where nothing comes near.
    geometric : bool
        True where each value is right by itself and only the whole cannot be built. In a sweep such a
        candidate fails alone; it does not condemn the file.
    """

    path: KeyPath
    given: str
    allowed: str
    hint: str = ""
    geometric: bool = False

    @property
    def sentence(self) -> str:
        """Given, allowed and hint, without the place."""
        hint = f"did you mean {self.hint}" if self.hint else ""
        return "; ".join(part for part in (self.given, self.allowed, hint) if part)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a study file: where it stands, what was given, what is allowed, what was meant."""

    file: str
    line: int | None
    key: str
    given: str
    allowed: str
    hint: str = ""

    def __str__(self) -> str:
        """One line, whatever the file's keys and texts hold: no control characters, nothing without end."""
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        key = f"{_cut(self.key, LONGEST_KEY)}: " if self.key else ""
        sentence = Finding((), _cut(self.given), _cut(self.allowed), _cut(self.hint)).sentence
        return _printable(f"{place}: {key}{sentence}")


class StudyFaults(ValueError):  # noqa: N818 (one error holds many faults)
    """A study file that cannot be run; ``faults`` holds every fault, in the order of the file's lines."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda fault: (fault.line is None, fault.line or 0)))
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type, tuple[tuple[Fault, ...]]]:
        return type(self), (self.faults,)


def _cut(text: str, longest: int = LONGEST_CLAUSE) -> str:
    return text if len(text) <= longest else f"{text[: longest - 3]}..."


def _printable(text: str) -> str:
    """``text`` with what is no sign to be seen (a line's end, a terminal's escape, a turned direction) spelt out."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)
