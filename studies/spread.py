"""``[spread]``: by how much built units differ from their design, as a distribution for each key."""

from dataclasses import dataclass, replace
from decimal import Context, Decimal
from typing import Literal, get_args

import numpy as np

from fem.arrays import Array
from studies.faults import Finding, KeyPath
from studies.keypaths import Raw, resolved, split_key_path, value_at
from studies.quantities import QuantityError, bare_number, decimal_text, kind_of, quantity_of, read_quantity, shortened
from studies.quantities import split_quantity as split
from studies.sweep import Axis

TABLE = "spread"
LARGEST_SPREADS = 30
Shape = Literal["normal", "uniform"]
SHAPES: tuple[Shape, ...] = get_args(Shape)

CUT = 3.0
"""Standard deviations at which a normal distribution is cut: what lies beyond does not pass incoming inspection."""

PLACES: dict[str, str] = {"places.height": "length", "places.offset": "length", "places.tilt": "angle"}
"""Keys that shift every required place, and what they are."""

CAPACITORS = ("base_coil.capacitor", "tag.capacitor")
"""Keys that spread a capacitor as fitted, relative to its own value."""

_ALLOWED = (
    '{ normal = "0.2 mm" } (standard deviation, cut at three), { uniform = "0.2 mm" } (half width), or a share as "2 %"'
)
_SIX_DIGITS = Context(prec=6)


@dataclass(frozen=True, slots=True)
class Spread:
    """The distribution of one key about its design value.

    Parameters
    ----------
    key : str
        As the file spells it.
    path : tuple
        Where its values go; empty for places and capacitors.
    shape : str
        ``normal``, cut at three standard deviations, or ``uniform``.
    width : float
        Standard deviation, or half width: a share of the design's value where ``relative``, else in ``unit``.
    relative : bool
        Whether the width is a share.
    unit : str
        Of an absolute width, and of values drawn; empty for bare numbers.
    given : str
        The width as typed.
    place : tuple
        Where it stands in the file.
    """

    key: str
    path: KeyPath
    shape: Shape
    width: float
    relative: bool
    unit: str
    given: str
    place: KeyPath = ()

    @property
    def text(self) -> str:
        """In words."""
        how = "standard deviation" if self.shape == "normal" else "at most"
        return f"{self.key} ± {self.given} ({how})"

    @property
    def reach(self) -> float:
        """The most that is added, in ``unit`` or as a share."""
        return self.width if self.shape == "uniform" else CUT * self.width

    def deviations(self, draws: Array) -> Array:
        """What is added, in ``unit`` or as a share, for evenly distributed ``draws`` in 0 to 1, shape (n,)."""
        if self.shape == "uniform":
            return np.asarray(self.width * (2.0 * draws - 1.0))
        from scipy.stats import truncnorm

        return np.asarray(self.width * truncnorm.ppf(draws, -CUT, CUT))

    def values(self, design: object, draws: Array) -> list[object]:
        """Values of units as a study file gives them, to six digits, about the ``design``'s own."""
        return self.values_off(design, self.deviations(draws))

    def values_off(self, design: object, deviations: Array) -> list[object]:
        """The same for values that are off by given ``deviations``, in ``unit`` or as a share."""
        number, unit = value_of(design)
        added = deviations * (abs(float(number)) if self.relative else 1.0)
        numbers = [_SIX_DIGITS.create_decimal_from_float(float(number) + float(one)) for one in added]
        if not unit:
            return [float(one) for one in numbers]
        return [f"{decimal_text(one)} {unit}" for one in numbers]

    def shifted(self, design: object, draws: Array, quantity: str, signed: bool) -> list[object]:
        """A place's values with what is drawn added; without a sign where ``signed`` is not asked for."""
        return self.shifted_off(design, self.deviations(draws), quantity, signed)

    def shifted_off(self, design: object, deviations: Array, quantity: str, signed: bool) -> list[object]:
        """The same for values that are off by given ``deviations``."""
        own = read_quantity(design, quantity)
        size = _unit_size(self.given, quantity) * deviations
        moved = own + size if signed else np.abs(own + size)
        unit = "m" if quantity == "length" else "rad"
        return [f"{decimal_text(_SIX_DIGITS.create_decimal_from_float(float(one)))} {unit}" for one in moved]


def value_of(design: object) -> tuple[Decimal, str]:
    """Number and unit of a value as a file gives it.

    Raises
    ------
    QuantityError
        Where it is none.
    """
    if isinstance(design, int | float) and not isinstance(design, bool):
        return Decimal(repr(design)), ""
    quantity = quantity_of(design)
    if quantity is None:
        raise QuantityError(f"{shortened(design)}, which is no number", "a number, with its unit where it has one")
    return split(design, quantity)


def read_spread(table: object, raw: Raw, axes: tuple[Axis, ...]) -> tuple[tuple[Spread, ...], tuple[Finding, ...]]:
    """The spreads of a file; none where it has none.

    Parameters
    ----------
    table : object
        As read; None where the file has none.
    raw : dict
        Tables of the base design.
    axes : tuple of Axis
        What is swept: a key may be both; its spread is then about each candidate's own value.
    """
    if table is None:
        return (), ()
    if not isinstance(table, dict):
        return (), (Finding((TABLE,), f"{kind_of(table)} where a table belongs", "keys with their distributions"),)
    spreads: list[Spread] = []
    findings: list[Finding] = []
    entries = list(_entries(table))
    if len(entries) > LARGEST_SPREADS:
        return (), (Finding((TABLE,), f"{len(entries)} keys", f"at most {LARGEST_SPREADS}"),)
    swept = {axis.path: axis for axis in axes}
    for place, given in entries:
        key = ".".join(str(part) for part in place[1:])
        try:
            spreads.append(replace(_spread(key, given, raw, swept), place=place))
        except QuantityError as error:
            findings.append(Finding(place, error.given, error.allowed, error.hint))
    return tuple(spreads), tuple(findings)


def _entries(table: Raw) -> list[tuple[KeyPath, object]]:
    """Keys with what they are given; a dotted key without quotation marks makes tables within the table."""
    found: list[tuple[KeyPath, object]] = []

    def walk(node: Raw, place: KeyPath) -> None:
        for key, value in node.items():
            if isinstance(value, dict) and value and not set(SHAPES) & set(value):
                walk(value, (*place, key))
            else:
                found.append(((*place, key), value))

    walk(table, (TABLE,))
    return found


def _spread(key: str, given: object, raw: Raw, swept: dict[KeyPath, Axis]) -> Spread:
    if not isinstance(given, dict) or len(given) != 1 or next(iter(given)) not in SHAPES:
        raise QuantityError(f"{kind_of(given)}, no distribution", _ALLOWED)
    shape, width = next((name, given[name]) for name in SHAPES if name in given)
    share = _share(width)
    if key in CAPACITORS:
        if share is None:
            raise QuantityError(
                f"{shortened(width)}", 'a share of the capacitor\'s own value, as in { uniform = "2 %" }'
            )
        return Spread(key, (), shape, share, True, "", str(width))
    if key in PLACES:
        if share is not None:
            raise QuantityError(
                f"{shortened(width)}", f"a {PLACES[key]} with its unit: places have no size of their own"
            )
        number, unit = split(width, PLACES[key])
        return _checked(Spread(key, (), shape, float(number), False, unit, str(width)))
    path = resolved(raw, split_key_path(key))
    design = value_at(raw, path)
    if design is None and path in swept:
        design = swept[path].given[0]
    if design is None:
        raise QuantityError("spreads a key to which the file gives no value", "a key that the file gives a value")
    own_unit = value_of(design)[1]
    if share is not None and quantity_of(design) == "temperature":
        raise QuantityError(shortened(width), 'a difference of temperatures, as "5 degC"')
    if share is not None:
        return _checked(Spread(key, path, shape, share, True, own_unit, str(width)))
    return _checked(Spread(key, path, shape, _in_unit(width, own_unit, design), False, own_unit, str(width)))


def _share(width: object) -> float | None:
    """A width in per cent as a share; None where it is something else."""
    text = width.strip() if isinstance(width, str) else ""
    if not text.endswith("%"):
        return None
    try:
        share = bare_number(text[:-1]) / 100.0
    except ValueError:
        raise QuantityError(shortened(width), _ALLOWED) from None
    if not 0.0 < share < 1.0:
        raise QuantityError(shortened(width), "more than 0 % and less than 100 %")
    return share


def _in_unit(width: object, unit: str, design: object) -> float:
    """An absolute width in the unit of the design's value."""
    if not unit:
        if isinstance(width, bool) or not isinstance(width, int | float):
            raise QuantityError(shortened(width), f"a bare number, as {shortened(design)} is, or a share in %")
        return float(width)
    quantity = quantity_of(design)
    assert quantity is not None, "a value with a unit has a quantity"
    one = read_quantity(f"1 {unit}", quantity) - read_quantity(f"0 {unit}", quantity)
    return float(split(width, quantity)[0]) * _unit_size(width, quantity) / one


def _unit_size(width: object, quantity: str) -> float:
    _, unit = split(width, quantity)
    return read_quantity(f"1 {unit}", quantity) - read_quantity(f"0 {unit}", quantity)


def _checked(spread: Spread) -> Spread:
    if not spread.width > 0.0 or not np.isfinite(spread.width):
        raise QuantityError(spread.given, "a width above zero")
    return spread
