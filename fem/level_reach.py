"""How far from a coil its field stays above a level: the outermost places on rays all round the winding."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from scipy.interpolate import PchipInterpolator

from fem.arrays import Array
from fem.gathered_loops import Loops
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection

RAYS, STEPS, FINER = 20, 16, 36
"""Rays, places along each, and points of the outline from one ray to the next."""

MORE_RAYS, MORE_STEPS = 120, 32
"""The same where the outline jumps between two rays; it then is the rays' own places."""

JUMP = 1.6
"""Ratio of neighbouring rays' lengths that is one."""

LEAST_RADIUS = 1e-9
"""Stands for the axis, where the loops' formulas do not hold [m]."""

SECANTS = 3
"""Steps towards the outermost place, in the logarithms of field and distance."""

FIRST_STEP = 0.6
"""Where rays begin, over the longer side of the section: just outside it."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What no one can reach into: out to ``radius``, from ``bottom`` to ``top`` [m], all of coil and stack within."""

    radius: float
    bottom: float
    top: float

    def holds(self, r: Array, z: Array) -> Array:
        """Which places lie within."""
        return np.asarray((r < self.radius) & (z > self.bottom) & (z < self.top))


@dataclass(frozen=True, slots=True)
class Reach:
    """Where a field outside a bench is at a level.

    ``distance`` from the nearest part of the winding, ``height`` above the bench's top and ``radius`` from the axis,
    the largest of each [m]; the height is 0 where no such place is above the top. None for all where the field outside
    the bench is nowhere as high as the level.
    """

    distance: float | None
    height: float | None
    radius: float | None


NOWHERE = Reach(None, None, None)


def level_reaches(loops: Loops, section: WindingSection, bench: Bench, levels: Sequence[float]) -> tuple[Reach, ...]:
    """How far each level reaches.

    Parameters
    ----------
    loops : Loops
        Per ampere.
    section : WindingSection
        The winding; rays start about its middle, and go on behind the axis as on the other side.
    bench : Bench
        Holds the winding.
    levels : sequence of float
        √(|B_r|² + |B_z|²) per ampere [T/A].

    Notes
    -----
    On each ray the field is sampled at places that grow by a constant factor, out to where not even all loops together
    could make the level; the outermost place above it is found between two of them, where the field goes nearly as a
    power of the distance. Between rays the outline is a monotone cubic. Where it jumps, as round a winding too weak to
    reach its own axis, there are more rays, and nothing between them.
    """
    if not levels or loops.largest_moment == 0.0:
        return (NOWHERE,) * len(levels)
    few = _Rays.of(loops, section, min(levels), (RAYS, STEPS))
    lengths = [few.lengths(level) for level in levels]
    if not any(_jumps(one) for one in lengths):
        return tuple(_reach(section, bench, *few.finer(one)) if one.any() else NOWHERE for one in lengths)
    many = _Rays.of(loops, section, min(levels), (MORE_RAYS, MORE_STEPS))
    return tuple(_reach(section, bench, *many.outline(many.lengths(level))) for level in levels)


@dataclass(frozen=True, slots=True, eq=False)
class _Rays:
    """Rays from a winding's middle with the field along them.

    ``angles`` (n_ray,) [rad] count from straight up; ``steps`` (n_step,) [m]; ``sizes`` (n_step, n_ray) [T/A].
    """

    loops: Loops
    section: WindingSection
    angles: Array
    steps: Array
    sizes: Array

    @classmethod
    def of(cls, loops: Loops, section: WindingSection, least: float, counts: tuple[int, int]) -> "_Rays":
        """So many rays and steps, out to where the field is below ``least`` [T/A]."""
        angles = 2.0 * pi * np.arange(counts[0]) / counts[0]
        begin = FIRST_STEP * max(section.radial_build, section.winding_length)
        dipole = MAGNETIC_CONSTANT * loops.largest_moment / (2.0 * pi * least)
        extent = section.mean_radius + float(np.hypot(loops.radius, loops.height - section.mid_height).max())
        steps = np.geomspace(begin, begin + extent + dipole ** (1.0 / 3.0), counts[1])
        r, z = _places(section, angles, steps[:, None])
        return cls(loops, section, angles, steps, loops.size(r, z))

    def lengths(self, level: float) -> Array:
        """Along each ray, the outermost place at the level [m]; 0 where it is below it all the way."""
        above = self.sizes >= level
        last = self.steps.size - 1 - np.argmax(above[::-1], axis=0)
        inside = np.minimum(last, self.steps.size - 2)
        ray = np.arange(self.angles.size)
        low, high = np.log(self.steps[inside]), np.log(self.steps[inside + 1])
        before, here = low, high
        excess, fall = (np.log(self.sizes[inside + i, ray] / level) for i in (0, 1))
        for _ in range(SECANTS):
            run = np.where(excess == fall, 1.0, excess - fall)
            before, here = here, np.clip(here + fall * (here - before) / run, low, high)
            excess, fall = fall, np.log(self.loops.size(*_places(self.section, self.angles, np.exp(here))) / level)
        return np.where(above.any(axis=0), np.exp(here), 0.0)

    def outline(self, lengths: Array) -> tuple[Array, Array]:
        """r and z of the rays' ends; none of rays that have no length."""
        some = lengths > 0.0
        return _places(self.section, self.angles[some], lengths[some])

    def finer(self, lengths: Array) -> tuple[Array, Array]:
        """r and z of the outline with points between the rays; all of them must have a length."""
        turn = 2.0 * pi
        angles = np.concatenate([self.angles[-3:] - turn, self.angles, self.angles[:3] + turn])
        along = PchipInterpolator(angles, np.log(np.concatenate([lengths[-3:], lengths, lengths[:3]])))
        between = turn * np.arange(FINER * self.angles.size) / (FINER * self.angles.size)
        return _places(self.section, between, np.exp(along(between)))


def _jumps(lengths: Array) -> bool:
    """Whether the outline is not one smooth line; where no ray has a length there is none."""
    if not lengths.any():
        return False
    if not lengths.all():
        return True
    ratio = lengths / np.roll(lengths, 1)
    return bool(np.maximum(ratio, 1.0 / ratio).max() > JUMP)


def _places(section: WindingSection, angles: Array, lengths: Array) -> tuple[Array, Array]:
    """r and z at distances from the winding's middle; behind the axis is as on this side of it."""
    r = np.abs(section.mean_radius + lengths * np.sin(angles))
    return np.maximum(r, LEAST_RADIUS), section.mid_height + lengths * np.cos(angles)


def _reach(section: WindingSection, bench: Bench, r: Array, z: Array) -> Reach:
    open_to_all = np.logical_not(bench.holds(r, z))
    r, z = r[open_to_all], z[open_to_all]
    if not r.size:
        return NOWHERE
    beside = np.maximum(np.maximum(section.inner_radius - r, r - section.outer_radius), 0.0)
    above = np.maximum(np.maximum(section.bottom - z, z - section.top), 0.0)
    height = max(float(z.max()) - bench.top, 0.0)
    return Reach(float(np.hypot(beside, above).max()), height, float(r.max()))
