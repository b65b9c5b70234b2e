"""All sources of a solved field as a few hundred loops of current: quick to sum wherever they are not right beside."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from fem.arrays import Array, BooleanArray, ComplexArray, IndexArray
from fem.sources import Rings, unit_ring

CELLS = 24
"""Along the longer side of a body."""

KEPT_AS_THEY_ARE = 200
"""Rings of pure current that are so few stay where they are."""

NEAREST = 1.5
"""Blurs that a place keeps from a body for its field to be trusted."""

BLUR_OF_CURRENT = 0.5
"""Blur of a body of current alone, over the side of a cell: half as near, its field is good to 2 %; a magnetised body
blurs a whole side."""

LEAST_SIDE = 1e-4
"""Of a cell [m]: a thin layer, whose rings all lie at one height, has one row of them."""


@dataclass(frozen=True, slots=True, eq=False)
class Loops:
    """Loops of current round the axis.

    Parameters
    ----------
    radius, height : ndarray, shape (n,)
        [m].
    current : ndarray of complex, shape (n,) or (n, n_case)
        [A], for whatever the sources were given for.
    blur : ndarray, shape (n,)
        How far each loop stands for what lies round it [m]; nearer than that the field is not to be trusted.
    """

    radius: Array
    height: Array
    current: ComplexArray
    blur: Array

    @property
    def moment(self) -> complex:
        """Magnetic moment along the axis [A m²]."""
        return complex(np.pi * (self.radius**2 @ self.current))

    @property
    def largest_moment(self) -> float:
        """What the moment would be if all loops turned the same way and at the same time [A m²]."""
        return float(np.pi * (self.radius**2 @ np.abs(self.current)))

    def combined(self, weights: Array) -> "Loops":
        """One case that is a weighted sum of all."""
        return Loops(self.radius, self.height, self.current @ weights, self.blur)

    def flux_density(self, r: Array, z: Array) -> tuple[ComplexArray, ComplexArray]:
        """B_r and B_z at places off the axis [T], shape of ``r``."""
        _, radial, axial = unit_ring(self.radius, self.height, r.reshape(-1, 1), z.reshape(-1, 1))
        return (radial @ self.current).reshape(r.shape), (axial @ self.current).reshape(r.shape)

    def size(self, r: Array, z: Array) -> Array:
        """Length of the flux density's phasor, √(|B_r|² + |B_z|²) [T]; peak currents give √2 times the rms value."""
        radial, axial = self.flux_density(r, z)
        return np.asarray(np.sqrt(np.abs(radial) ** 2 + np.abs(axial) ** 2))

    def blurred(self, r: Array, z: Array) -> BooleanArray:
        """Which places lie so near to a body that what stands for it is too coarse, shape of ``r``."""
        square = (self.radius - r.reshape(-1, 1)) ** 2 + (self.height - z.reshape(-1, 1)) ** 2
        return np.asarray((square < (NEAREST * self.blur) ** 2).any(axis=1).reshape(r.shape))


def gathered(groups: tuple[Rings, ...]) -> Loops:
    """All groups of sources as loops, each body's on a grid of its own.

    Notes
    -----
    A ring acts through ψ = r A of a loop at its place: current by ψ itself, axial moment by 2 ∂ψ/∂(r²), radial moment
    by −∂ψ/∂z / r. With ψ quadratic in r² and in z over three lines of the grid, each of them is currents where the
    lines cross. Current and magnetic moment in all are kept to rounding; the field at a distance d is off by about
    (side/d)² of the body's share, of currents by (side/d)³.
    """
    parts = [_gathered(rings) for rings in groups]
    return Loops(
        np.concatenate([part.radius for part in parts]),
        np.concatenate([part.height for part in parts]),
        np.concatenate([part.current for part in parts]),
        np.concatenate([part.blur for part in parts]),
    )


def _gathered(rings: Rings) -> Loops:
    strength = _times(rings.weight / rings.radius, rings.current)
    if not rings.magnetised and rings.radius.size <= KEPT_AS_THEY_ARE:
        return Loops(rings.radius, rings.height, strength, np.zeros(rings.radius.size))
    radii, heights = _lines(rings)
    column, across, across_slope = _within(radii**2, rings.radius**2)
    row, along, along_slope = _within(heights, rings.height)

    def spread(one: Array, other: Array, strengths: ComplexArray) -> ComplexArray:
        """Currents at the crossings of the grid, ``one`` (3, n_ring) by columns and ``other`` by rows."""
        nine = [(i, j) for i in range(3) for j in range(3)]
        crossings = np.array([(column + i) * heights.size + row + j for i, j in nine])
        shares = np.array([one[i] * other[j] for i, j in nine])
        ring = np.broadcast_to(np.arange(rings.radius.size), crossings.shape)
        places = (crossings.ravel(), ring.ravel())
        matrix = csr_array((shares.ravel(), places), shape=(radii.size * heights.size, rings.radius.size))
        return np.asarray(matrix @ strengths)

    current = spread(across, along, strength)
    if rings.magnetised:
        current += spread(across_slope, along, _times(2.0 * rings.weight, rings.axial))
        current -= spread(across, along_slope, _times(rings.weight / rings.radius, rings.radial))
    all_radii, all_heights = (lines.ravel() for lines in np.meshgrid(radii, heights, indexing="ij"))
    used = np.any(current.reshape(all_radii.size, -1), axis=1) & (all_radii > 0.0)
    side = max(float(np.diff(lines).max()) for lines in (radii, heights))
    blur = np.full(int(used.sum()), side if rings.magnetised else BLUR_OF_CURRENT * side)
    return Loops(all_radii[used], all_heights[used], current[used], blur)


def _times(factor: Array, strengths: ComplexArray) -> ComplexArray:
    return np.asarray((factor * strengths.T).T)


def _lines(rings: Rings) -> tuple[Array, Array]:
    """Radii and heights of a body's grid, its cells about as high as wide."""
    inner, outer, bottom, top = (
        float(end(along)) for along in (rings.radius, rings.height) for end in (np.min, np.max)
    )  # fmt: skip
    side = max(LEAST_SIDE, max(outer - inner, top - bottom) / CELLS)
    return _even(inner, outer, side), _even(bottom, top, side)


def _even(low: float, high: float, side: float) -> Array:
    """Three or more even lines from one end to the other; about them where both are one."""
    room = max(0.5 * LEAST_SIDE - 0.5 * (high - low), 0.0)
    return np.linspace(low - room, high + room, max(3, round((high - low) / side) + 1))


def _within(lines: Array, places: Array) -> tuple[IndexArray, Array, Array]:
    """First of the three lines about each place, the place's quadratic shares of them and their slopes (3, n_place)."""
    middle = np.clip(np.searchsorted(0.5 * (lines[1:] + lines[:-1]), places), 1, lines.size - 2)
    one, two, three = lines[middle - 1], lines[middle], lines[middle + 1]
    to_one, to_two, to_three = places - one, places - two, places - three
    first, second, third = (one - two) * (one - three), (two - one) * (two - three), (three - one) * (three - two)
    shares = to_two * to_three / first, to_one * to_three / second, to_one * to_two / third
    slopes = (to_two + to_three) / first, (to_one + to_three) / second, (to_one + to_two) / third
    return middle - 1, np.stack(shares), np.stack(slopes)
