"""How far from a coil its field stays above a level: the outermost places on rays all round the winding."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from scipy.interpolate import PchipInterpolator

from fem.arrays import Array, BooleanArray
from fem.gathered_loops import Loops
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection

RAYS, STEPS, FINER = 24, 10, 24
"""Rays, places along each, and points of the outline from one ray to the next."""

MORE_RAYS, MORE_STEPS = 120, 24
"""The same where the outline jumps between two rays; it then is the rays' own places."""

BORDER = 16
"""Places along each side of a block of the bench."""

UNKNOWN = 1e-30
"""Stands for a field that cannot be told [T/A]; no level is as low."""

SKIN = 1e-5
"""Room between a block and the places beside it [m]."""

EXITS = 300
"""Places along a ray among which it is seen to leave the bench."""

JUMP = 1.6
"""Ratio of neighbouring rays' lengths that is one."""

LEAST_RADIUS = 1e-9
"""Stands for the axis, where the loops' formulas do not hold [m]."""

SECANTS = 3
"""Steps towards the outermost place, in the logarithms of field and distance."""

FIRST_STEP = 0.6
"""Where rays begin, over the longer side of the section: just outside it."""


@dataclass(frozen=True, slots=True)
class Block:
    """Room that no one can reach into: out to ``radius`` and from ``bottom`` to ``top`` [m]."""

    radius: float
    bottom: float
    top: float


@dataclass(frozen=True, slots=True)
class Bench:
    """Coil, stack and what stands on the plate, as blocks; heights count from the plate's top."""

    blocks: tuple[Block, ...]

    def holds(self, r: Array, z: Array) -> BooleanArray:
        """Which places lie within."""
        within = [(r < one.radius) & (z > one.bottom) & (z < one.top) for one in self.blocks]
        return np.asarray(np.any(within, axis=0))


@dataclass(frozen=True, slots=True)
class Reach:
    """Where a field outside a bench is at a level.

    ``distance`` from the nearest part of the winding, ``height`` above the plate's top and ``radius`` from the axis,
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
    Each ray begins where it leaves the bench for the last time. On it the field is sampled at places that grow by a
    constant factor, out to where not even all loops together could make the level; the outermost place above it is
    found between two of them, where the field goes nearly as a power of the distance. Between rays the outline is a
    monotone cubic; where it jumps, as round a winding too weak to reach its own axis, there are more rays, and nothing
    between them. Where the outline ends on the bench, places along the bench's sides tell how far it goes.
    """
    if not levels or loops.largest_moment == 0.0:
        return (NOWHERE,) * len(levels)
    scene = _Scene(loops, section, bench, _far(loops, section, min(levels)))
    rays, border = _Rays.of(scene, (RAYS, STEPS)), _border(scene)
    lengths = [rays.lengths(level) for level in levels]
    if any(_jumps(one).any() for one in lengths):
        rays = _Rays.of(scene, (MORE_RAYS, MORE_STEPS))
        lengths = [rays.lengths(level) for level in levels]
    return tuple(
        _reach(section, [*rays.outline(one), *(side.above(level) for side in border)])
        for level, one in zip(levels, lengths, strict=True)
    )


def _far(loops: Loops, section: WindingSection, level: float) -> float:
    """A distance from the winding's middle beyond which the loops cannot make a level [m]."""
    dipole = MAGNETIC_CONSTANT * loops.largest_moment / (2.0 * pi * level)
    extent = section.mean_radius + float(np.hypot(loops.radius, loops.height - section.mid_height).max())
    return float(extent + dipole ** (1.0 / 3.0))


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    """What is looked at, out to ``far`` [m] from the winding's middle."""

    loops: Loops
    section: WindingSection
    bench: Bench
    far: float

    def sizes(self, r: Array, z: Array) -> Array:
        """√(|B_r|² + |B_z|²) [T/A]; next to nothing where it cannot be told, right beside a body of the bench."""
        return np.where(self.loops.blurred(r, z), UNKNOWN, self.loops.size(r, z))


@dataclass(frozen=True, slots=True, eq=False)
class _Rays:
    """Rays from a winding's middle with the field along them.

    ``angles`` (n_ray,) [rad] count from straight up; ``steps`` [m] and ``sizes`` [T/A] are (n_step, n_ray).
    """

    scene: _Scene
    angles: Array
    steps: Array
    sizes: Array

    @classmethod
    def of(cls, scene: _Scene, counts: tuple[int, int]) -> "_Rays":
        """So many rays and steps."""
        section = scene.section
        angles = 2.0 * pi * np.arange(counts[0]) / counts[0]
        begin = FIRST_STEP * max(section.radial_build, section.winding_length)
        fine = np.geomspace(begin, begin + scene.far, EXITS)
        inside = scene.bench.holds(*_places(section, angles, fine[:, None]))
        last = np.where(inside.any(axis=0), EXITS - 1 - np.argmax(inside[::-1], axis=0), -1)
        steps = np.geomspace(fine[np.minimum(last + 1, EXITS - 1)], 1.01 * fine[-1], counts[1])
        return cls(scene, angles, steps, scene.sizes(*_places(section, angles, steps)))

    def lengths(self, level: float) -> Array:
        """Along each ray, the outermost place at the level [m]; 0 where it is below it all the way."""
        above = self.sizes >= level
        last = self.steps.shape[0] - 1 - np.argmax(above[::-1], axis=0)
        inside = np.minimum(last, self.steps.shape[0] - 2)
        ray = np.arange(self.angles.size)
        low, high = np.log(self.steps[inside, ray]), np.log(self.steps[inside + 1, ray])
        before, here = low, high
        excess, fall = (np.log(self.sizes[inside + i, ray] / level) for i in (0, 1))
        for _ in range(SECANTS):
            run = np.where(excess == fall, 1.0, excess - fall)
            before, here = here, np.clip(here + fall * (here - before) / run, low, high)
            places = _places(self.scene.section, self.angles, np.exp(here))
            excess, fall = fall, np.log(self.scene.sizes(*places) / level)
        return np.where(above.any(axis=0), np.exp(here), 0.0)

    def outline(self, lengths: Array) -> list[tuple[Array, Array]]:
        """r and z of the rays' ends, and of points between neighbours that both have one and do not jump."""
        section, some = self.scene.section, lengths > 0.0
        found = [_places(section, self.angles[some], lengths[some])]
        smooth = some & np.roll(some, -1) & np.logical_not(_jumps(lengths))
        if smooth.any():
            turn = 2.0 * pi
            filled = np.log(np.where(some, lengths, self.steps[0]))
            angles = np.concatenate([self.angles[-3:] - turn, self.angles, self.angles[:3] + turn])
            along = PchipInterpolator(angles, np.concatenate([filled[-3:], filled, filled[:3]]))
            shares = np.arange(1, FINER) / FINER
            between = (self.angles[smooth, None] + turn / self.angles.size * shares).ravel()
            r, z = _places(section, between, np.exp(along(between)))
            outside = np.logical_not(self.scene.bench.holds(r, z))
            found.append((r[outside], z[outside]))
        return found


def _jumps(lengths: Array) -> BooleanArray:
    """Whether the outline is not one smooth line from each ray to the next; never where one has no length."""
    following = np.roll(lengths, -1)
    both = (lengths > 0.0) & (following > 0.0)
    ratio = np.where(both, following, 1.0) / np.where(both, lengths, 1.0)
    return np.asarray(np.maximum(ratio, 1.0 / ratio) > JUMP)


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """Places along a side of a block with the field there, arrays of shape (BORDER,)."""

    r: Array
    z: Array
    size: Array

    def above(self, level: float) -> tuple[Array, Array]:
        """The places at or above a level, and those between two where it is passed."""
        above = self.size >= level
        passed = np.flatnonzero(above[1:] != above[:-1])
        share = np.log(level / self.size[passed]) / np.log(self.size[passed + 1] / self.size[passed])
        return tuple(  # type: ignore[return-value]
            np.concatenate([along[above], along[passed] + share * (along[passed + 1] - along[passed])])
            for along in (self.r, self.z)
        )


def _border(scene: _Scene) -> list[_Side]:
    """Top, bottom and outer side of each block, as far as no other block lies there."""
    middle, found = scene.section.mid_height, list[_Side]()
    for block in scene.bench.blocks:
        radius = min(block.radius, scene.section.mean_radius + scene.far)
        bottom, top = (float(np.clip(z, middle - scene.far, middle + scene.far)) for z in (block.bottom, block.top))
        across, along = np.linspace(LEAST_RADIUS, radius, BORDER), np.linspace(bottom, top, BORDER)
        lines = [(across, np.full(BORDER, block.top + SKIN)), (across, np.full(BORDER, block.bottom - SKIN))]
        for r, z in (*lines, (np.full(BORDER, block.radius + SKIN), along)):
            free = np.logical_not(scene.bench.holds(r, z))
            if free.any():
                found.append(_Side(r[free], z[free], scene.sizes(r[free], z[free])))
    return found


def _places(section: WindingSection, angles: Array, lengths: Array) -> tuple[Array, Array]:
    """r and z at distances from the winding's middle; behind the axis is as on this side of it."""
    r = np.abs(section.mean_radius + lengths * np.sin(angles))
    return np.maximum(r, LEAST_RADIUS), section.mid_height + lengths * np.cos(angles)


def _reach(section: WindingSection, places: list[tuple[Array, Array]]) -> Reach:
    r, z = (np.concatenate(parts) for parts in zip(*places, strict=True))
    if not r.size:
        return NOWHERE
    beside = np.maximum(np.maximum(section.inner_radius - r, r - section.outer_radius), 0.0)
    above = np.maximum(np.maximum(section.bottom - z, z - section.top), 0.0)
    return Reach(float(np.hypot(beside, above).max()), max(float(z.max()), 0.0), float(r.max()))
