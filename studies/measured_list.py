"""Readings from a bench, read from a CSV file and checked: every fault with its line, no row lost."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from math import pi
from pathlib import Path

from studies.csv_rows import Column, Headings, cell_value, few, rows_of
from studies.faults import Fault, StudyFaults
from studies.quantities import QuantityError, bare_number, shortened
from studies.schema_values import Measured

MOST_READINGS = 2_000

PLACE = {
    "height": Measured("length", 1e-4, 1.0),
    "offset": Measured("length", 0.0, 1.0),
    "tilt": Measured("angle", -0.5 * pi, 0.5 * pi),
}
VALUES = {
    "mutual_inductance": Measured("inductance", 1e-15, 1.0),
    "chip_voltage": Measured("voltage", 1e-6, 1e4),
    "base_inductance": Measured("inductance", 1e-9, 1.0),
    "base_resistance": Measured("resistance", 1e-6, 1e6),
    "tag_inductance": Measured("inductance", 1e-9, 100.0),
    "tag_resistance": Measured("resistance", 1e-6, 1e6),
}
BARE = {"coupling_coefficient": (1e-9, 1.0), "base_quality": (1e-3, 1e5), "tag_quality": (1e-3, 1e5)}
"""Values without a unit, with the range that is allowed."""

SIGMAS = {
    "coupling_coefficient": 0.03,
    "mutual_inductance": 0.03,
    "chip_voltage": 0.03,
    "base_inductance": 0.01,
    "base_resistance": 0.03,
    "base_quality": 0.04,
    "tag_inductance": 0.01,
    "tag_resistance": 0.03,
    "tag_quality": 0.04,
}
"""Relative standard uncertainties that are taken where a row gives none: common practice of a hand-held bridge or a
scope, no source."""

MEASURED = PLACE | VALUES
WORDS = ("read", "uncertainty", "note")
COLUMNS = (*PLACE, *VALUES, *BARE, *WORDS)
HEADINGS = Headings(COLUMNS, MEASURED, {"uncertainty": ("percent", "%", "pct")})
AT_PLACE = ("coupling_coefficient", "mutual_inductance", "chip_voltage")
READ = {"yes": True, "no": False, "read": True, "no read": False, "1": True, "0": False}


@dataclass(frozen=True, slots=True)
class Reading:
    """A row of a list: where, and what was measured there.

    Parameters
    ----------
    line : int
        Of the file.
    height : float or None
        Of the tag coil's centre above the plate [m]; None for coils by themselves.
    offset, tilt : float
        [m], [rad].
    values : mapping
        Quantities of `SIGMAS` in SI.
    read : bool or None
        Whether the tag was read; None where the row does not say.
    uncertainty : float or None
        Relative standard uncertainty of all values of the row [1].
    note : str
        As written.
    """

    line: int
    height: float | None = None
    offset: float = 0.0
    tilt: float = 0.0
    values: Mapping[str, float] = field(default_factory=dict)
    read: bool | None = None
    uncertainty: float | None = None
    note: str = ""

    def sigma(self, quantity: str) -> float:
        """Relative standard uncertainty of one of the values [1]."""
        return SIGMAS[quantity] if self.uncertainty is None else self.uncertainty


@dataclass(frozen=True, slots=True)
class MeasuredList:
    """All readings, how many rows held nothing, and headings not known here."""

    readings: tuple[Reading, ...]
    empty_rows: int = 0
    unknown: tuple[str, ...] = ()


def read_measured(path: Path) -> MeasuredList:
    """Read a list of readings.

    Parameters
    ----------
    path : Path
        A CSV file in UTF-8, cells parted by commas, the headings in its first row that holds anything but a remark.
        Rows whose first cell begins with ``#`` are remarks. Columns: ``height``, ``offset``, ``tilt`` (radians or
        degrees), any of the quantities of `SIGMAS`, ``read`` (yes or no), ``uncertainty`` (one standard deviation,
        per cent) and ``note``. Units stand in the heading (``height_mm``) or in each cell.

    Raises
    ------
    StudyFaults
        With every fault of the list and its line.
    """
    file = str(path)
    every = rows_of(path, "a list of readings")
    rows = [(line, cells) for line, cells in every if not cells or cells[0][:1] != "#"]
    filled = [(line, cells) for line, cells in rows if any(cells)]
    if not filled:
        raise StudyFaults([Fault(file, None, "", "holds no row", "a CSV file whose first row names its columns")])
    (heading_line, headings), *body = filled
    columns, wrong = HEADINGS.read(path, heading_line, headings)
    if wrong:
        raise StudyFaults(wrong)
    known = {column.name for column in columns}
    if not known & {*VALUES, *BARE, "read"}:
        allowed = f"at least one of {', '.join((*VALUES, *BARE, 'read'))}"
        given = "no column holds anything measured"
        raise StudyFaults([Fault(file, heading_line, "", given, allowed)])
    if not body:
        raise StudyFaults([Fault(file, heading_line, "", "no reading follows the headings", "a row a reading")])
    if len(body) > MOST_READINGS:
        raise StudyFaults([Fault(file, None, "", f"holds {len(body)} readings", f"at most {MOST_READINGS}")])
    readings: list[Reading] = []
    faults: list[Fault] = []
    for line, cells in body:
        reading, found = _reading(file, line, cells, columns)
        faults += found
        readings += [] if reading is None else [reading]
    if faults:
        raise StudyFaults(few(faults, file))
    unknown = tuple(column.heading for column in columns if not column.name)
    return MeasuredList(tuple(readings), len(rows) - len(filled), unknown)


def _reading(file: str, line: int, cells: list[str], columns: tuple[Column, ...]) -> tuple[Reading | None, list[Fault]]:
    """The reading of one row, or what is wrong with the row."""
    while len(cells) > len(columns) and not cells[-1]:
        cells = cells[:-1]
    if len(cells) != len(columns):
        given = f"{len(cells)} cells where the headings are {len(columns)}"
        return None, [Fault(file, line, "", given, "a cell a heading, empty where nothing was measured")]
    faults: list[Fault] = []
    place: dict[str, float] = {}
    values: dict[str, float] = {}
    read, uncertainty, note = None, None, ""
    for column, cell in zip(columns, cells, strict=True):
        if not cell or not column.name:
            continue
        try:
            if column.name in PLACE:
                place[column.name] = cell_value(column, cell, PLACE[column.name])
            elif column.name in VALUES:
                values[column.name] = cell_value(column, cell, VALUES[column.name])
            elif column.name in BARE:
                values[column.name] = _bare(cell, *BARE[column.name])
            elif column.name == "read":
                read = _read(cell)
            elif column.name == "uncertainty":
                uncertainty = _uncertainty(cell, bool(column.unit))
            else:
                note = cell
        except QuantityError as error:
            faults.append(Fault(file, line, column.name, error.given, error.allowed, error.hint))
    broken = {fault.key for fault in faults}
    if not values and read is None and not broken:
        faults.append(Fault(file, line, "", "nothing was measured here", "at least one value a row, or read yes or no"))
    somewhere = read is not None or any(name in values for name in AT_PLACE)
    if somewhere and "height" not in place and "height" not in broken:
        faults.append(Fault(file, line, "height", "is empty", "the height at which the tag was measured or read"))
    if faults:
        return None, faults
    tilt, offset = place.get("tilt", 0.0), place.get("offset", 0.0)
    return Reading(line, place.get("height"), offset, tilt, values, read, uncertainty, note), []


def _bare(cell: str, low: float, high: float) -> float:
    allowed = f"a bare number of {low:g} to {high:g}"
    try:
        value = bare_number(cell)
    except ValueError:
        raise QuantityError(f'"{shortened(cell)}"', allowed) from None
    if not low <= value <= high:
        raise QuantityError(f'"{shortened(cell)}" is out of bounds', allowed)
    return value


def _read(cell: str) -> bool:
    word = " ".join(cell.lower().split())
    if word not in READ:
        near = get_close_matches(word, READ, 1, 0.7)
        raise QuantityError(f'"{shortened(cell)}"', "yes or no", near[0] if near else "")
    return READ[word]


def _uncertainty(cell: str, in_heading: bool) -> float:
    bare = cell.replace("±", "").replace("+/-", "").strip()
    allowed = 'one standard deviation of 0.01 to 50 %, as in "3 %" or in a column uncertainty_percent'
    if not bare.endswith("%") and not in_heading:
        raise QuantityError(f'"{shortened(cell)}" has no unit', allowed, f'"{bare} %"')
    share = 1e-2 * _bare(bare.removesuffix("%").strip(), -1e9, 1e9)
    if not 1e-4 <= share <= 0.5:
        raise QuantityError(f'"{shortened(cell)}" is out of bounds', allowed)
    return share
