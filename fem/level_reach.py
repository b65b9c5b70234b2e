"""How far from a coil its field stays above a level: the outermost places on rays all round the winding."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from scipy.interpolate import PchipInterpolator

from fem.arrays import Array, BooleanArray
from fem.bench import SKIN, Bench, along, extent
from fem.gathered_loops import NEAREST, Loops
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection

RAYS, STEPS, FINER = 24, 10, 24
"""Rays, places along each, and points of the outline from one ray to the next."""

MORE_RAYS, MORE_STEPS = 120, 24
"""The same where the outline jumps between two rays; it then is the rays' own places."""

BORDER = 64
"""Places round each body of the bench."""

OFFS = 7
"""How many distances from a body are tried for one where its field can be told."""

COLUMNS, ROWS = 13, 17
"""Places across and up the room that a body encloses, as far as there is air."""

UNKNOWN = 1e-30
"""Stands for a field that cannot be told [T/A]; no level is as low."""

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
    between them. Where the outline ends on the bench, places round its bodies tell how far it goes; in a well,
    which a ray may cross before it leaves the bench, a grid of places does.
    """
    if not levels or loops.largest_moment == 0.0:
        return (NOWHERE,) * len(levels)
    scene = _Scene(loops, section, bench, _far(loops, section, min(levels)))
    rays, lines = _Rays.of(scene, (RAYS, STEPS)), [*_borders(scene), *_rooms(scene)]
    lengths = [rays.lengths(level) for level in levels]
    if any(_jumps(one).any() for one in lengths):
        rays = _Rays.of(scene, (MORE_RAYS, MORE_STEPS))
        lengths = [rays.lengths(level) for level in levels]
    return tuple(
        _reach(section, [*rays.outline(one), *(line.above(level) for line in lines)])
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
        size, clear = np.full(r.shape, UNKNOWN), np.logical_not(self.loops.blurred(r, z))
        size[clear] = self.loops.size(r[clear], z[clear])
        return size

    def clamped(self, r: float, z: float) -> tuple[float, float]:
        """A corner no further off than the level can reach."""
        middle = self.section.mid_height
        return min(r, self.section.mean_radius + self.far), min(max(z, middle - self.far), middle + self.far)


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
        some = above.any(axis=0)
        ray, inside = np.flatnonzero(some), inside[some]
        low, high = np.log(self.steps[inside, ray]), np.log(self.steps[inside + 1, ray])
        before, here = low, high
        excess, fall = (np.log(self.sizes[inside + i, ray] / level) for i in (0, 1))
        for _ in range(SECANTS):
            run = np.where(excess == fall, 1.0, excess - fall)
            before, here = here, np.clip(here + fall * (here - before) / run, low, high)
            places = _places(self.scene.section, self.angles[some], np.exp(here))
            excess, fall = fall, np.log(self.scene.sizes(*places) / level)
        found = np.zeros(self.angles.size)
        found[some] = np.exp(here)
        return found

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
class _Lines:
    """Lines of places with the field there, arrays of shape (n_line, n_along); `UNKNOWN` within the bench."""

    r: Array
    z: Array
    size: Array

    def above(self, level: float) -> tuple[Array, Array]:
        """The places at or above a level, and those between two where it is passed."""
        above = self.size >= level
        line, step = np.nonzero(above[:, 1:] != above[:, :-1])
        here, there = (line, step), (line, step + 1)
        share = np.log(level / self.size[here]) / np.log(self.size[there] / self.size[here])
        return tuple(  # type: ignore[return-value]
            np.concatenate([at[above], at[here] + share * (at[there] - at[here])]) for at in (self.r, self.z)
        )


def _borders(scene: _Scene) -> Iterator[_Lines]:
    """Places round each body and round the room below the plate's top, out to where the level can reach.

    Where the loops that stand for a body are too coarse right beside it, the field is that a little further off.
    """
    off = SKIN + np.linspace(0.0, NEAREST * float(scene.loops.blur.max()), OFFS)
    for outline in scene.bench.outlines:
        r, z, outward_r, outward_z = along(tuple(scene.clamped(*corner) for corner in outline), BORDER)
        some_r, some_z = (at + off[:, None] * outward for at, outward in ((r, outward_r), (z, outward_z)))
        some_r = np.maximum(some_r, LEAST_RADIUS)
        told = np.logical_not(scene.bench.holds(some_r, some_z))
        told &= told[0]
        told[:, told[0]] &= np.logical_not(scene.loops.blurred(some_r[:, told[0]], some_z[:, told[0]]))
        here = np.flatnonzero(told.any(axis=0))
        if here.size:
            first, size = np.argmax(told, axis=0)[here], np.full(BORDER, UNKNOWN)
            size[here] = scene.loops.size(some_r[first, here], some_z[first, here])
            yield _Lines(r[None], z[None], size[None])


def _rooms(scene: _Scene) -> Iterator[_Lines]:
    """Columns and rows of places in the room that each body encloses: a well, a bore, what a lid covers."""
    for outline in scene.bench.bodies:
        (_, widest), (bottom, top) = extent(outline)
        (radius, high), (_, low) = scene.clamped(widest, top), scene.clamped(widest, min(bottom, 0.0))
        r, z = np.meshgrid(np.linspace(LEAST_RADIUS, radius, COLUMNS), np.linspace(low, high, ROWS), indexing="ij")
        free = np.logical_not(scene.bench.holds(r, z))
        free[-1] = free[:, 0] = free[:, -1] = False  # on the room's own border, which is told apart
        if free.any():
            size = np.full(r.shape, UNKNOWN)
            size[free] = scene.sizes(r[free], z[free])
            yield _Lines(r, z, size)
            yield _Lines(r.T, z.T, size.T)


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
