"""A list of stock inductors, read from a CSV file and checked: every fault with its line, no row lost."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot
from pathlib import Path

from studies.csv_rows import Column, Headings, cell_value, few, rows_of
from studies.faults import Fault, StudyFaults
from studies.plain_text import plain
from studies.quantities import QuantityError, bare_number, shortened
from studies.schema import TEMPERATURE
from studies.schema_values import Measured

MOST_PARTS, LONGEST_NAME = 50_000, 100

LENGTH = Measured("length", 1e-5, 1.0)
MEASURED = {
    "inductance": Measured("inductance", 1e-9, 100.0),
    "dc_resistance": Measured("resistance", 1e-6, 1e9),
    "diameter": LENGTH,
    "length": LENGTH,
    "width": LENGTH,
    "height": LENGTH,
    "self_resonance": Measured("frequency", 1.0, 1e12),
    "saturation_current": Measured("current", 1e-6, 1e4),
    "temperature_limit": TEMPERATURE,
}
"""Columns that hold a quantity, with the range that is allowed."""

WORDS = ("name", "tolerance", "axis", "price")
COLUMNS = (*WORDS, *MEASURED)
NEEDED = ("name", "inductance", "dc_resistance", "height")
AXES = ("height", "length")
"""Along which side of a part its coil's axis runs: upright on its board, or lying along it."""

PERCENT = ("percent", "%", "pct")
HEADINGS = Headings(COLUMNS, MEASURED, {"tolerance": PERCENT, "price": None})
"""What a list may hold; a price has a currency behind it."""

UNITS_ALLOWED = 'with its unit in the heading, as in "inductance_mH", or in every cell, as in "2.7 mH"'


@dataclass(frozen=True, slots=True)
class StockPart:
    """A stock inductor as its list gives it.

    Parameters
    ----------
    line : int
        Of the file, where its row begins.
    name : str
        Different from all others of the list.
    inductance, dc_resistance : float
        [H], and at 20 °C [Ω].
    diameter, height : float
        Of the round body that is reckoned with, across and along the coil's axis [m].
    outer_diameter : float
        Of the cylinder about the coil's axis that holds the part, corners and all [m].
    tolerance : float or None
        Of the inductance, relative [1].
    self_resonance, saturation_current, temperature_limit : float or None
        [Hz], [A], [°C]; None where the list does not say.
    price : str
        As written.
    others : tuple of (str, str)
        Columns that are not known here, as written.
    """

    line: int
    name: str
    inductance: float
    dc_resistance: float
    diameter: float
    height: float
    outer_diameter: float
    tolerance: float | None = None
    self_resonance: float | None = None
    saturation_current: float | None = None
    temperature_limit: float | None = None
    price: str = ""
    others: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class StockList:
    """A whole list: its parts in the file's order, headings not known here, and how many rows held nothing."""

    parts: tuple[StockPart, ...]
    unknown: tuple[str, ...]
    empty_rows: int


def read_stock(path: Path) -> StockList:
    """Read a list of stock parts.

    Parameters
    ----------
    path : Path
        A CSV file in UTF-8, cells parted by commas, the headings in its first row that holds anything. Needed are
        ``name``, ``inductance``, ``dc_resistance``, ``height`` and either ``diameter`` or ``length`` and ``width``;
        allowed besides are ``tolerance``, ``axis``, ``self_resonance``, ``saturation_current``, ``temperature_limit``
        and ``price``. Units stand in the heading (``inductance_mH``, ``height [mm]``) or in each cell.

    Returns
    -------
    StockList
        Columns of any other name are kept as they are, unless they are nearly one of these.

    Raises
    ------
    StudyFaults
        With every fault of the list and its line.
    """
    rows = list(rows_of(path, "a list of parts"))
    filled = [(line, cells) for line, cells in rows if any(cells)]
    if not filled:
        raise StudyFaults([Fault(str(path), None, "", "holds no row", "a CSV file whose first row names its columns")])
    (heading_line, headings), *body = filled
    columns = _columns(path, heading_line, headings)
    if not body:
        raise StudyFaults([Fault(str(path), heading_line, "", "no part follows the headings", "a row a part")])
    if len(body) > MOST_PARTS:
        raise StudyFaults([Fault(str(path), None, "", f"holds {len(body)} parts", f"at most {MOST_PARTS}")])
    parts: list[StockPart] = []
    faults: list[Fault] = []
    first_seen: dict[str, int] = {}
    for line, cells in body:
        part, found = _part(str(path), line, cells, columns)
        if part is not None and part.name in first_seen:
            given = f'"{shortened(part.name)}" is the name of the part on line {first_seen[part.name]} too'
            found = [Fault(str(path), line, "name", given, "a name of its own for every part")]
        if part is not None:
            first_seen.setdefault(part.name, line)
            parts.append(part)
        faults += found
    if faults:
        raise StudyFaults(few(faults, str(path)))
    unknown = tuple(column.heading for column in columns if not column.name)
    return StockList(tuple(parts), unknown, len(rows) - len(filled))


# -- headings -------------------------------------------------------------------------------------------------------


def _columns(path: Path, line: int, headings: list[str]) -> tuple[Column, ...]:
    """What each column holds.

    Raises
    ------
    StudyFaults
        For headings that are missing, there twice, nearly known, or with a unit of something else.
    """
    columns, faults = HEADINGS.read(path, line, headings)
    names = [column.name for column in columns if column.name]
    if not faults:
        given = "there is no such column"
        for name in NEEDED:
            if name not in names:
                allowed = f"{name}, {UNITS_ALLOWED}" if name in MEASURED else name
                faults.append(Fault(str(path), line, name, given, allowed))
        if "diameter" not in names and not {"length", "width"} <= set(names):
            faults.append(Fault(str(path), line, "diameter", given, "diameter, or length and width"))
    if faults:
        raise StudyFaults(faults)
    return columns


# -- rows -----------------------------------------------------------------------------------------------------------


def _part(file: str, line: int, cells: list[str], columns: tuple[Column, ...]) -> tuple[StockPart | None, list[Fault]]:
    """The part of one row, or what is wrong with the row."""
    while len(cells) > len(columns) and not cells[-1]:
        cells = cells[:-1]
    if len(cells) != len(columns):
        given = f"{len(cells)} cells where the headings are {len(columns)}"
        return None, [Fault(file, line, "", given, "a cell a heading, empty where nothing is known")]
    faults: list[Fault] = []
    words: dict[str, str] = {}
    values: dict[str, float] = {}
    others: list[tuple[str, str]] = []
    for column, cell in zip(columns, cells, strict=True):
        if not column.name:
            others.append((column.heading, cell))
        elif column.name in MEASURED or column.name == "tolerance":
            try:
                if cell:
                    values[column.name] = _value(column, cell)
            except QuantityError as error:
                faults.append(Fault(file, line, column.name, error.given, error.allowed, error.hint))
        else:
            words[column.name] = cell
    if not words["name"].isprintable() or len(words["name"]) > LONGEST_NAME:
        allowed = f"up to {LONGEST_NAME} printable characters on one line"
        faults.append(Fault(file, line, "name", f'"{shortened(plain(words["name"]))}"', allowed))
    broken = {fault.key for fault in faults}
    faults += [
        Fault(file, line, key, "is empty", allowed) for key, allowed in _missing(words, values) if key not in broken
    ]
    if words.get("axis", "") not in ("", *AXES):
        faults.append(Fault(file, line, "axis", f'"{shortened(words["axis"])}"', f"one of {', '.join(AXES)}"))
    if faults:
        return None, faults
    return _made(line, words, values, tuple(others)), []


def _value(column: Column, cell: str) -> float:
    return _tolerance(column, cell) if column.name == "tolerance" else cell_value(column, cell, MEASURED[column.name])


def _tolerance(column: Column, cell: str) -> float:
    bare = cell.replace("±", "").replace("+/-", "").strip()
    number = bare.removesuffix("%").strip()
    allowed = 'a share of 0 to 90 %, as in "10 %" or in a column tolerance_percent'
    try:
        share = 1e-2 * bare_number(number)
    except ValueError:
        raise QuantityError(f'"{shortened(cell)}"', allowed) from None
    if not bare.endswith("%") and not column.unit:
        raise QuantityError(f'"{shortened(cell)}" has no unit', allowed, f'"{number} %"')
    if not 0.0 <= share <= 0.9:
        raise QuantityError(f'"{shortened(cell)}" is out of bounds', allowed)
    return share


def _missing(words: dict[str, str], values: dict[str, float]) -> Iterator[tuple[str, str]]:
    """Cells that must not be empty, and what belongs there."""
    if not words["name"]:
        yield "name", "a name of its own for every part"
    for name in ("inductance", "dc_resistance", "height"):
        if name not in values:
            yield name, MEASURED[name].allowed
    if "diameter" not in values and not {"length", "width"} <= set(values):
        yield "diameter", "a diameter, or length and width"


def _made(line: int, words: dict[str, str], values: dict[str, float], others: tuple[tuple[str, str], ...]) -> StockPart:
    across, along, outer = _size(words.get("axis") or "height", values)
    return StockPart(
        line, words["name"], values["inductance"], values["dc_resistance"], across, along, outer,
        values.get("tolerance"), values.get("self_resonance"), values.get("saturation_current"),
        values.get("temperature_limit"), words.get("price", ""), others,
    )  # fmt: skip


def _size(axis: str, values: dict[str, float]) -> tuple[float, float, float]:
    """Diameter and height of the round body about the coil's axis, and the diameter of what holds the corners too [m].

    Of a square part the round core that goes in is taken; the corners are only looked at where it has to fit.
    """
    height, round_one = values["height"], values.get("diameter")
    length, width = values.get("length", round_one or 0.0), values.get("width", round_one or 0.0)
    if axis == "height":
        if round_one is not None:
            return round_one, height, round_one
        return min(length, width), height, hypot(length, width)
    if round_one is not None and "length" not in values:
        return round_one, height, round_one  # a round part lies along its own axis: its height is its length
    across = round_one if round_one is not None and "width" in values else min(width, height)
    return across, length, max(across, hypot(width, height))
