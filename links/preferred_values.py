"""Capacitors as they are sold: preferred values, and the part, pair or switched bank that comes nearest to a wish.

References
----------
IEC 60063, Preferred number series for resistors and capacitors (the two-digit table from memory). Its three-digit
series are the geometric series 10^(i/192) rounded to three digits, with 9.20 where rounding gives 9.19.
"""

from dataclasses import dataclass
from math import floor, isfinite, log10
from typing import Literal, get_args

import numpy as np

from links.errors import LinkError, require_positive
from links.quantities import RealArray

Series = Literal["E3", "E6", "E12", "E24", "E48", "E96", "E192"]

# E12, E6 and E3 leave out every second of the larger series. Eight of these are not the rounded 10^(i/24): 2.7 to 4.7
# and 8.2.
_E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
_E192 = tuple(920 if i == 185 else round(100.0 * 10.0 ** (i / 192.0)) for i in range(192))

# Common practice, no source: below, the leads' and the board's own capacitance is no longer small against the part's.
SMALLEST_PART = 10e-12
# Common practice, no source: larger capacitors are electrolytic, of no use in a tuned circuit.
GREATEST_PART = 10e-6
# A bank of more switched parts than this is no longer tried subset by subset.
MOST_SWITCHED = 16
# Two candidates whose relative errors differ by less are equally near: what differs is rounding.
_EQUALLY_NEAR = 1e-12


@dataclass(frozen=True, slots=True)
class PartsOffered:
    """Which parts may be chosen from.

    Parameters
    ----------
    series : {"E3", "E6", "E12", "E24", "E48", "E96", "E192"}
        Of IEC 60063.
    least, greatest : float
        Smallest and largest part [F].

    Raises
    ------
    LinkError
        For another series, for a range that holds no preferred value.
    """

    series: Series = "E12"
    least: float = SMALLEST_PART
    greatest: float = GREATEST_PART

    def __post_init__(self) -> None:
        if not preferred_values(self.series, self.least, self.greatest):
            raise LinkError(
                "parts offered", f"{self.least:.4g} F to {self.greatest:.4g} F given; {self.series} has no value there"
            )

    @property
    def values(self) -> RealArray:
        """Every part, ascending [F]."""
        return np.array(preferred_values(self.series, self.least, self.greatest))


@dataclass(frozen=True, slots=True)
class PartsChoice:
    """Parts in parallel for a wanted capacitance.

    Parameters
    ----------
    wanted : float
        [F].
    parts : tuple of float
        Nominal values, the largest first [F].
    """

    wanted: float
    parts: tuple[float, ...]

    @property
    def capacitance(self) -> float:
        """Of all parts together [F]."""
        return sum(self.parts)

    @property
    def relative_error(self) -> float:
        """How far the parts lie from what is wanted, positive for too much [1]."""
        return self.capacitance / self.wanted - 1.0


def series_digits(series: Series) -> tuple[int, ...]:
    """The series' values over one decade, as numbers of two digits (E3 to E24) or three (E48 to E192).

    Raises
    ------
    LinkError
        For another series.
    """
    if series not in get_args(Series):
        raise LinkError("series", f"{series!r} given; one of {', '.join(get_args(Series))} is allowed")
    table = _E24 if int(series[1:]) <= len(_E24) else _E192
    return table[:: len(table) // int(series[1:])]


def preferred_values(series: Series, least: float, greatest: float) -> tuple[float, ...]:
    """All values of a series from ``least`` to ``greatest``, both included, ascending.

    Parameters
    ----------
    series : {"E3", "E6", "E12", "E24", "E48", "E96", "E192"}
        Of IEC 60063.
    least, greatest : float
        [F], or any other unit.

    Raises
    ------
    LinkError
        For another series; for bounds not above 0, not finite, or the wrong way round.
    """
    digits = series_digits(series)
    _require_positive_and_finite("smallest part", least)
    _require_positive_and_finite("largest part", greatest)
    if least > greatest:
        raise LinkError("smallest part", f"{least:.4g} given; it must not exceed the largest, {greatest:.4g}")
    places = 1 if digits[0] == 10 else 2
    decades = range(floor(log10(least)) - 1, floor(log10(greatest)) + 2)
    # Through the decimal text, so that 47 in the decade 1e-9 is the very float that 4.7e-9 is.
    values = (float(f"{number}e{decade - places}") for decade in decades for number in digits)
    slack = 1.0 + _EQUALLY_NEAR
    return tuple(value for value in values if least / slack <= value <= greatest * slack)


def nearest_part(wanted: float, offered: PartsOffered) -> PartsChoice:
    """The one part nearest to ``wanted`` [F]; of two equally near, the smaller.

    Raises
    ------
    LinkError
        Where ``wanted`` is not above 0 and finite, or lies outside the parts offered.
    """
    values = offered.values
    _require_within("capacitance of one part", wanted, float(values[0]), float(values[-1]))
    return PartsChoice(wanted, (float(values[_first_nearest(values, wanted)]),))


def best_pair(wanted: float, offered: PartsOffered, smallest_share: float = 1e-3) -> PartsChoice:
    """The two parts in parallel nearest to ``wanted``; of pairs equally near, the one with the largest larger part.

    Parameters
    ----------
    wanted : float
        [F].
    offered : PartsOffered
        Where both parts come from.
    smallest_share : float
        The smaller part is at least this share of ``wanted`` [1].

    Raises
    ------
    LinkError
        Where ``wanted`` is not above 0 and finite, or lies outside what two parts reach.
    """
    values = offered.values
    _require_within("capacitance of two parts", wanted, 2.0 * float(values[0]), 2.0 * float(values[-1]))
    smaller = values[values >= smallest_share * wanted]
    if not 0.0 <= smallest_share <= 0.5 or not smaller.size:
        raise LinkError(
            "share of the smaller part", f"{smallest_share:.4g} given; from 0 to 0.5 with a part that large is allowed"
        )
    # For each smaller part the two larger ones about the rest; the best pair is among them. Ascending smaller part, so
    # descending larger one where the sums are equal.
    place = np.searchsorted(values, wanted - smaller)
    pairs = [
        (float(values[i]), float(part))
        for part, above in zip(smaller, place, strict=True)
        for i in (min(above, values.size - 1), max(above - 1, 0))
        if values[i] >= part
    ]
    sums = np.array([larger + part for larger, part in pairs])
    return PartsChoice(wanted, pairs[_first_nearest(sums, wanted)])


@dataclass(frozen=True, slots=True)
class PartsBank:
    """Parts that are always in, and parts in parallel to them that switches bring in.

    Parameters
    ----------
    fixed : tuple of float
        Always in [F].
    switched : tuple of float
        One switch each, ascending [F].
    """

    fixed: tuple[float, ...]
    switched: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.switched) > MOST_SWITCHED:
            raise LinkError("switched parts", f"{len(self.switched)} given; at most {MOST_SWITCHED} are allowed")
        for part in (*self.fixed, *self.switched):
            _require_positive_and_finite("part of the bank", part)

    @property
    def settings(self) -> RealArray:
        """Capacitance of every setting [F]; bit k of the index says whether switched part k is in."""
        found = np.array([sum(self.fixed)])
        for part in self.switched:
            found = np.concatenate([found, found + part])
        return found

    @property
    def largest_step(self) -> float:
        """Widest gap between two neighbouring settings [F]; 0 without switches."""
        return float(np.max(np.diff(np.sort(self.settings)), initial=0.0))


def bank_choice(least: float, greatest: float, step: float, offered: PartsOffered, n_switched: int) -> PartsBank:
    """A bank that reaches every capacitance from ``least`` to ``greatest`` in steps of at most ``step``.

    Parameters
    ----------
    least, greatest : float
        Ends of what may be wanted [F].
    step : float
        Widest allowed gap between settings [F]; the nearest setting is then at most half of it away.
    offered : PartsOffered
        Where the parts come from.
    n_switched : int
        Number of switched parts.

    Returns
    -------
    PartsBank
        All switches off it has at most ``least``, all on at least ``greatest``; its steps are the finest that this way
        of choosing reaches with so many parts.

    Raises
    ------
    LinkError
        For a range or step no bank can have, and where the parts do not suffice: with the step they would reach.

    Notes
    -----
    The fixed part is the largest single part or pair not above ``least``. While settings up to T are a step s apart
    at most, so they are with one more part of up to T + s: the next switched part is the largest preferred value not
    above that. This is 1, 2, 4, … where the series has them.
    """
    _require_positive_and_finite("least capacitance of the bank", least)
    _require_positive_and_finite("greatest capacitance of the bank", greatest)
    _require_positive_and_finite("step of the bank", step)
    if least > greatest:
        raise LinkError("least capacitance of the bank", f"{least:.4g} F given; at most {greatest:.4g} F is allowed")
    if not 1 <= n_switched <= MOST_SWITCHED:
        raise LinkError("switched parts", f"{n_switched} given; from 1 to {MOST_SWITCHED} are allowed")
    fixed = _largest_not_above(least, offered)
    values = offered.values
    for finest in (*values[values < step], step):
        switched = _switched_parts(values, float(finest), n_switched)
        if sum(fixed) + sum(switched) >= greatest:
            return PartsBank(fixed, switched)
    needed = next((s for s in values[values > step] if _reaches(values, s, n_switched, greatest - sum(fixed))), None)
    advice = "no step does" if needed is None else f"in steps of {needed:.4g} F they would"
    raise LinkError(
        "step of the bank",
        f"{step:.4g} F given; {n_switched} switched parts beside {sum(fixed):.4g} F do not reach {greatest:.4g} F in "
        f"such steps, {advice}",
    )


def bank_setting(bank: PartsBank, wanted: float) -> PartsChoice:
    """The bank's setting nearest to ``wanted`` [F]; of settings equally near, the one with the smaller parts in.

    Raises
    ------
    LinkError
        Where ``wanted`` lies outside what the bank reaches.
    """
    settings = bank.settings
    _require_within("capacitance of the bank", wanted, float(settings[0]), float(settings[-1]))
    setting = _first_nearest(settings, wanted)
    on = [part for k, part in enumerate(bank.switched) if setting >> k & 1]
    return PartsChoice(wanted, tuple(sorted((*bank.fixed, *on), reverse=True)))


def _switched_parts(values: RealArray, step: float, n_switched: int) -> tuple[float, ...]:
    parts: list[float] = []
    for _ in range(n_switched):
        room = values[values <= (sum(parts) + step) * (1.0 + _EQUALLY_NEAR)]
        if not room.size:
            break
        parts.append(float(room[-1]))
    return tuple(parts)


def _reaches(values: RealArray, step: float, n_switched: int, span: float) -> bool:
    return sum(_switched_parts(values, step, n_switched)) >= span


def _largest_not_above(least: float, offered: PartsOffered) -> tuple[float, ...]:
    """The fixed part of a bank: one part, or two where they come nearer to ``least``."""
    values = offered.values
    bound = least * (1.0 + _EQUALLY_NEAR)
    if values[0] > bound:
        raise LinkError(
            "least capacitance of the bank", f"{least:.4g} F given; the smallest part offered is {values[0]:.4g} F"
        )
    single = float(values[values <= bound][-1])
    pairs = [(float(values[values <= bound - part][-1]), float(part)) for part in values if values[0] + part <= bound]
    candidates: list[tuple[float, ...]] = [(single,), *(pair for pair in pairs if pair[0] >= pair[1])]
    return candidates[_first_nearest(np.array([sum(parts) for parts in candidates]), least)]


def _first_nearest(values: RealArray, wanted: float) -> int:
    """Index of the value nearest to ``wanted``, the first of those that are equally near."""
    errors = np.abs(values / wanted - 1.0)
    return int(np.flatnonzero(errors <= errors.min() + _EQUALLY_NEAR)[0])


def _require_positive_and_finite(quantity: str, value: float) -> None:
    require_positive(quantity, value)
    if not isfinite(value):
        raise LinkError(quantity, f"{value} given; it must be finite")


def _require_within(quantity: str, wanted: float, least: float, greatest: float) -> None:
    _require_positive_and_finite(quantity, wanted)
    if not least / (1.0 + _EQUALLY_NEAR) <= wanted <= greatest * (1.0 + _EQUALLY_NEAR):
        raise LinkError(
            quantity, f"{wanted:.4g} F wanted; the parts offered reach from {least:.4g} F to {greatest:.4g} F"
        )
