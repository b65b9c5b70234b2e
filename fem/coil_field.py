"""A winding's field in air at many points at once: the given field of the reaction-field solver.

The closed forms of ``closed_forms_windings`` hold everywhere but take a millisecond a point; here they serve only
where a point all but touches the section. Everywhere else Gauss-Legendre rules over the section, halved towards the
point where it is near, have as few points as the distance allows and are summed over rings by fast elliptic integrals.
"""

from math import log

import numpy as np

from fem.arrays import Array, IndexArray
from fem.closed_forms_windings import winding_flux_density, winding_vector_potential
from fem.graded_rules import chunks, gauss_rule
from fem.sources import unit_ring, unit_ring_potential
from fem.system import FieldOf
from geometries.section import WindingSection

FIELD_TOLERANCE = 1e-8
"""Error of the field at a point, relative to what the nearest part of the winding gives there."""

POINTS = (2, 3, 4, 6, 8, 12, 16, 24)
"""Gauss points along a side that are tried; where the last is too few, the section is halved."""

MOST_HALVINGS = 9
"""Halvings of the section, three or so of either side, before the closed forms take over."""


def coil_field(section: WindingSection) -> FieldOf:
    """Potential [V s/m] and flux density [T] of one ampere in one turn spread evenly over a section, in air.

    Parameters
    ----------
    section : WindingSection
        Points may lie beside it, on its edge or inside; none on the axis.

    Returns
    -------
    FieldOf
        Remembers the places that it was asked for: both orders of elements on one mesh share their points.
    """
    known: dict[tuple[bytes, bytes], tuple[Array, Array, Array]] = {}

    def field(r: Array, z: Array) -> tuple[Array, Array, Array]:
        place = np.asarray(r).tobytes(), np.asarray(z).tobytes()
        if place not in known:
            found = np.zeros((3, np.size(r)))
            points = np.asarray(r).ravel(), np.asarray(z).ravel()
            _add(found, np.arange(np.size(r)), points, section, 1.0, MOST_HALVINGS)
            potential, radial, axial = found.reshape(3, *np.shape(r))
            known[place] = potential, radial, axial
        return known[place]

    return field


def coil_potential(section: WindingSection, r: Array, z: Array) -> Array:
    """The potential of `coil_field` alone at places r, z of shape (n,), in three fifths of the time [V s/m]."""
    found = np.zeros((1, r.size))
    _add(found, np.arange(r.size), (r, z), section, 1.0, MOST_HALVINGS)
    return np.asarray(found[0])


def _add(
    found: Array, chosen: IndexArray, points: tuple[Array, Array], block: WindingSection, current: float, halvings: int
) -> None:
    """Add the field of a block with an even ``current`` [A] at the chosen points to ``found``, shape (3, n_point).

    With one row it is the potential alone.
    """
    r, z = points[0][chosen], points[1][chosen]
    across, along = _points_for(block, r, z)
    for counts in {*zip(across.tolist(), along.tolist(), strict=True)}:
        at = chosen[(across == counts[0]) & (along == counts[1])]
        if counts[0] * counts[1]:
            radii, heights, weights = _rings(block, *counts)
            for part in chunks(at.size, radii.size, 400_000):
                place = points[0][at[part], None], points[1][at[part], None]
                whole = len(found) == 3
                rings = unit_ring(radii, heights, *place) if whole else (unit_ring_potential(radii, heights, *place),)
                found[:, at[part]] += [current * (values @ weights) for values in rings]
        elif halvings:
            for half in _halves(block):
                _add(found, at, points, half, 0.5 * current, halvings - 1)
        else:
            place = points[0][at], points[1][at]
            found[0, at] += winding_vector_potential(block, current, *place)
            if len(found) == 3:
                found[1:, at] += winding_flux_density(block, current, *place)


def _points_for(block: WindingSection, r: Array, z: Array) -> tuple[IndexArray, IndexArray]:
    """Gauss points that a block needs across and along, seen from each point; 0 where even the most are too few.

    Notes
    -----
    The integrand's singularities lie a distance away from the side: with Bernstein's ellipse ρ = c + √(1 + c²), c the
    distance over half the side, the error of n points is near ρ^(−2n).
    """
    beside = np.maximum(np.maximum(block.inner_radius - r, r - block.outer_radius), 0.0)
    above = np.maximum(np.maximum(block.bottom - z, z - block.top), 0.0)
    distance = np.maximum(np.hypot(beside, above), 1e-12)
    counts = np.append(POINTS, 0)
    across, along = (
        counts[np.searchsorted(POINTS, -log(FIELD_TOLERANCE) / (2.0 * np.arcsinh(2.0 * distance / side)))]
        for side in (block.radial_build, block.winding_length)
    )
    return across, along


def _halves(block: WindingSection) -> tuple[WindingSection, WindingSection]:
    """A block cut across its longer side."""
    inner, outer, bottom, top = block.inner_radius, block.outer_radius, block.bottom, block.top
    if block.radial_build > block.winding_length:
        middle = block.mean_radius
        return WindingSection(inner, middle, bottom, top), WindingSection(middle, outer, bottom, top)
    middle = block.mid_height
    return WindingSection(inner, outer, bottom, middle), WindingSection(inner, outer, middle, top)


def _rings(block: WindingSection, across: int, along: int) -> tuple[Array, Array, Array]:
    """Radii [m], heights [m] and weights (their sum is 1) of the rings that stand for one turn."""
    x, x_weights = gauss_rule(across)
    y, y_weights = gauss_rule(along)
    radii, heights = np.meshgrid(
        block.inner_radius + block.radial_build * x, block.bottom + block.winding_length * y
    )  # fmt: skip
    return radii.ravel(), heights.ravel(), np.outer(y_weights, x_weights).ravel()
