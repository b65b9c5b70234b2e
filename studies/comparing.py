"""What a difference between designs does: to coupling and margin, place by place, and to the verdicts of their runs."""

from dataclasses import dataclass
from math import inf, isfinite, log10

import numpy as np

from fem.arrays import Array
from studies.asked_places import reference_places
from studies.compared import Side
from studies.findings import number
from studies.ladder import STEPS
from studies.rows import Value
from studies.specification import Place
from studies.stored import StoredDesign
from studies.study_differences import Difference, differences, swept_keys, swept_values

OFF_AXIS = 1e-12
"""A place this little outside a map's grid [m], [rad] counts as on its edge."""

LOWEST = -400.0
"""No coupling at all, in decibels: two places without any differ by nothing."""


@dataclass(frozen=True, slots=True)
class Level:
    """A side at a place, its lean the worst way: k, the margin [dB] and the estimated relative error of k [1]."""

    coupling: float
    margin: float
    error: float


@dataclass(frozen=True, slots=True)
class AtPlace:
    """A place that one of the studies asks for, and each side there, interpolated in its map; None where it ends."""

    place: Place
    levels: tuple[Level | None, ...]

    def of(self, side: int) -> Level | None:
        """One of the sides there."""
        return self.levels[side]


@dataclass(frozen=True, slots=True)
class Pair:
    """One side against the reference; changes are positive where the other has more [dB].

    ``common`` counts the designs of both runs with the same swept values; ``gained`` and ``lost`` are those whose
    verdict is another, each by its two names. ``coupling_change`` and ``margin_change`` are at the worst place of each,
    ``coupling_error`` of the former [dB] without the ``spread`` [1] that both have in common.
    """

    other: int
    common: int
    gained: tuple[tuple[str, str], ...]
    lost: tuple[tuple[str, str], ...]
    coupling_change: float | None
    margin_change: float | None
    coupling_error: float
    spread: float
    equal: bool

    @property
    def within_error(self) -> bool:
        """Whether the coupling differs by no more than the estimated errors of both."""
        return self.coupling_change is not None and abs(self.coupling_change) <= self.coupling_error


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Designs side by side, the first the reference."""

    sides: tuple[Side, ...]
    differences: tuple[Difference, ...]
    places: tuple[AtPlace, ...]
    pairs: tuple[Pair, ...]

    @property
    def same_studies(self) -> bool:
        """Whether no value of the studies differs."""
        return not self.differences

    @property
    def same(self) -> bool:
        """Whether neither the studies nor any stored number differ."""
        return self.same_studies and all(pair.equal for pair in self.pairs)


def compared(sides: tuple[Side, ...]) -> Comparison:
    """Work out what differs and what it does."""
    places = dict.fromkeys(place for side in sides for place in reference_places(side.candidate))
    return Comparison(
        sides,
        differences(sides),
        tuple(AtPlace(place, tuple(_level(place, side) for side in sides)) for place in places),
        tuple(_pair(sides[0], sides[other], other) for other in range(1, len(sides))),
    )


def decibels(values: Array) -> Array:
    """20 log10 of magnitudes; `LOWEST` where there is nothing."""
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(values), 10.0 ** (LOWEST / 20.0))))


def error_in_decibels(relative: Array) -> Array:
    """How far a magnitude with a relative error may be off downward [dB]; infinite from an error of 1 on."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(relative < 1.0, -20.0 * np.log10(1.0 - np.minimum(relative, 1.0)), inf))


def coupling_in_decibels(side: Side) -> Array:
    """k over the map, its lean the worst way [dB]; the stored k has its lean outward.

    Notes
    -----
    k = |M|/√(L_b L_t), and L_t hangs on the height alone: the ratio of k to |M| at a height is that of its strongest
    place.
    """
    values = side.arrays.map
    mutual = np.abs(values.mutual_inductance)
    flat = mutual.reshape(mutual.shape[0], -1)
    strongest = flat.argmax(axis=1)
    heights = np.arange(mutual.shape[0])
    most = flat[heights, strongest]
    k = values.coupling_coefficient.reshape(flat.shape)[heights, strongest]
    factor = np.divide(k, most, out=np.zeros_like(most), where=most > 0.0)
    return decibels(np.abs(values.worst_mutual_inductance) * factor[:, None, None])


def common_spread(reference: Side, other: Side) -> float:
    """What a data sheet leaves open of both tags alike, as a share of M and k: 0 where they are not the same part.

    Notes
    -----
    The spread of a part is that of its moment: one unknown factor on M and k, at every place and over every coil.
    """
    ours, theirs = (side.candidate.tag for side in (reference, other))
    if ours.part is None or (ours.part, ours.sensitivity, ours.correction) != (
        theirs.part, theirs.sensitivity, theirs.correction,
    ):  # fmt: skip
        return 0.0
    return min(number(side.stored, "tag_spread") or 0.0 for side in (reference, other))


def relative_error(side: Side, spread: float = 0.0) -> Array:
    """Estimated relative error of M over the map, its lean the worst way; infinite where M is nothing.

    Without the ``spread`` that a side has in common with the one it is held against.
    """
    values = side.arrays.map
    mutual = np.abs(values.worst_mutual_inductance)
    found = np.divide(values.mutual_inductance_error, mutual, out=np.full(mutual.shape, inf), where=mutual > 0.0)
    return np.asarray(np.maximum(found - spread, 0.0))


def along(values: Array, axis: int, at: tuple[float, ...], places: tuple[float, ...]) -> Array:
    """Values interpolated linearly along one axis, from the places ``at`` to other ``places`` between their ends.

    Notes
    -----
    At a place of the grid its own value, an infinite neighbour or not.
    """
    grid, wanted = np.asarray(at), np.asarray(places)
    if grid.size == 1:
        return np.take(values, np.zeros(wanted.size, dtype=int), axis=axis)
    low = np.clip(np.searchsorted(grid, wanted + OFF_AXIS, side="right") - 1, 0, grid.size - 2)
    share = np.clip((wanted - grid[low]) / (grid[low + 1] - grid[low]), 0.0, 1.0)
    shape = [1] * values.ndim
    shape[axis] = wanted.size
    share = share.reshape(shape)
    first, second = np.take(values, low, axis=axis), np.take(values, low + 1, axis=axis)
    with np.errstate(invalid="ignore"):
        mixed = (1.0 - share) * first + share * second
    return np.asarray(np.where(share < OFF_AXIS, first, np.where(share > 1.0 - OFF_AXIS, second, mixed)))


def at_places(side: Side, values: Array, heights: tuple[float, ...], offsets: tuple[float, ...], tilt: float) -> Array:
    """Part of a map interpolated at heights and offsets, shape (n_height, n_offset), at one tilt [rad]."""
    grid = side.grid
    found = along(values, 0, grid.heights, heights)
    found = along(found, 1, grid.offsets, offsets)
    return along(found, 2, grid.tilts, (tilt,))[..., 0]


def reaches(side: Side, place: Place) -> bool:
    """Whether a map reaches a place, with a tilt as given or the other way: its lean is the worst either way."""
    grid = side.grid
    inside = [
        axis[0] - OFF_AXIS <= value <= axis[-1] + OFF_AXIS
        for axis, value in ((grid.heights, place.height), (grid.offsets, place.offset), (grid.tilts, abs(place.tilt)))
    ]
    return all(inside)


def _level(place: Place, side: Side) -> Level | None:
    if not reaches(side, place):
        return None
    maps = (coupling_in_decibels(side), side.arrays.map.worst_margin, relative_error(side))
    at = [float(at_places(side, one, (place.height,), (place.offset,), abs(place.tilt))[0, 0]) for one in maps]
    return Level(10.0 ** (at[0] / 20.0), at[1], at[2])


def _pair(reference: Side, other: Side, place: int) -> Pair:
    common, gained, lost = _verdicts(reference, other)
    spread = common_spread(reference, other)
    errors = [(number(side.stored, "coupling_coefficient_rel_error") or 0.0) - spread for side in (reference, other)]
    return Pair(
        place,
        common,
        gained,
        lost,
        _change(reference.stored, other.stored, "coupling_coefficient", in_decibels=False),
        _change(reference.stored, other.stored, "margin_dB", in_decibels=True),
        float(error_in_decibels(np.maximum(errors, 0.0)).sum()),
        spread,
        _equal(reference, other),
    )


def _change(reference: StoredDesign, other: StoredDesign, name: str, *, in_decibels: bool) -> float | None:
    first, second = number(reference, name), number(other, name)
    if first is None or second is None:
        return None
    if in_decibels:
        return second - first if isfinite(first) and isfinite(second) else None
    return 20.0 * log10(second / first) if first > 0.0 and second > 0.0 else None


def _verdicts(reference: Side, other: Side) -> tuple[int, tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]:
    """Computed designs of both runs with the same swept values; those that pass in one of the runs only."""
    keys = tuple(dict.fromkeys((*swept_keys(reference.run.study), *swept_keys(other.run.study))))
    ours, theirs = (_by_values(side, keys) for side in (reference, other))
    both = [(ours[values], theirs[values]) for values in ours if values in theirs]
    gained = tuple((one.design, two.design) for one, two in both if two.passed and not one.passed)
    lost = tuple((one.design, two.design) for one, two in both if one.passed and not two.passed)
    return len(both), gained, lost


def _by_values(side: Side, keys: tuple[str, ...]) -> dict[tuple[object, ...], StoredDesign]:
    study = side.run.study
    return {swept_values(study, one.index, keys): one for one in side.run.designs if one.status == "done"}


def _equal(reference: Side, other: Side) -> bool:
    """Whether every stored number of two designs is the same, but for their names."""
    ours, theirs = ({k: _plain(v) for k, v in s.stored.row.items() if k != "design"} for s in (reference, other))
    if ours != theirs or reference.grid != other.grid:
        return False
    one, two = reference.arrays.map, other.arrays.map
    return all(
        np.array_equal(getattr(one, name), getattr(two, name), equal_nan=True)
        for name in ("mutual_inductance", "worst_mutual_inductance", "mutual_inductance_error", "worst_margin")
    )


def _plain(value: Value) -> Value | str:
    """Not-a-number is equal to itself here."""
    return "nan" if isinstance(value, float) and value != value else value


def ladder_steps(side: Side) -> dict[str, float]:
    """The margin after each step of the loss ladder that was computed [dB], in order."""
    found = {step: number(side.stored, f"ladder_{step}_dB") for step, _ in STEPS}
    return {step: value for step, value in found.items() if value is not None and isfinite(value)}
