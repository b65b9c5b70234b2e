"""Rows of a CSV file that a person or a spreadsheet wrote: cells, headings with units, faults with their lines."""

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from studies.faults import Fault, StudyFaults
from studies.quantities import QUANTITIES, QuantityError, allowed_units, bare_number, read_quantity, shortened
from studies.schema_values import Measured

LARGEST_FILE = 20_000_000
FAULTS_TOLD = 25
"""Bytes that a file may have, and how many of its faults have a line of their own."""

SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "upright strokes"}
"""What other programs part cells by, and what it is called."""

_DECIMAL_COMMA = re.compile(r"([+-]?\d+),(\d+)(\D*)")


@dataclass(frozen=True, slots=True)
class Column:
    """A heading: the name known here (empty where it is none) and the unit that it gives to its cells."""

    heading: str
    name: str
    unit: str


@dataclass(frozen=True, slots=True)
class Headings:
    """What a list may hold.

    ``columns`` are all names, ``measured`` those with a quantity, ``units`` the spellings that others may have after
    their name; None stands for any.
    """

    columns: tuple[str, ...]
    measured: Mapping[str, Measured]
    units: Mapping[str, tuple[str, ...] | None]

    def read(self, path: Path, line: int, headings: Sequence[str]) -> tuple[tuple[Column, ...], list[Fault]]:
        """What each column holds, and what is wrong with headings: there twice, nearly known, with another's unit."""
        faults: list[Fault] = []

        def refuse(key: str, given: str, allowed: str, hint: str = "") -> None:
            faults.append(Fault(str(path), line, key, given, allowed, hint))

        other = self._separator(headings)
        if other:
            refuse("", f"cells are parted by {SEPARATORS[other]}", "cells parted by commas, numbers with a point")
            return (), faults
        while headings and not headings[-1]:
            headings = headings[:-1]  # what spreadsheets leave behind empty columns
        columns: list[Column] = []
        for heading in headings:
            column = self._column(heading)
            near = get_close_matches(_plain(heading), self.columns, 1, 0.75) if not column.name else []
            if not heading:
                refuse(f"column {len(columns) + 1}", "has no name", "a heading over every column that holds anything")
            elif near:
                allowed = f"{', '.join(self.columns)}, or a name unlike any of them"
                refuse(heading, "is no column known here", allowed, near[0])
            elif column.name and not self._unit_fits(column):
                measured = self.measured.get(column.name)
                allowed = "no unit" if measured is None else allowed_units(measured.quantity)
                refuse(heading, f'"{column.unit}" is no unit of its own', f"{allowed} after {column.name}")
            columns.append(column)
        names = [column.name or column.heading for column in columns if column.heading]
        for name in dict.fromkeys(name for name in names if names.count(name) > 1):
            refuse(name, "stands in more than one column", "one column of a kind")
        return tuple(columns), few(faults, str(path))

    def _separator(self, headings: Sequence[str]) -> str:
        """What parts the headings where it is no comma: it makes more known names of them."""
        text = ",".join(headings)

        def known(parts: Sequence[str]) -> int:
            return sum(bool(self._column(part.strip().strip('"')).name) for part in parts)

        best = max(SEPARATORS, key=lambda mark: known(text.split(mark)))
        alone = len(headings) == 1 and best in text
        return best if alone or known(text.split(best)) > known(headings) else ""

    def _column(self, heading: str) -> Column:
        text = heading.replace("[", " ").replace("]", " ").replace("(", " ").replace(")", " ")
        text = "_".join(text.replace("_", " ").split())
        for name in sorted(self.columns, key=len, reverse=True):
            start, unit = text[: len(name)].lower(), text[len(name) :]
            if start == name and (not unit or unit.startswith("_")):
                return Column(heading, name, unit.removeprefix("_"))
        return Column(heading, "", "")

    def _unit_fits(self, column: Column) -> bool:
        if not column.unit:
            return True
        if column.name in self.measured:
            return _spelt(column.unit) in QUANTITIES[self.measured[column.name].quantity]
        allowed = self.units.get(column.name, ())
        return allowed is None or column.unit.lower() in allowed


def cell_value(column: Column, cell: str, measured: Measured) -> float:
    """A cell's quantity in SI, its unit in the heading or in the cell.

    Raises
    ------
    QuantityError
        Where it is none.
    """
    comma = _DECIMAL_COMMA.fullmatch(cell)
    if comma:
        point = f"{comma[1]}.{comma[2]}{comma[3]}"
        raise QuantityError(f'"{shortened(cell)}" has a decimal comma', "a number with a point", f'"{point}"')
    if not column.unit:
        return measured.read(cell)
    unit = _spelt(column.unit)
    try:
        bare_number(cell)
    except ValueError:
        raise QuantityError(f'"{shortened(cell)}"', f"a bare number: the heading says {unit}") from None
    read_quantity(f"{cell} {unit}", measured.quantity)
    return measured.read(f"{cell} {unit}")


def few(faults: list[Fault], file: str) -> list[Fault]:
    """The first of many faults, and how many more there are."""
    if len(faults) <= FAULTS_TOLD:
        return faults
    rest = Fault(file, None, "", f"and {len(faults) - FAULTS_TOLD} more faults", "as said of the first ones")
    return [*faults[:FAULTS_TOLD], rest]


def rows_of(path: Path, what: str) -> Iterator[tuple[int, list[str]]]:
    """Rows with the line on which each begins, their cells without surrounding blanks.

    Parameters
    ----------
    path : Path
        In UTF-8, cells parted by commas.
    what : str
        What the file should be, as ``"a list of parts"``.

    Raises
    ------
    StudyFaults
        Where it cannot be read or taken apart.
    """
    # StringIO parts lines at ends of line alone; splitlines would do so within cells, at a form feed for one.
    reader = csv.reader(io.StringIO(_text(path, what), newline=""), strict=True)
    line = 1
    try:
        for cells in reader:
            yield line, [cell.strip() for cell in cells]
            line = reader.line_num + 1
    except csv.Error as error:
        longest = f"a cell from here on has more than {csv.field_size_limit():,} characters"
        given = longest if "field limit" in str(error) else f"cannot be taken apart into cells ({error})"
        allowed = "cells parted by commas, those with a comma or a quotation mark inside in quotation marks"
        raise StudyFaults([Fault(str(path), line, "", given, allowed)]) from None


def _text(path: Path, what: str) -> str:
    file = str(path)

    def refused(given: str, allowed: str) -> StudyFaults:
        return StudyFaults([Fault(file, None, "", given, allowed)])

    try:
        if not path.is_file():
            given = "is a directory" if path.is_dir() else "is no ordinary file" if path.exists() else "does not exist"
            raise refused(given, f"{what} as a CSV file")
        if path.stat().st_size > LARGEST_FILE:
            raise refused(f"is {path.stat().st_size / 1e6:.3g} MB long", f"at most {LARGEST_FILE / 1e6:g} MB")
        # utf-8-sig: spreadsheets put a byte-order mark before the text.
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refused(f"holds no UTF-8 text (byte {error.start})", "a CSV file in UTF-8") from None
    except OSError as error:
        raise refused(f"cannot be read: {error.strerror}", "a file that may be read") from None
    if "\0" in text:
        raise refused("holds no text (a zero byte)", "a CSV file in UTF-8")
    return text


def _plain(heading: str) -> str:
    return "_".join(heading.lower().replace("[", " ").replace("(", " ").split())


def _spelt(unit: str) -> str:
    for odd, ours in (("µ", "u"), ("μ", "u"), ("Ω", "ohm"), ("Ω", "ohm"), ("°C", "degC"), ("°", "deg")):
        unit = unit.replace(odd, ours)
    return unit
