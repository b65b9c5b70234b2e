"""Checks that leave a row: what a source says, what the program computes, and how far apart the two may be.

``Record.compare`` asserts and records in one step, so that docs/validation.md cannot say anything else than the tests.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from math import floor, log10


class Status(StrEnum):
    """Where a published value comes from."""

    SEEN = "printed value, seen"
    MEMORY = "printed value, from memory"
    FORMULA = "exact published formula"
    EMPIRICAL = "published empirical formula"
    DERIVED = "derived here, no source"
    PRACTICE = "common practice, no source"


class Means(StrEnum):
    """What in the program is exercised."""

    ELEMENTS = "finite elements"
    INTEGRAL = "field integrals"
    FORMULA = "other form of the formula"
    TRANSCRIPTION = "transcription only"


@dataclass(frozen=True, slots=True)
class Source:
    """A publication: short name with its year, full reference, kind (book, paper, standard, regulation, data or none).

    ``family`` names what it is counted with where two publications hang together: one author, or one reprints the
    other.
    """

    name: str
    reference: str
    kind: str
    family: str = ""

    @property
    def counted_as(self) -> str:
        """Name under which it counts as an independent source."""
        return self.family or self.name


@dataclass(frozen=True, slots=True)
class Row:
    """One check. ``allowed`` and the values are in the quantity's unit; ``relative`` is how the tolerance was given."""

    source: Source
    quantity: str
    published: float
    computed: float
    allowed: float
    relative: float | None
    why: str
    status: Status
    means: Means

    @property
    def place(self) -> int:
        """Decimal place to which values are shown: one further than the first digit of what is allowed."""
        return floor(log10(self.allowed)) - 1

    @property
    def holds(self) -> bool:
        """Whether the two agree within what is allowed."""
        return abs(self.computed - self.published) <= self.allowed


ROWS: list[Row] = []
"""Every row of this session, in the order in which the checks ran."""


@dataclass(frozen=True, slots=True)
class Record:
    """What the checks of one file have in common; ``compare`` and ``but`` may say otherwise."""

    source: Source
    status: Status
    means: Means
    why: str

    def but(self, **changes: object) -> "Record":
        """The same with another status, means or reason."""
        return replace(self, **changes)  # type: ignore[arg-type]

    def compare(
        self,
        quantity: str,
        published: float,
        computed: float,
        *,
        absolute: float | None = None,
        relative: float | None = None,
    ) -> None:
        """Record a check and assert that it holds.

        Parameters
        ----------
        quantity : str
            What it is, with its unit; names the row within the source.
        published, computed : float
            In that unit.
        absolute, relative : float
            What is allowed, one of the two; ``relative`` is of the published value.
        """
        if (absolute is None) == (relative is None):
            raise TypeError(f"{quantity}: give either an absolute or a relative tolerance")
        allowed = absolute if absolute is not None else abs(relative or 0.0) * abs(published)
        row = Row(
            self.source, quantity, float(published), float(computed), float(allowed or 0.0), relative, self.why,
            self.status, self.means,
        )  # fmt: skip
        if row.allowed <= 0.0:
            raise ValueError(f"{quantity}: a tolerance of nothing cannot be met; state the rounding")
        if any((r.source.name, r.quantity) == (row.source.name, quantity) for r in ROWS):
            raise ValueError(f"{self.source.name}: two checks are called {quantity!r}")
        ROWS.append(row)
        assert row.holds, (
            f"{self.source.name}, {quantity}: published {published!r}, computed {row.computed!r}, "
            f"{abs(row.computed - row.published):.3g} apart where {row.allowed:.3g} is allowed ({self.why})"
        )
