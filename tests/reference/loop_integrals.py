"""Windings in air by brute force: Neumann's double line integral, and Maxwell's circles averaged over two sections.

Nothing of the solver is used: no elliptic integral of its own, no closed form, no element.

References
----------
F. E. Neumann, 1845: M = (μ0/4π) ∮∮ dl1 · dl2 / |x1 − x2|.
J. C. Maxwell, *A Treatise on Electricity and Magnetism*, 1873, vol. 2 ch. XIV: two coaxial circles.
"""

from math import cos, pi, sin

import numpy as np

from geometries.section import WindingSection
from tests.reference.ring_circuit import MU0, circles_mutual


def neumann_mutual(
    base: WindingSection, tag: WindingSection, height: float, offset: float, tilt: float, points: int = 6
) -> float:
    """Mutual inductance per turn² [H] of two windings of uniform current; ``tag`` is turned about its own origin.

    ``height``, ``offset`` [m] and ``tilt`` [rad] place the tag's origin and lean its axis, outward positive.
    """
    total = 0.0
    for radius, z, share in _filaments(tag, points):
        second = _placed_circle(radius, z, height, offset, tilt)
        for base_radius, base_z, base_share in _filaments(base, points):
            total += share * base_share * _line_integral(base_radius, base_z, *second)
    return total


def averaged_self_inductance(section: WindingSection, points: int = 20) -> float:
    """Self-inductance per turn² [H]: Maxwell's M averaged over all pairs of filaments of one section.

    Notes
    -----
    Heights enter by their difference ζ alone, with the weight 2(l − ζ)/l²; radii as r and r + u, u ≥ 0, doubled. Cubes
    of the Gauss nodes crowd u and ζ about the logarithm at 0.
    """
    x, weights = _unit_rule(points)
    build, length = section.radial_build, section.winding_length
    graded, slopes = x**3, 3.0 * x**2 * weights
    u, zeta = (build * graded)[:, None, None], (length * graded)[None, :, None]
    radius = section.inner_radius + (build - u) * x[None, None, :]
    share = 2.0 * (build - u) / build**2 * 2.0 * (length - zeta) / length**2
    measure = build * length * slopes[:, None, None] * slopes[None, :, None] * weights
    return float((measure * share * circles_mutual(radius, radius + u, zeta)).sum())


def _unit_rule(points: int) -> tuple[np.ndarray, np.ndarray]:
    nodes, weights = np.polynomial.legendre.leggauss(points)
    return 0.5 * (nodes + 1.0), 0.5 * weights


def _filaments(section: WindingSection, points: int) -> list[tuple[float, float, float]]:
    x, weights = _unit_rule(points)
    return [
        (section.inner_radius + section.radial_build * x[i], section.bottom + section.winding_length * x[j], w)
        for i in range(points)
        for j in range(points)
        if (w := float(weights[i] * weights[j]))
    ]


def _placed_circle(radius: float, z: float, height: float, offset: float, tilt: float) -> tuple[np.ndarray, np.ndarray]:
    """Points and steps of a circle about the tag's axis, both of shape (3, n)."""
    count = 64
    angle = 2.0 * pi * np.arange(count) / count
    own = np.stack([radius * np.cos(angle), radius * np.sin(angle), np.full(count, z)])
    step = np.stack([-radius * np.sin(angle), radius * np.cos(angle), np.zeros(count)]) * (2.0 * pi / count)
    # The tag's axis (0, 0, 1) goes to (sin tilt, 0, cos tilt): its top leans outward, along +x.
    turn = np.array([[cos(tilt), 0.0, sin(tilt)], [0.0, 1.0, 0.0], [-sin(tilt), 0.0, cos(tilt)]])
    return turn @ own + np.array([[offset], [0.0], [height]]), turn @ step


def _line_integral(radius: float, z: float, places: np.ndarray, steps: np.ndarray) -> float:
    count = 128
    angle = 2.0 * pi * np.arange(count) / count
    x, y = radius * np.cos(angle)[:, None], radius * np.sin(angle)[:, None]
    distance = np.sqrt((x - places[0]) ** 2 + (y - places[1]) ** 2 + (z - places[2]) ** 2)
    product = (-np.sin(angle)[:, None] * steps[0] + np.cos(angle)[:, None] * steps[1]) * radius * (2.0 * pi / count)
    return float((product / distance).sum()) * MU0 / (4.0 * pi)
