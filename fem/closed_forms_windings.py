"""Windings of rectangular section and uniform current density in air: potential, flux density, inductances.

Three ways, by how near the point or the other winding is: Gauss-Legendre rules over the section where it is far; closed
forms of current sheets (``closed_forms_sheets``) integrated over the radius, with nodes crowded where the sheet passes
the point, where it is near or inside. The change-overs are set so that either side is good to about 1e-11.
"""

from itertools import pairwise
from math import hypot

import numpy as np
from numpy.typing import ArrayLike

from fem.closed_forms_loops import (
    displaced_loops_mutual_inductance,
    loop_flux_density,
    loop_mutual_inductance,
    loop_vector_potential,
    potential_over_radius,
)
from fem.closed_forms_sheets import sheet_axial_flux_density, sheet_vector_potential, sheets_mutual_primitive
from fem.errors import AccuracyError
from fem.graded_rules import FloatArray, chunks, gauss_rule, graded_rule, graded_towards_both_ends
from geometries.section import WindingSection

# Clearance over half the longer side of the section, from which so many Gauss points along a side are enough: with
# Bernstein's ellipse ρ = c + √(1 + c²) the error is near ρ^(−2 points), 4e-13 and 1e-12 here.
GAUSS_POINTS_BY_CLEARANCE = ((5.0, 6), (1.5, 12))
PAIR_NODES = 24
OWN_NODES, OWN_POWERS = (16, 24), (2, 6)
"""Nodes of larger and smaller radius of a winding with itself, and how steeply they crowd."""

LEAST_DIFFERENCE = 1e-40
DISPLACED_ORDERS = (2, 3, 4, 6, 8, 12, 16, 24)


def winding_vector_potential(section: WindingSection, turns: float, r: ArrayLike, z: ArrayLike) -> FloatArray:
    """Azimuthal vector potential of a winding carrying 1 A, in air.

    Parameters
    ----------
    section : WindingSection
        Where the turns lie, with uniform current density.
    turns : float
        Number of turns.
    r, z : array_like
        Points [m], outside, on the edge of, or inside the section.

    Returns
    -------
    ndarray
        A_φ per ampere [Wb/(m·A)], exactly 0 on the axis.

    Notes
    -----
    Good to about 1e-11 of the largest value nearby; near the section about a tenth of a millisecond a point.
    """
    r, z, shape = _flat(r, z)
    potential = np.empty(r.shape)
    for points, chosen in _by_clearance(section, r, z):
        for part in chunks(chosen.size, 2 * max(points**2, graded_rule()[0].size)):
            at = chosen[part]
            if points:
                radii, heights, weights = _filaments(section, points)
                values = loop_vector_potential(radii, heights, r[at, None], z[at, None])
                potential[at] = values @ weights
            else:
                potential[at] = _near_potential(section, r[at], z[at])
    return turns * potential.reshape(shape)


def winding_flux_density(
    section: WindingSection, turns: float, r: ArrayLike, z: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Flux density (B_r, B_z) of a winding carrying 1 A, in air.

    Parameters
    ----------
    section : WindingSection
        Where the turns lie, with uniform current density.
    turns : float
        Number of turns.
    r, z : array_like
        Points [m], outside, on the edge of, or inside the section.

    Returns
    -------
    radial, axial : ndarray
        [T/A]; continuous across the section's edges, steep (logarithmically) at its corners.
    """
    r, z, shape = _flat(r, z)
    radial, axial = np.empty(r.shape), np.empty(r.shape)
    for points, chosen in _by_clearance(section, r, z):
        for part in chunks(chosen.size, 2 * max(points**2, graded_rule()[0].size)):
            at = chosen[part]
            if points:
                radii, heights, weights = _filaments(section, points)
                values = loop_flux_density(radii, heights, r[at, None], z[at, None])
                radial[at], axial[at] = values[0] @ weights, values[1] @ weights
            else:
                radial[at], axial[at] = _near_flux_density(section, r[at], z[at])
    return turns * radial.reshape(shape), turns * axial.reshape(shape)


def winding_mutual_inductance(
    section1: WindingSection, turns1: float, section2: WindingSection, turns2: float
) -> float:
    """Mutual inductance of two windings on one axis, in air; they may touch, overlap or coincide.

    Parameters
    ----------
    section1, section2 : WindingSection
        Where the turns lie [m].
    turns1, turns2 : float
        Numbers of turns.

    Returns
    -------
    float
        [H].

    Notes
    -----
    ∫∫∫∫ M(filaments) over both sections, over the product of their areas. Near windings: both axial integrations in
    closed form, both radial ones by rules crowded about equal radii; this loses the digits of (winding length/radius)²,
    so a section flatter than a thousandth of its radius comes out to 1e-10 only.
    """
    points = _points_for(_clearance(section1, section2) / (0.5 * max(_longer_side(section1), _longer_side(section2))))
    if points == 0:
        return turns1 * turns2 * _near_mutual(section1, section2)
    radii1, heights1, weights1 = _filaments(section1, points)
    radii2, heights2, weights2 = _filaments(section2, points)
    filaments = loop_mutual_inductance(radii1[:, None], radii2, heights1[:, None] - heights2)
    return turns1 * turns2 * float(weights1 @ filaments @ weights2)


def winding_self_inductance(section: WindingSection, turns: float) -> float:
    """Self-inductance of a winding of rectangular section with uniform current density, in air.

    Parameters
    ----------
    section : WindingSection
        Where the turns lie [m].
    turns : float
        Number of turns.

    Returns
    -------
    float
        [H].

    Notes
    -----
    The mutual inductance of the winding with itself; each pair of radii is met once, the smaller crowded towards the
    larger. Within 1e-12 of :func:`winding_mutual_inductance` at a fortieth of its work; 1e-10 where the length is a
    tenth of the build or less.
    """
    x, weights = graded_rule(OWN_NODES[0], OWN_POWERS[0])
    y, inner = graded_rule(OWN_NODES[1], OWN_POWERS[1])
    inward = section.radial_build * x[:, None]
    larger, difference = section.inner_radius + inward, -inward * y
    values = np.zeros(difference.shape)
    for zeta, sign in _end_distances(section, section):
        values += sign * sheets_mutual_primitive(larger + difference, larger, difference, np.asarray(zeta))
    pairs = float((section.radial_build * weights) @ (values * inward * inner).sum(axis=1))
    return turns**2 * 2.0 * pairs / section.area**2


def displaced_windings_mutual_inductance(
    section1: WindingSection,
    turns1: float,
    section2: WindingSection,
    turns2: float,
    height: ArrayLike,
    offset: ArrayLike,
    tilt: ArrayLike,
    tolerance: float = 1e-9,
) -> FloatArray:
    """Mutual inductance of two windings in any position to each other, in air, clear of each other.

    Parameters
    ----------
    section1 : WindingSection
        The first winding, in the axes in which ``height`` counts.
    turns1, turns2 : float
        Numbers of turns.
    section2 : WindingSection
        The second winding in its own axes; its origin (r = 0, z = 0) is the point that is placed and turned about.
    height, offset, tilt : array_like
        Where the second's origin lies [m], [m] and how its axis leans [rad], signs as in
        :func:`~fem.closed_forms_loops.displaced_loops_mutual_inductance`.
    tolerance : float
        Wanted error relative to the mutual inductance of the middle turns brought onto one axis at the same
        distance [1].

    Returns
    -------
    ndarray
        [H], broadcast over the places.

    Raises
    ------
    AccuracyError
        If the windings come too close for Gauss-Legendre rules over their sections.
    """
    places = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (height, offset, tilt)))
    distance = np.hypot(places[0] - section1.mid_height, places[1])
    scale = tolerance * loop_mutual_inductance(section1.mean_radius, section2.mean_radius, distance)
    before = _displaced(section1, section2, DISPLACED_ORDERS[0], places, tolerance)
    change = np.zeros_like(before)
    for points in DISPLACED_ORDERS[1:]:
        now = _displaced(section1, section2, points, places, tolerance)
        change = np.abs(now - before)
        if np.all(change <= scale):
            return turns1 * turns2 * now
        before = now
    raise AccuracyError(
        f"mutual inductance of displaced windings still moves by {float(np.max(change / scale)) * tolerance:.1e} of "
        f"its scale at {DISPLACED_ORDERS[-1]} Gauss points a side, because the windings nearly touch; move them apart "
        "or allow a larger tolerance"
    )


def _flat(r: ArrayLike, z: ArrayLike) -> tuple[FloatArray, FloatArray, tuple[int, ...]]:
    r, z = np.broadcast_arrays(np.asarray(r, dtype=float), np.asarray(z, dtype=float))
    return r.ravel(), z.ravel(), r.shape


def _longer_side(section: WindingSection) -> float:
    return max(section.radial_build, section.winding_length)


def _points_for(relative_clearance: float) -> int:
    """Gauss points along a side for a clearance over half the longer side; 0 where only the near form will do."""
    return next((points for limit, points in GAUSS_POINTS_BY_CLEARANCE if relative_clearance >= limit), 0)


def _by_clearance(section: WindingSection, r: FloatArray, z: FloatArray) -> list[tuple[int, np.ndarray]]:
    """Indices of the points, grouped by the Gauss points a side that they need."""
    beside = np.maximum(np.maximum(section.inner_radius - r, r - section.outer_radius), 0.0)
    above = np.maximum(np.maximum(section.bottom - z, z - section.top), 0.0)
    relative = np.hypot(beside, above) / (0.5 * _longer_side(section))
    groups, rest = [], np.ones(r.shape, dtype=bool)
    for limit, points in GAUSS_POINTS_BY_CLEARANCE:
        chosen = rest & (relative >= limit)
        groups.append((points, np.flatnonzero(chosen)))
        rest &= ~chosen
    return [*groups, (0, np.flatnonzero(rest))]


def _filaments(section: WindingSection, points: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Radii [m], heights [m] and weights (their sum is 1) of ``points``² filaments that stand for one turn."""
    x, weights = gauss_rule(points)
    radii, heights = np.meshgrid(
        section.inner_radius + section.radial_build * x, section.bottom + section.winding_length * x
    )
    return radii.ravel(), heights.ravel(), np.outer(weights, weights).ravel()


def _sheets_about(section: WindingSection, r: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sheet radii a [m], a − r [m] and weights [m] that integrate over the radial build, crowded about the radius r."""
    x, weights = graded_rule()
    nearest = np.clip(r, section.inner_radius, section.outer_radius)[:, None]
    inward, outward = nearest - section.inner_radius, section.outer_radius - nearest
    from_nearest = np.concatenate((-inward * x, outward * x), axis=1)
    both = np.concatenate((inward * weights, outward * weights), axis=1)
    a_less_r = from_nearest + (nearest - r[:, None])
    # A panel of no width (r on an edge, or outside) has no weight, but its integrand must stay finite.
    a_less_r = np.where(a_less_r == 0.0, LEAST_DIFFERENCE, a_less_r)
    return r[:, None] + a_less_r, a_less_r, both


def _near_potential(section: WindingSection, r: FloatArray, z: FloatArray) -> FloatArray:
    a, a_less_r, weights = _sheets_about(section, r)
    below, above = (z - section.bottom)[:, None], (z - section.top)[:, None]
    r = r[:, None]
    sheets = sheet_vector_potential(a, r, a_less_r, below) - sheet_vector_potential(a, r, a_less_r, above)
    potential: FloatArray = (sheets * weights).sum(axis=1) / section.area
    return potential


def _near_flux_density(section: WindingSection, r: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    a, a_less_r, weights = _sheets_about(section, r)
    below, above = (z - section.bottom)[:, None], (z - section.top)[:, None]
    r = r[:, None]
    # B_r = −∂A/∂z: the integrand over the height is an exact derivative.
    ends = r * (potential_over_radius(a, r, a_less_r, above) - potential_over_radius(a, r, a_less_r, below))
    sheets = sheet_axial_flux_density(a, r, a_less_r, below) - sheet_axial_flux_density(a, r, a_less_r, above)
    return (ends * weights).sum(axis=1) / section.area, (sheets * weights).sum(axis=1) / section.area


def _clearance(section1: WindingSection, section2: WindingSection) -> float:
    """Least distance between two sections in the half plane [m]."""
    beside = max(section1.inner_radius - section2.outer_radius, section2.inner_radius - section1.outer_radius, 0.0)
    above = max(section1.bottom - section2.top, section2.bottom - section1.top, 0.0)
    return hypot(beside, above)


def _near_mutual(section1: WindingSection, section2: WindingSection) -> float:
    """Mutual inductance of one turn each [H]: second differences of the sheets' primitive, over both radii."""
    total = 0.0
    for start, end in _radial_panels(section1, section2):
        b, weights = graded_towards_both_ends(start, end, PAIR_NODES)
        a, a_less_b, inner = _sheets_about(section1, b)
        values = np.zeros(a.shape)
        for zeta, sign in _end_distances(section1, section2):
            values += sign * sheets_mutual_primitive(a, b[:, None], a_less_b, np.asarray(zeta))
        total += float(weights @ (values * inner).sum(axis=1))
    return total / (section1.area * section2.area)


def _radial_panels(section1: WindingSection, section2: WindingSection) -> list[tuple[float, float]]:
    """Section 2's radii, cut where an edge of section 1 passes."""
    start, end = section2.inner_radius, section2.outer_radius
    cuts = [start, *(c for c in (section1.inner_radius, section1.outer_radius) if start < c < end), end]
    return list(pairwise(cuts))


def _end_distances(section1: WindingSection, section2: WindingSection) -> list[tuple[float, float]]:
    """Distances [m] between the ends of the two sections, each with its sign in the second difference."""
    signs: dict[float, float] = {}
    for end1, sign1 in ((section1.top, 1.0), (section1.bottom, -1.0)):
        for end2, sign2 in ((section2.top, -1.0), (section2.bottom, 1.0)):
            # The primitive is even: a winding on itself needs two distances, not four.
            distance = abs(end1 - end2)
            signs[distance] = signs.get(distance, 0.0) + sign1 * sign2
    return list(signs.items())


def _displaced(
    section1: WindingSection, section2: WindingSection, points: int, places: tuple[FloatArray, ...], tolerance: float
) -> FloatArray:
    radii1, heights1, weights1 = _filaments(section1, points)
    radii2, heights2, weights2 = _filaments(section2, points)
    total = np.zeros(places[0].shape)
    height, offset, tilt = (v[..., None] for v in places)
    # A filament off the second winding's origin is carried along its leaning axis.
    for radius, along, weight in zip(radii2, heights2, weights2, strict=True):
        up, out = height + along * np.cos(tilt) - heights1, offset + along * np.sin(tilt)
        pairs = displaced_loops_mutual_inductance(radii1, radius, up, out, tilt, 1e-3 * tolerance)
        total += weight * (pairs @ weights1)
    return total
