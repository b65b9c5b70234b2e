"""A candidate's line of ``designs.csv``: names with their units to values."""

from array import array
from collections.abc import Iterator, Mapping
from functools import cache
from sys import intern

Value = float | int | str | bool | None
Row = dict[str, Value]
AnyRow = Mapping[str, Value]
"""A row as made, or as read back."""

_Place = tuple[bool, int]


def number(row: AnyRow, name: str) -> float:
    """A column that always is a number."""
    value = row[name]
    assert isinstance(value, float), f"{name} is a number"
    return value


class StoredRow(Mapping[str, Value]):
    """A row as read back, in a tenth of a dictionary's memory: runs hold a hundred thousand of them.

    Its names are shared with all rows of the same columns, its words with all rows that say the same.
    """

    __slots__ = ("_floats", "_others", "_places")

    def __init__(self, row: AnyRow) -> None:
        self._places = _places(tuple((intern(name), type(value) is float) for name, value in row.items()))
        self._floats = array("d", (value for value in row.values() if type(value) is float))
        self._others = tuple(
            intern(value) if type(value) is str else value for value in row.values() if type(value) is not float
        )

    def __getitem__(self, name: str) -> Value:
        """The value of a column."""
        is_float, place = self._places[name]
        return self._floats[place] if is_float else self._others[place]

    def __iter__(self) -> Iterator[str]:
        """The columns in order."""
        return iter(self._places)

    def __len__(self) -> int:
        """How many columns there are."""
        return len(self._places)

    def __repr__(self) -> str:
        """As the dictionary would show."""
        return f"StoredRow({dict(self)!r})"


@cache
def _places(columns: tuple[tuple[str, bool], ...]) -> dict[str, _Place]:
    """Where each column lies: among the floats or the others, and its place there."""
    counts, places = [0, 0], dict[str, _Place]()
    for name, is_float in columns:
        places[name] = is_float, counts[is_float]
        counts[is_float] += 1
    return places
