"""Numbers with their unit, as text: ``"30 mm"``, ``"134.2 kHz"``, ``"66 dBuA/m"``.

A short list of spellings per quantity, matched to the letter: a general units library takes ``mHz`` for a
frequency without a word. Inside, everything is SI but temperatures (°C) and decibels.
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import Context, Decimal
from difflib import get_close_matches
from functools import lru_cache
from math import inf, isfinite, log10, pow

_DIGITS = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_BARE, _NUMBER = re.compile(_DIGITS), re.compile(rf"({_DIGITS})\s*(.*)", re.DOTALL)
_FIFTEEN_DIGITS = Context(prec=15)
_ODD_SIGNS = (("μ", "u"), ("Ω", "ohm"), ("°C", "degC"), ("°", "deg"), ("−", "-"), ("·", " "), ("⋅", " "), ("*", " "))
LONGEST_TEXT = 80
LARGEST_COUNT = 10_000
LARGEST_LEVEL = 6000  # dB; beyond it a float ends


class QuantityError(ValueError):
    """A text that is not the quantity wanted: what was given, what is allowed, and what was probably meant."""

    def __init__(self, given: str, allowed: str, hint: str = "") -> None:
        super().__init__(f"{given}; {allowed}" + (f"; did you mean {hint}" if hint else ""))
        self.given, self.allowed, self.hint = given, allowed, hint


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: SI value = (number + ``offset``) · ``factor``, or ``factor`` · 10^(number/20) where ``logarithmic``."""

    factor: Decimal
    offset: Decimal = Decimal(0)
    logarithmic: bool = False

    def in_si(self, number: Decimal) -> float:
        """``number`` of this unit in SI, correctly rounded where the unit is linear; infinite where it is too large."""
        if self.logarithmic:
            return float(self.factor) * pow(10.0, float(number) / 20.0) if number < LARGEST_LEVEL else inf
        return float((number + self.offset) * self.factor)

    def from_si(self, value: float) -> float:
        """How many of this unit ``value`` is."""
        if self.logarithmic:
            return 20.0 * log10(value / float(self.factor))
        return value / float(self.factor) - float(self.offset)


def _units(**factors: str) -> dict[str, Unit]:
    return {spelling: Unit(Decimal(factor)) for spelling, factor in factors.items()}


def _prefixed(unit: str, prefixes: str) -> dict[str, Unit]:
    """``unit`` with each of ``prefixes``; a dot stands for none."""
    powers = {"p": -12, "n": -9, "u": -6, "m": -3, ".": 0, "k": 3, "M": 6}
    return {p.replace(".", "") + unit: Unit(Decimal(1).scaleb(powers[p])) for p in prefixes}


# The first unit of each is the one a designer would type: it is proposed where a unit is missing.
QUANTITIES: dict[str, dict[str, Unit]] = {
    "length": _units(mm="1e-3", cm="1e-2", m="1", um="1e-6", mil="25.4e-6") | {"in": Unit(Decimal("25.4e-3"))},
    "frequency": _prefixed("Hz", "k.M"),
    "temperature": {"degC": Unit(Decimal(1)), "K": Unit(Decimal(1), Decimal("-273.15"))},
    "inductance": _prefixed("H", "umn."),
    "resistance": _prefixed("ohm", ".mkM"),
    "voltage": _prefixed("V", ".umk"),
    "current": _prefixed("A", "m.u"),
    "capacitance": _prefixed("F", "npu."),
    "time": _prefixed("s", "m.u"),
    "angle": {"deg": Unit(Decimal("0.0174532925199432957692369")), **_units(rad="1", mrad="1e-3")},
    "level": _units(dB="1"),
    "power": _prefixed("W", ".mk"),
    "conductivity": _prefixed("S/m", "M.k"),
    "resistivity": _prefixed("ohm m", ".un") | {"uohm cm": Unit(Decimal("1e-8")), "ohm mm2/m": Unit(Decimal("1e-6"))},
    "flux density": _prefixed("T", "um.n"),
    "field": {"dBuA/m": Unit(Decimal("1e-6"), logarithmic=True), **_prefixed("A/m", ".mu")},
    "current density": {"A/mm2": Unit(Decimal("1e6")), "A/m2": Unit(Decimal(1))},
    "sensitivity": _prefixed("V per A/m", "m.u"),
    "energy": _prefixed("J", "umn."),
    "inductance per length": _prefixed("H/m", "un"),
    "capacitance per length": _prefixed("F/m", "pn"),
    "resistance per length": _prefixed("ohm/m", "m."),
    "temperature coefficient": {"1/K": Unit(Decimal(1)), "%/K": Unit(Decimal("1e-2")), "ppm/K": Unit(Decimal("1e-6"))},
}
# Units of the texts we write, largest first.
_WRITTEN = {
    "length": ("mm", "um"), "frequency": ("MHz", "kHz", "Hz"), "temperature": ("degC",),
    "inductance": ("H", "mH", "uH", "nH"),
    "resistance": ("Mohm", "kohm", "ohm", "mohm"), "voltage": ("V", "mV", "uV"), "current": ("A", "mA", "uA"),
    "capacitance": ("uF", "nF", "pF"), "time": ("s", "ms", "us"), "angle": ("deg",), "level": ("dB",),
    "power": ("W", "mW"), "conductivity": ("MS/m", "S/m"), "resistivity": ("ohm m",), "flux density": ("mT", "uT"),
    "field": ("A/m", "mA/m", "uA/m"), "current density": ("A/mm2",), "sensitivity": ("V per A/m", "mV per A/m"),
    "temperature coefficient": ("%/K", "ppm/K"), "energy": ("J", "mJ", "uJ", "nJ"),
    "inductance per length": ("uH/m", "nH/m"), "capacitance per length": ("nF/m", "pF/m"),
    "resistance per length": ("ohm/m", "mohm/m"),
}  # fmt: skip


def named(quantity: str) -> str:
    """The quantity's name with its article."""
    return f"{'an' if quantity[0] in 'aeiou' else 'a'} {quantity}"


def allowed_units(quantity: str) -> str:
    """The units of a quantity, as a clause."""
    *first, last = QUANTITIES[quantity]
    return f"{', '.join(first)} or {last}" if first else last


def quantity_text(value: float, quantity: str) -> str:
    """``value`` (SI) with a fitting unit, to six digits; :func:`read_quantity` takes it back."""
    units = _WRITTEN[quantity]
    fitting = [unit for unit in units if abs(value) >= float(QUANTITIES[quantity][unit].factor) * 0.9999999]
    best = fitting[0] if fitting else units[-1]
    if value == 0.0 or (quantity == "length" and abs(value) >= 1e-5):
        best = units[0]
    return f"{QUANTITIES[quantity][best].from_si(value):.6g} {best}"


def read_quantity(given: object, quantity: str) -> float:
    """Read a number with its unit.

    Parameters
    ----------
    given : object
        What the study file holds; only text with a unit will do.
    quantity : str
        One of ``QUANTITIES``.

    Returns
    -------
    float
        Value in SI; [°C] for a temperature, [dB] for a level.

    Raises
    ------
    QuantityError
        No unit, a unit of another quantity or in the wrong case, or no finite number.
    """
    number, unit = split_quantity(given, quantity)
    if unit not in QUANTITIES[quantity]:
        raise _wrong_unit(str(given), number, unit, quantity)
    value = QUANTITIES[quantity][unit].in_si(number)
    if not isfinite(value):
        raise QuantityError(f'"{shortened(given)}" is not a finite number', _wanted(quantity))
    return value


def split_quantity(given: object, quantity: str) -> tuple[Decimal, str]:
    """The number and the unit (in our spelling) of a text; raises as :func:`read_quantity` does."""
    if isinstance(given, (int, float)) and not isinstance(given, bool):
        text = f"{given:g}" if abs(given) < 1e300 else "a huge number"
        if isinstance(given, float) and not isfinite(given):
            raise QuantityError(f"{given} is not a finite number", _wanted(quantity))
        raise QuantityError(f"{text} has no unit", _wanted(quantity), f'"{text} {next(iter(QUANTITIES[quantity]))}"')
    if not isinstance(given, str):
        raise QuantityError(f"{kind_of(given)} where a text with a unit belongs", _wanted(quantity))
    return _split_text(given, quantity)


@lru_cache(maxsize=4096)
def _split_text(given: str, quantity: str) -> tuple[Decimal, str]:
    """A sweep reads the same texts for each of its designs: hence the cache."""
    match = _NUMBER.fullmatch(_plain(given)) if len(given) <= LONGEST_TEXT else None
    if match is None:
        raise QuantityError(f'"{shortened(given)}" is not a finite number with a unit', _wanted(quantity))
    number, unit = Decimal(match[1]), match[2]
    if not unit:
        hint = f'"{match[1]} {next(iter(QUANTITIES[quantity]))}"'
        raise QuantityError(f'"{given}" has no unit', _wanted(quantity), hint)
    if not isfinite(float(number)):
        raise QuantityError(f'"{given}" is not a finite number', _wanted(quantity))
    return number, unit


def _plain(text: str) -> str:
    """One spelling of many: µ and μ as u, Ω as ohm, °C as degC, raised 2 as 2, a true minus as -, a dot as a space."""
    text = "".join(map(_plain_sign, " " + text, text))
    for odd, ours in _ODD_SIGNS:
        text = text.replace(odd, ours)
    return " ".join(text.split())


def _plain_sign(before: str, sign: str) -> str:
    """One sign as its plain spelling; a raised, lowered or circled digit stays itself but behind an m, as in mm²."""
    plain = unicodedata.normalize("NFKC", sign)
    odd = (
        plain != sign
        and any(one.isdigit() for one in plain)
        and not unicodedata.decomposition(sign).startswith("<wide")
    )
    return sign if odd and before != "m" else plain


def bare_number(text: str) -> float:
    """A number as a list or an option holds it: digits 0 to 9, a point, an exponent.

    Raises
    ------
    ValueError
        For anything else, what Python would take besides included: 1_000, nan, digits of other scripts.
    """
    if _BARE.fullmatch(text.strip()) is None:
        raise ValueError(f'"{shortened(text)}" is no plain number')
    return float(text)


def _wanted(quantity: str) -> str:
    return f"{named(quantity)} in {allowed_units(quantity)}"


def _wrong_unit(given: str, number: Decimal, unit: str, quantity: str) -> QuantityError:
    others = [name for name, units in QUANTITIES.items() if unit in units]
    if re.match(r",[0-9]", unit):
        return QuantityError(f'"{given}" has a decimal comma', "a decimal point", f'"{given.replace(",", ".", 1)}"')
    clause = f'"{given}" is {named(others[0])}' if others else f'"{unit}" in "{given}" is no unit known here'
    spellings = list(QUANTITIES[quantity])
    near = [s for s in spellings if s.lower() == unit.lower()] or get_close_matches(unit, spellings, 1, 0.5)
    hint = " or ".join(f'"{number} {s}"' for s in near) if not others else ""
    return QuantityError(clause, _wanted(quantity), hint)


def shortened(given: object) -> str:
    """``given`` as text, cut to a length that a line can hold."""
    text = str(given) if not isinstance(given, int) or abs(given) < 10**30 else "a huge number"
    return text if len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - 3] + "..."


def kind_of(given: object) -> str:
    """What sort of value a study file holds, in words."""
    words = {bool: "true or false", int: "a number", float: "a number", str: "a text", list: "a list", dict: "a table"}
    return words.get(type(given), "a date or time")


def spread_range(given: dict[str, object]) -> list[object]:
    """The values of a range ``{ from, to, count }``, evenly spaced, both ends included.

    Numbers give numbers (whole ones where they are whole), texts with a unit give texts in the unit of ``from``.

    Raises
    ------
    QuantityError
        Keys missing or unknown, ends that do not belong together, or a count out of bounds.
    """
    count = given.get("count")
    shape = f"a range {{ from, to, count }} with different ends and a whole count of 2 to {LARGEST_COUNT}"
    if set(given) != {"from", "to", "count"}:
        unknown = [key for key in given if key not in ("from", "to", "count")]
        missing = [key for key in ("from", "to", "count") if key not in given]
        raise QuantityError(f"a range {f'with {shortened(unknown[0])}' if unknown else f'without {missing[0]}'}", shape)
    if isinstance(count, bool) or not isinstance(count, int) or not 2 <= count <= LARGEST_COUNT:
        raise QuantityError(f"count is {shortened(count)}", shape)
    first, last, unit = range_ends(given["from"], given["to"], shape)
    if first == last:
        raise QuantityError("a range whose ends are the same", shape)
    steps = [_FIFTEEN_DIGITS.plus(first + (last - first) * i / (count - 1)) for i in range(count)]
    if unit is not None:
        return [f"{decimal_text(step)} {unit}" for step in steps]
    return [int(step) if step == step.to_integral_value() else float(step) for step in steps]


def decimal_text(number: Decimal) -> str:
    """A number as people write it, with an exponent only where the digits would run on and on."""
    number = number.normalize()
    return f"{number:f}" if -15 < number.adjusted() < 15 else str(number)


def range_ends(first: object, last: object, shape: str) -> tuple[Decimal, Decimal, str | None]:
    """Both ends of a range as numbers of one unit; the unit is None for bare numbers."""
    numbers = [end for end in (first, last) if isinstance(end, (int, float)) and not isinstance(end, bool)]
    if len(numbers) == 2:
        if not all(abs(end) < 1e30 for end in numbers):
            raise QuantityError("a range whose ends are not finite numbers", shape)
        return Decimal(repr(first)), Decimal(repr(last)), None
    quantity = quantity_of(first) or quantity_of(last)
    if quantity is None:
        raise QuantityError(f"a range from {shortened(first)} to {shortened(last)}", shape)
    (number, unit), (other, other_unit) = split_quantity(first, quantity), split_quantity(last, quantity)
    read_quantity(first, quantity), read_quantity(last, quantity)
    if unit == other_unit:
        return number, other, unit
    ours, theirs = QUANTITIES[quantity][unit], QUANTITIES[quantity][other_unit]
    if ours.logarithmic or theirs.logarithmic:
        raise QuantityError(f"a range from {unit} to {other_unit}", "both ends in the same unit")
    return number, (other + theirs.offset) * theirs.factor / ours.factor - ours.offset, unit


def quantity_of(given: object) -> str | None:
    """Which quantity a text with a unit is; None where it is none."""
    match = _NUMBER.fullmatch(_plain(given)) if isinstance(given, str) and len(given) <= LONGEST_TEXT else None
    if match is None:
        return None
    return next((name for name, units in QUANTITIES.items() if match[2] in units), None)
