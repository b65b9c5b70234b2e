"""The space that a search goes through: every swept key, its list as it is, its range in round steps."""

import tomllib
from dataclasses import dataclass, replace
from decimal import Decimal
from math import prod

from studies.assembly import Particulars
from studies.errors import RunError
from studies.keypaths import value_at
from studies.quantities import decimal_text, range_ends
from studies.sharing import MANY_COILS, stack_count
from studies.study import NOT_OF_A_CANDIDATE, Study
from studies.sweep import Axis, BaseDesign, checked_axis, read_axes, swept_entries

MOST_STEPS = 120
"""Steps of a range: a mean diameter of 24 to 74 mm goes by half a millimetre."""

ROUND = (Decimal(1), Decimal(2), Decimal(5), Decimal(10))

Point = tuple[int, ...]
"""Which value of each axis a candidate takes."""


@dataclass(frozen=True, slots=True)
class Space:
    """All candidates that a search may try.

    Parameters
    ----------
    study : Study
        One whose sweep is the whole space; its candidates are never all computed.
    ordered : tuple of bool
        Of each axis whether its values are numbers, so that neighbours in it are alike.
    """

    study: Study
    ordered: tuple[bool, ...]

    @property
    def sizes(self) -> tuple[int, ...]:
        """Values of each axis."""
        return tuple(len(axis.values) for axis in self.study.swept_axes)

    @property
    def count(self) -> int:
        """Candidates in all."""
        return prod(self.sizes)

    def index(self, point: Point) -> int:
        """Number of a candidate; the last axis runs fastest."""
        number = 0
        for place, size in zip(point, self.sizes, strict=True):
            number = number * size + place
        return number

    def point(self, index: int) -> Point:
        """The other way round."""
        places = []
        for size in reversed(self.sizes):
            index, place = divmod(index, size)
            places.append(place)
        return tuple(reversed(places))

    def neighbours(self, point: Point, reach: int) -> tuple[Point, ...]:
        """Points with one value changed: a number by ``reach`` steps either way, a word to any other."""
        found = []
        for number, (place, size, ordered) in enumerate(zip(point, self.sizes, self.ordered, strict=True)):
            others = {place - reach, place + reach} if ordered else set(range(size)) - {place}
            found += [(*point[:number], other, *point[number + 1 :]) for other in sorted(others) if 0 <= other < size]
        return tuple(found)


def space_of(study: Study, tries: int) -> Space:
    """The space of a study's sweep, or of its sampled ranges.

    Parameters
    ----------
    study : Study
        As read.
    tries : int
        How many candidates will be computed: many over one stack share a factorisation.

    Raises
    ------
    RunError
        Where nothing is swept, or a step of a range is no value that can be.
    """
    whole = tomllib.loads(study.text)
    rest = {key: value for key, value in whole.items() if key not in NOT_OF_A_CANDIDATE}
    stepped = {
        ".".join(map(str, place[1:])): in_steps(given)
        for place, given in swept_entries(whole.get("sweep", {}), ("sweep",))
    }
    axes, _ = read_axes(stepped, rest)
    if not axes:
        raise RunError(
            f"{study.name} sweeps nothing, so there is nothing to pick from: name the keys to search under [sweep], "
            'as in "base_coil.mean_diameter" = { from = "30 mm", to = "90 mm", count = 7 }'
        )
    particulars = Particulars(swept_paths=frozenset(axis.path for axis in axes))
    design = BaseDesign(rest, study.raw, (), particulars)
    checked = tuple(_sound(axis, design) for axis in axes)
    found = replace(study, swept_axes=checked, sampling=None)
    if value_at(study.raw, ("study", "formulation")) is None:
        many = tries >= MANY_COILS * stack_count(found)
        found = replace(found, formulation="reaction field" if many else "total field")
    return Space(found, tuple(all(not isinstance(value, str) for value in axis.values) for axis in checked))


def _sound(axis: Axis, design: BaseDesign) -> Axis:
    checked = checked_axis(axis, design)
    if checked.findings:
        raise RunError(f"{axis.key}: a value between its ends cannot be: {checked.findings[0].sentence}")
    return checked.axis


def in_steps(given: object) -> list[object]:
    """Values of a swept key that a search may take: a list as it is, a range in round steps from its lower end.

    Whole numbers where both ends are; the upper end is always among them.
    """
    if not isinstance(given, dict):
        return list(given) if isinstance(given, list) else [given]
    first, last, unit = range_ends(given["from"], given["to"], "a range { from, to }")
    low, high = min(first, last), max(first, last)
    whole = all(isinstance(given[end], int) for end in ("from", "to"))
    step = round_step((high - low) / MOST_STEPS)
    step = max(step, Decimal(1)) if whole else step
    values = [low + step * number for number in range(int((high - low) / step) + 1)]
    if values[-1] != high:
        values.append(high)
    if unit is not None:
        return [f"{decimal_text(value)} {unit}" for value in values]
    return [int(value) if whole else float(value) for value in values]


def round_step(least: Decimal) -> Decimal:
    """The first of 1, 2, 5, 10 … times a power of ten that is not below ``least``."""
    power = Decimal(10) ** least.adjusted()
    return next(digit * power for digit in ROUND if digit * power >= least)
