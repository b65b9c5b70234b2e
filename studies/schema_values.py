"""What a single value of a study file may be: pydantic markers that read it and say what is allowed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import pairwise
from math import hypot, isfinite
from typing import Any

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from studies.quantities import (
    QuantityError,
    allowed_units,
    kind_of,
    named,
    quantity_text,
    read_quantity,
    shortened,
    spread_range,
)

FAULT_TYPE = "study_fault"
LONGEST_CURVE = 100


def refusal(given: str, allowed: str, hint: str = "") -> PydanticCustomError:
    """The exception by which a marker tells pydantic what is wrong."""
    return PydanticCustomError(FAULT_TYPE, "{given}", {"given": given, "allowed": allowed, "hint": hint})


def plain(read: Callable[[Any], Any]) -> CoreSchema:
    """The schema of a value that ``read`` reads whole; what it says is wrong becomes a fault."""

    def guarded(given: Any) -> Any:
        try:
            return read(given)
        except QuantityError as error:
            raise refusal(error.given, error.allowed, error.hint) from None

    return core_schema.no_info_plain_validator_function(guarded)


@dataclass(frozen=True, slots=True)
class Measured:
    """A quantity with its unit, in SI once read; ``low`` to ``high`` (SI) are allowed, ``reason`` says why."""

    quantity: str
    low: float
    high: float
    reason: str = ""

    @property
    def allowed(self) -> str:
        low, high = quantity_text(self.low, self.quantity), quantity_text(self.high, self.quantity)
        reason = f" ({self.reason})" if self.reason else ""
        return f"{named(self.quantity)} of {low} to {high}{reason}, in {allowed_units(self.quantity)}"

    def read(self, given: Any) -> float:
        value = read_quantity(given, self.quantity)
        if not self.low <= value <= self.high:
            clause = "is negative" if value < 0.0 <= self.low else "is zero" if value == 0.0 else "is out of bounds"
            raise QuantityError(f'"{given}" {clause}', self.allowed)
        return value

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain(self.read)


@dataclass(frozen=True, slots=True)
class Number:
    """A bare number of ``low`` to ``high``; a whole one where ``whole``."""

    what: str
    low: float
    high: float
    whole: bool = False

    @property
    def allowed(self) -> str:
        if self.whole:
            return f"a whole number ({self.what}) of {self.low:.0f} to {self.high:.0f}"
        return f"a number ({self.what}) of {self.low:g} to {self.high:.7g}"

    def read(self, given: Any) -> float:
        right = isinstance(given, int) if self.whole else isinstance(given, (int, float))
        if isinstance(given, float) and not isfinite(given):
            raise QuantityError(f"{given} is not a finite number", self.allowed)
        if isinstance(given, bool) or not right:
            text = f'"{shortened(given)}"' if isinstance(given, str) else shortened(given)
            kind = "not a whole number" if isinstance(given, float) else kind_of(given)
            raise QuantityError(f"{text} is {kind}", self.allowed)
        if not self.low <= given <= self.high:
            raise QuantityError(f"{shortened(given)} is out of bounds", self.allowed)
        return int(given) if self.whole else float(given)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain(self.read)


@dataclass(frozen=True, slots=True)
class Word:
    """One of a few words."""

    words: Sequence[str]

    @property
    def allowed(self) -> str:
        return f"one of {', '.join(self.words)}"

    def read(self, given: Any) -> str:
        if not isinstance(given, str):
            raise QuantityError(f"{kind_of(given)} where a word belongs", self.allowed)
        if given not in self.words:
            near = get_close_matches(given.lower(), self.words, 1, 0.5)
            raise QuantityError(f'"{shortened(given)}" is not known here', self.allowed, f'"{near[0]}"' if near else "")
        return given

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain(self.read)


@dataclass(frozen=True, slots=True)
class Name:
    """A name: letters, digits, - and _; blanks between them too where ``blanks``, but never a bare number."""

    blanks: bool = True

    @property
    def allowed(self) -> str:
        blanks = ", blanks between them, not a number alone" if self.blanks else ""
        return f"a name of 1 to 60 letters, digits, - and _{blanks}, that begins with a letter, a digit or _"

    def read(self, given: Any) -> str:
        if not isinstance(given, str):
            raise QuantityError(f"{kind_of(given)} where a name belongs", self.allowed)
        letters = given.replace("-", "_").replace(" ", "_") if self.blanks else given.replace("-", "_")
        # isidentifier is Python's "letters, digits and _": it takes other alphabets and no control characters.
        good = f"_{letters}".isidentifier() and 1 <= len(given) <= 60 and given[0] not in "- " and given[-1] != " "
        if not good or (self.blanks and given.isdigit()) or not (self.blanks or given.isascii()):
            raise QuantityError(f'"{shortened(given)}" is no name', self.allowed)
        return given

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain(self.read)


@dataclass(frozen=True, slots=True)
class Text:
    """A text that one of our tables must know; ``check`` raises QuantityError where it does not."""

    allowed: str
    check: Callable[[str], None]

    def read(self, given: Any) -> str:
        if not isinstance(given, str):
            raise QuantityError(f"{kind_of(given)} where a text belongs", self.allowed)
        self.check(given)
        return given

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain(self.read)


@dataclass(frozen=True, slots=True)
class TextOrTable:
    """A text that a table of ours knows, or a table with the particulars themselves."""

    text: Text

    @property
    def allowed(self) -> str:
        return self.text.allowed

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        table = next(kind for kind in source.__args__ if kind is not str)

        def read(given: Any, inner: Callable[[Any], Any]) -> Any:
            if isinstance(given, dict):
                return inner(given)
            try:
                return self.text.read(given)
            except QuantityError as error:
                raise refusal(error.given, error.allowed, error.hint) from None

        return core_schema.no_info_wrap_validator_function(read, handler(table))


@dataclass(frozen=True, slots=True)
class TemperatureCurve:
    """Pairs of a temperature (read by ``temperature``) and a factor (read by ``factor``), the temperatures rising."""

    temperature: Measured
    factor: Number

    @property
    def allowed(self) -> str:
        return 'pairs [temperature, factor], temperatures rising, as in [["20 degC", 1.0], ["100 degC", 1.3]]'

    def read(self, given: Any) -> tuple[tuple[float, float], ...]:
        if not isinstance(given, list):
            raise QuantityError(f"{kind_of(given)} where a list belongs", self.allowed)
        if not 1 <= len(given) <= LONGEST_CURVE:
            raise QuantityError(f"a list of {len(given)} pairs", f"1 to {LONGEST_CURVE} {self.allowed}")
        pairs = tuple(self._pair(i, entry) for i, entry in enumerate(given))
        for i, (before, after) in enumerate(pairwise(pairs), 1):
            if after[0] <= before[0]:
                raise QuantityError(f"pair {i}: its temperature is not above that of the pair before", self.allowed)
        return pairs

    def _pair(self, i: int, given: Any) -> tuple[float, float]:
        if not isinstance(given, list) or len(given) != 2:
            what = f"{len(given)} values" if isinstance(given, list) else kind_of(given)
            raise QuantityError(f"pair {i}: {what} where a pair belongs", self.allowed)
        try:
            return self.temperature.read(given[0]), self.factor.read(given[1])
        except QuantityError as error:
            raise QuantityError(f"pair {i}: {error.given}", error.allowed, error.hint) from None

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain(self.read)


def spread(given: Any) -> Any:
    """A single value, a list or a range as a list; for a ``BeforeValidator``."""
    if isinstance(given, dict):
        try:
            return spread_range(given)
        except QuantityError as error:
            raise refusal(error.given, error.allowed, error.hint) from None
    return given if isinstance(given, list) else [given]


def few(largest: int, what: str) -> Callable[[Any], Any]:
    """Refuses a list of more than ``largest`` entries before they are read; for a ``BeforeValidator``."""

    def checked(given: Any) -> Any:
        if isinstance(given, list) and len(given) > largest:
            raise refusal(f"a list of {len(given)} {what}", f"at most {largest}")
        return given

    return checked


def some(values: list[float]) -> list[float]:
    """Refuse an empty list; for an ``AfterValidator``."""
    if not values:
        raise refusal("an empty list", "one value or more")
    return values


def rising(values: list[float]) -> list[float]:
    """Refuse values that do not rise; for an ``AfterValidator``."""
    if not values:
        raise refusal("an empty list", "one value, a list of values or a range { from, to, count }")
    if any(later <= earlier for earlier, later in pairwise(values)):
        raise refusal("values that do not rise", "each value above the one before")
    return values


def three_lengths(triple: list[float]) -> list[float]:
    """Refuse what is not [x, y, z]; for an ``AfterValidator``."""
    if len(triple) != 3:
        raise refusal(f"a list of {len(triple)} lengths", "three lengths [x, y, z]")
    return triple


def unit_vector(given: list[float]) -> list[float]:
    """A vector [x, y, z] as one of length 1; refuse what is none; for an ``AfterValidator``."""
    allowed = "three numbers [x, y, z], not all of them 0, as in [0, 0, 1]"
    if len(given) != 3:
        raise refusal(f"a list of {len(given)} numbers", allowed)
    length = hypot(*given)
    if length == 0.0:
        raise refusal("a vector of no length", allowed)
    return [component / length for component in given]


def two_lengths(corner: list[float]) -> list[float]:
    """Refuse a corner that is not [r, z]; for an ``AfterValidator``."""
    if len(corner) != 2:
        raise refusal(f"a corner of {len(corner)} lengths", "a corner [r, z] of two lengths")
    return corner
