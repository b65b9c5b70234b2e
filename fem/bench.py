"""A bench as a person meets it: its matter, the room that is closed up below the plate's top, and the air between."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fem.arrays import Array, BooleanArray
from geometries.tag import Outline

SKIN = 1e-5
"""Room between matter and the places beside it [m]."""


@dataclass(frozen=True, slots=True)
class Bench:
    """Half sections of all that no one can reach into; heights count from the plate's top.

    A person gets wherever there is air: into an open well, through a hole down to the plate. Below the plate's top the
    bench is taken as closed from below and from the sides: what lies under any body is out of reach, from its top
    down to the lowest of all.
    """

    bodies: tuple[Outline, ...]

    def holds(self, r: Array, z: Array) -> BooleanArray:
        """Which places lie within a body or are closed up; shape of ``r`` and ``z`` together."""
        r, z = np.broadcast_arrays(r, z)
        found = np.zeros(r.shape, dtype=bool)
        for outline in self.bodies:
            (_, widest), (bottom, top) = extent(outline)
            near = (r < widest) & (z > bottom) & (z < top) & ~found
            found[near] = _within(outline, r[near], z[near])
        low = (z > self.lowest) & (z < 0.0) & ~found
        found[low] = z[low] < self._skyline(r[low])
        return found

    @property
    def lowest(self) -> float:
        """Height of the lowest place of any body [m]."""
        return min((extent(outline)[1][0] for outline in self.bodies), default=0.0)

    @property
    def outlines(self) -> tuple[Outline, ...]:
        """Every line on which the bench may meet the air: the bodies', and that of the room below the plate's top."""
        widest, low = max((extent(outline)[0][1] for outline in self.bodies), default=0.0), min(self.lowest, 0.0)
        return (*self.bodies, ((0.0, low), (widest, low), (widest, 0.0), (0.0, 0.0)))

    def _skyline(self, r: Array) -> Array:
        """Height of the highest matter at each radius; −∞ where there is none, shape of ``r`` (n,)."""
        top = np.full(r.shape, -np.inf)
        for (r0, z0), (r1, z1) in (edge for outline in self.bodies for edge in edges(outline)):
            if r0 != r1:
                over = (r >= min(r0, r1)) & (r <= max(r0, r1))
                top[over] = np.maximum(top[over], z0 + (r[over] - r0) * (z1 - z0) / (r1 - r0))
        return top


def edges(outline: Outline) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Every corner with the next."""
    return zip(outline, (*outline[1:], outline[0]), strict=True)


def extent(outline: Outline) -> tuple[tuple[float, float], tuple[float, float]]:
    """Least and greatest radius, and least and greatest height [m]."""
    radii, heights = zip(*outline, strict=True)
    return (min(radii), max(radii)), (min(heights), max(heights))


def _within(outline: Outline, r: Array, z: Array) -> BooleanArray:
    """Which places have an odd number of the outline's edges outward of them."""
    found = np.zeros(r.shape, dtype=bool)
    for (r0, z0), (r1, z1) in edges(outline):
        if z0 != z1:
            found ^= ((z0 > z) != (z1 > z)) & (r < r0 + (z - z0) * (r1 - r0) / (z1 - z0))
    return found


def along(outline: Outline, count: int) -> tuple[Array, Array, Array, Array]:
    """So many places evenly round an outline and back to the first, and the directions away from the body there.

    Returns
    -------
    tuple of ndarray, shape (count,)
        r, z [m], and the radial and the axial part of the direction.
    """
    corners = np.array([*outline, outline[0]])
    step = np.diff(corners, axis=0)
    length = np.hypot(*step.T)
    whole = np.concatenate([[0.0], np.cumsum(length)])
    at = np.linspace(0.0, whole[-1], count)
    edge = np.clip(np.searchsorted(whole, at, side="right") - 1, 0, length.size - 1)
    share = (at - whole[edge]) / np.maximum(length[edge], SKIN**2)
    r, z = (corners[edge] + share[:, None] * step[edge]).T
    area = float(corners[:-1, 0] @ corners[1:, 1] - corners[1:, 0] @ corners[:-1, 1])
    outward = (1.0 if area >= 0.0 else -1.0) / np.maximum(length[edge], SKIN**2)
    return r, z, outward * step[edge, 1], -outward * step[edge, 0]
