"""Swept keys and their values as people read them, in the units of the study file."""

from dataclasses import dataclass, field

from studies.keypaths import label
from studies.quantities import quantity_of, split_quantity
from studies.stored import StoredDesign
from studies.study import Study

_LEFT_OUT = ("base_coil.", "layers.", "solids.")
_SIGNS = {"degC": "°C", "degF": "°F", "deg": "°"}


@dataclass(frozen=True, slots=True)
class SweptAxis:
    """One swept key.

    Parameters
    ----------
    key : str
        Key path, and name of its column.
    name : str
        The same for people: ``mean diameter``.
    unit : str
        Unit of ``numbers``; empty for a bare number or a word.
    texts : tuple of str
        Each value with its unit.
    numbers : tuple of float or None
        The values in ``unit``; None where they are words or come in several units.
    values : tuple
        The values as rows hold them, in SI.
    """

    key: str
    name: str
    unit: str
    texts: tuple[str, ...]
    numbers: tuple[float, ...] | None
    values: tuple[float | int | str, ...]
    _places: dict[float | int | str, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_places", {value: place for place, value in enumerate(self.values)})

    @property
    def title(self) -> str:
        """Name with its unit, as on an axis or a column."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name

    def place(self, stored: StoredDesign) -> int:
        """Which of the values a candidate has."""
        value = stored.row[self.key]
        assert isinstance(value, float | int | str), "a swept key has a value in every row"
        return self._places[value]

    def text(self, stored: StoredDesign) -> str:
        """A candidate's value with its unit."""
        return self.texts[self.place(stored)]


def swept_axes(study: Study) -> tuple[SweptAxis, ...]:
    """The swept keys of a study, in its order."""
    found = []
    for axis in study.swept_axes:
        distinct = dict(zip(axis.values, axis.given, strict=True))  # a sampled list gives one value to many candidates
        numbers, unit = _numbers(tuple(distinct.values()))
        texts = tuple(_value_text(given) for given in distinct.values())
        found.append(SweptAxis(axis.key, _name(label(study.raw, axis.path)), unit, texts, numbers, tuple(distinct)))
    return tuple(found)


def phrase(axes: tuple[SweptAxis, ...], stored: StoredDesign) -> str:
    """A candidate's swept values in one line: ``mean diameter 54 mm, 64 turns, under heater``."""
    return ", ".join(_clause(axis, axis.text(stored)) for axis in axes)


def _clause(axis: SweptAxis, text: str) -> str:
    return f"{text} turns" if axis.name == "turns" else f"{axis.name} {text}"


def _name(path: str) -> str:
    for start in _LEFT_OUT:
        path = path.removeprefix(start)
    return path.replace(".", " ").replace("_", " ")


def _value_text(given: object) -> str:
    parts = _split(given)
    if parts is None:
        return f"{given:.6g}" if isinstance(given, float) else str(given)
    return f"{parts[0]:.6g} {parts[1]}"


def _split(given: object) -> tuple[float, str] | None:
    """Number and unit of a text such as ``"30 mm"``."""
    quantity = quantity_of(given)
    if quantity is None:
        return None
    number, unit = split_quantity(given, quantity)
    return float(number), _sign(unit)


def _sign(unit: str) -> str:
    """A unit of the study file as it is printed: ``µH`` for ``uH``."""
    unit = _SIGNS.get(unit, unit).replace("ohm", "Ω")
    return f"µ{unit[1:]}" if unit.startswith("u") else unit


def _numbers(given: tuple[object, ...]) -> tuple[tuple[float, ...] | None, str]:
    if all(isinstance(value, int | float) for value in given):
        return tuple(float(value) for value in given if isinstance(value, int | float)), ""
    parts = [_split(value) for value in given]
    units = {part[1] for part in parts if part is not None}
    if None in parts or len(units) != 1:
        return None, ""
    return tuple(part[0] for part in parts if part is not None), units.pop()
