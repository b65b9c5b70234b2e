"""The field over a winding's own section, from its own current and from around it: what proximity losses follow."""

from collections.abc import Callable

import numpy as np

from fem.arrays import Array, ComplexArray
from fem.graded_rules import gauss_rule
from fem.sources import unit_ring
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection

POINTS, SOURCE_POINTS = 8, 14
"""Gauss points along a side at which the field is taken, and at which the current is for what its bend makes of it;
both even and of different rules, so that none coincide."""

LONG_SIDES = ((5.0, 16, 22), (15.0, 24, 34))
"""Both along a side more than so many times as long as the other: near its ends the field changes within the other's
length."""

FieldAt = Callable[[Array, Array], tuple[ComplexArray, ComplexArray]]
"""(r, z) to B_r and B_z [T/A]."""


def square_lengths(section: WindingSection, added: FieldAt) -> tuple[float, float]:
    """∫ |H|² 2πr dS / area over a winding's section for one ampere-turn: in air, and as installed [A²/m per A²].

    ``added`` is the flux density that the surroundings add to the winding's own.
    """
    r, z, weights = _points(section, *_counts(section)[0])
    radial, axial = own_flux_density(section, r, z)
    further_radial, further_axial = added(r, z)
    squares = (
        radial**2 + axial**2,
        np.abs(radial + further_radial) ** 2 + np.abs(axial + further_axial) ** 2,
    )
    scale = 2.0 * np.pi / MAGNETIC_CONSTANT**2
    own, installed = (float(scale * (weights * r * square).sum()) for square in squares)
    return own, installed


def own_flux_density(section: WindingSection, r: Array, z: Array) -> tuple[Array, Array]:
    """B_r and B_z of one ampere-turn spread evenly over a section, at places within it [T/A].

    Notes
    -----
    The field of a straight bar with that section in closed form, and what the bend adds: rings less straight wires,
    whose difference is a logarithm only and is summed over Gauss points. What those leave changes its sign from place
    to place: 1e-3 or so of the largest at single places (3e-3 in a section fifty times as long as wide), 1e-4 of the
    mean square.
    """
    radii, heights, weights = _points(section, *_counts(section)[1])
    across, along = r[:, None] - radii, z[:, None] - heights
    square = across**2 + along**2
    _, radial, axial = unit_ring(radii, heights, r[:, None], z[:, None])
    straight = MAGNETIC_CONSTANT / (2.0 * np.pi)
    bent_radial = (radial - straight * along / square) @ weights
    bent_axial = (axial + straight * across / square) @ weights
    left, right = r - section.outer_radius, r - section.inner_radius
    low, high = z - section.top, z - section.bottom
    density = straight / section.area
    return (
        bent_radial + density * _bar(left, right, low, high),
        bent_axial - density * _bar(low, high, left, right),
    )


def _counts(section: WindingSection) -> tuple[tuple[int, int], tuple[int, int]]:
    """Points across and along at which the field is taken, and at which the current is."""
    across, along = section.radial_build, section.winding_length
    steps = [
        (points, sources) for least, points, sources in LONG_SIDES if max(across, along) > least * min(across, along)
    ]
    points, sources = steps[-1] if steps else (POINTS, SOURCE_POINTS)
    if across > along:
        return (points, POINTS), (sources, SOURCE_POINTS)
    return (POINTS, points), (SOURCE_POINTS, sources)


def _points(section: WindingSection, across: int, along: int) -> tuple[Array, Array, Array]:
    """Places over the section and their weights, whose sum is 1; each of shape (across · along,)."""
    (x, x_weights), (y, y_weights) = gauss_rule(across), gauss_rule(along)
    r, z = np.meshgrid(section.inner_radius + section.radial_build * x, section.bottom + section.winding_length * y)
    return r.ravel(), z.ravel(), np.outer(y_weights, x_weights).ravel()


def _bar(left: Array, right: Array, low: Array, high: Array) -> Array:
    """∫∫ v/(u² + v²) du dv over left ≤ u ≤ right, low ≤ v ≤ high [m]."""

    def primitive(u: Array, v: Array) -> Array:
        return np.asarray(0.5 * u * np.log(u * u + v * v) + v * np.arctan(u / v))

    return primitive(right, high) - primitive(right, low) - primitive(left, high) + primitive(left, low)
