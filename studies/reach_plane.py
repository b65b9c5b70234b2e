"""Reading height over diameter × input power at the reader's one inductance, and what stops it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fem.arrays import Array
from studies.guide_coils import Takes, Wound, wound, wounds
from studies.specification import Candidate

LEAST_POWER, MOST_POWER, POWERS = 1.0 / 30.0, 10.0, 13
"""Input powers looked at, in that of the base design, and how many."""

CEILING = 4.0
"""Heights are looked at up to so many mean diameters of the base design [1]."""

SMALLEST_OF_A_RUN, LARGEST_OF_A_RUN, DIAMETERS_OF_A_RUN = 0.55, 2.6, 9
"""Mean diameters that a run looks at, in those of its best candidate, and how many: fewer than the guide's."""

DIGITS = 6
"""Significant digits stored."""


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit on what a coil may take: its quantity, its value in SI, and the key that sets it."""

    quantity: str
    value: float
    key: str


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """Reading height over diameter × input power at one inductance, ``heights`` (n_power, n_diameter) [m].

    ``used`` (n_bound, n_power, n_diameter) is what is taken over each of the ``bounds`` [1]; ``room`` (n_diameter) the
    turns needed over those that the section takes [1]. ``most_power`` and ``most_height`` (n_diameter) are where the
    first of the bounds is met [W], [m], nan without bounds. ``diameter`` [m] and ``power`` [W] are the design's own.
    """

    diameter: float
    power: float
    diameters: Array
    powers: Array
    heights: Array
    bounds: tuple[Bound, ...]
    used: Array
    room: Array
    inductance: float
    most_power: Array
    most_height: Array

    @property
    def best(self) -> int | None:
        """Which diameter is read highest within all bounds, of those whose turns fit; None where none is."""
        heights = np.where((self.room <= 1.0) & np.isfinite(self.most_height), self.most_height, -np.inf)
        best = int(np.argmax(heights))
        return best if np.isfinite(heights[best]) else None

    def stopping(self, column: int) -> Bound:
        """The bound that is met first at a diameter."""
        return self.bounds[int(np.argmax(self.used[:, 0, column]))]


def looking_higher(candidate: Candidate) -> Candidate:
    """The candidate, in all its states, with heights to look at far above its map."""
    grid = candidate.grid
    heights = (*grid.heights, max(CEILING * candidate.coil.mean_diameter, 1.01 * grid.heights[-1]))
    higher = replace(grid, heights=heights)
    return replace(candidate, grid=higher, states=tuple(replace(one, grid=higher) for one in candidate.states))


def base_coil(candidate: Candidate) -> tuple[Wound, tuple[float, float]]:
    """The base design's coil, and its section's radial build and winding length [m]."""
    from studies.solving import solved_base

    tuned = next((one for one in (candidate, *candidate.states) if one.state == candidate.tuned_in), candidate)
    solved = solved_base(tuned)
    section = (solved.section.radial_build, solved.section.winding_length)
    return wound(candidate, candidate.coil.mean_diameter, section).with_turns(solved.turns), section


def held_voltage(candidate: Candidate, base: Wound) -> float:
    """Source voltage of the base design, or that to which its current limit holds it [V peak]."""
    voltage, limit = candidate.drive.source_voltage, candidate.drive.current_limit
    return voltage if limit is None else min(voltage, base.voltage_for("current", limit))


def spread(least: float, most: float, count: int) -> Iterator[float]:
    """Ratios spread evenly in their logarithm, 1 among them."""
    below = round((count - 1) * np.log(least) / np.log(least / most))
    yield from np.geomspace(least, 1.0, below + 1)[:-1].tolist()
    yield from np.geomspace(1.0, most, count - below).tolist()


def powers_about(taken: Takes) -> Array:
    return np.array([taken["input_power"] * ratio for ratio in spread(LEAST_POWER, MOST_POWER, POWERS)])


def heights_of(found: Sequence[float | None]) -> Array:
    return np.array([np.nan if height is None else height for height in found])


def bounds(candidate: Candidate) -> tuple[Bound, ...]:
    """Every limit that the study sets on what the coil takes, of two on one quantity the tighter one."""
    known = [
        Bound(limit.quantity, limit.value, f"require.at_most.{limit.quantity}") for limit in candidate.require.at_most
    ]
    wire = candidate.coil.wire
    for quantity, value, key in (
        ("current", candidate.drive.current_limit, "drive.current_limit"),
        ("current_density", wire.rated_current_density, "base_coil.wire.rated_current_density"),
        ("neighbour_voltage", wire.rated_voltage, "base_coil.wire.rated_voltage"),
    ):
        known += [] if value is None else [Bound(quantity, value, key)]
    tightest = {bound.quantity: bound for bound in sorted(known, key=lambda bound: -bound.value)}
    return tuple(tightest.values())


def plane(candidate: Candidate, base: Wound, coils: Sequence[Wound], kept: Takes) -> Plane:
    """Reading height over diameter × input power at the base design's inductance, and what stops it."""
    inductance = candidate.coil.inductance or base.base.inductance
    alike = [coil.with_inductance(inductance) for coil in coils]
    powers = powers_about(kept)
    limits = tuple(bound for bound in bounds(candidate) if bound.quantity in kept)
    voltages = [[coil.voltage_for("input_power", power) for coil in alike] for power in powers]
    heights = [[coil.reached(v).worst for coil, v in zip(alike, row, strict=True)] for row in voltages]
    taken = [[coil.takes(v) for coil, v in zip(alike, row, strict=True)] for row in voltages]
    most = [min((coil.voltage_for(bound.quantity, bound.value) for bound in limits), default=np.nan) for coil in alike]
    return Plane(
        base.diameter,
        kept["input_power"],
        np.array([coil.diameter for coil in alike]),
        powers,
        np.array([heights_of(row) for row in heights]),
        limits,
        np.array([[[one[bound.quantity] / bound.value for one in row] for row in taken] for bound in limits]),
        np.array([coil.turns / max(coil.room, 1) for coil in alike]),
        inductance,
        np.array([coil.takes(v)["input_power"] for coil, v in zip(alike, most, strict=True)]),
        heights_of([coil.reached(v).worst if limits else None for coil, v in zip(alike, most, strict=True)]),
    )


def plane_of(candidate: Candidate) -> Plane:
    """The plane of one candidate, coarser than the guide's.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where the candidate cannot be computed.
    """
    higher = looking_higher(candidate)
    base, section = base_coil(higher)
    ratios = spread(SMALLEST_OF_A_RUN, LARGEST_OF_A_RUN, DIAMETERS_OF_A_RUN)
    diameters = tuple(base.diameter * ratio for ratio in ratios)
    coils = [base if one.diameter == base.diameter else one for one in wounds(higher, diameters, section)]
    return plane(higher, base, coils, base.takes(held_voltage(higher, base)))


def plane_record(found: Plane) -> dict[str, Any]:
    """A plane as plain values for a file; nan becomes None."""
    record: dict[str, Any] = {name: _plain(getattr(found, name)) for name in Plane.__slots__ if name != "bounds"}
    return record | {"bounds": [[bound.quantity, bound.value, bound.key] for bound in found.bounds]}


def plane_from(record: dict[str, Any]) -> Plane:
    """A plane from its record.

    Raises
    ------
    KeyError, TypeError, ValueError
        Where it is none.
    """
    limits = tuple(Bound(str(one[0]), float(one[1]), str(one[2])) for one in record["bounds"])
    diameters, powers = _array(record["diameters"], (-1,)), _array(record["powers"], (-1,))
    over_both = (powers.size, diameters.size)
    return Plane(
        diameter=float(record["diameter"]),
        power=float(record["power"]),
        diameters=diameters,
        powers=powers,
        heights=_array(record["heights"], over_both),
        bounds=limits,
        used=_array(record["used"], (len(limits), *over_both)),
        room=_array(record["room"], diameters.shape),
        inductance=float(record["inductance"]),
        most_power=_array(record["most_power"], diameters.shape),
        most_height=_array(record["most_height"], diameters.shape),
    )


def _array(values: Any, shape: tuple[int, ...]) -> Array:
    return np.array(values, dtype=np.float64).reshape(shape)


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return [_plain(one) for one in value]
    return None if np.isnan(value) else float(f"{value:.{DIGITS}g}")
