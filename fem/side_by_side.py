"""Mutual inductance of two equal windings whose axes are parallel, in air: neighbours on a bench."""

from functools import lru_cache
from math import pi

import numpy as np

from fem.closed_forms_windings import winding_self_inductance
from fem.coil_field import coil_potential
from fem.errors import AccuracyError
from fem.graded_rules import gauss_rule
from geometries.section import WindingSection

ORDERS = ((2, 16), (3, 32), (4, 64), (6, 128), (8, 256), (10, 512))
"""Gauss points along a side of the second's section, and points round each of its filaments, tried in turn."""

TOLERANCE = 1e-4
"""Change from one of them to the next, relative to M or, near its zero, to a thousandth of the inductance of either."""


@lru_cache(maxsize=256)
def side_by_side_mutual_inductance(section: WindingSection, spacing: float, level: float) -> float:
    """Mutual inductance of a winding and its like beside it, one turn each [H].

    Parameters
    ----------
    section : WindingSection
        Of either, in its own axes.
    spacing : float
        Of the two axes, more than the winding's outer diameter [m].
    level : float
        How much higher the second stands [m].

    Returns
    -------
    float
        Negative side by side at one level: the field of the one passes back through the other.

    Raises
    ------
    AccuracyError
        Where they all but touch.

    Notes
    -----
    M = ∮ A · dl round the filaments of the second, A the closed form of the first's winding. With a filament of radius
    b at angle φ, r² = d² + b² + 2 d b cos φ and the part of A along it is (b + d cos φ)/r. The trapezoidal rule of a
    periodic integrand converges exponentially, the faster the more room there is between the two.
    """
    assert spacing > 2.0 * section.outer_radius, "the windings stand clear of each other"
    least = TOLERANCE * 1e-3 * winding_self_inductance(section, 1.0)
    before = _integral(section, spacing, level, ORDERS[0])
    for order in ORDERS[1:]:
        now = _integral(section, spacing, level, order)
        if abs(now - before) <= max(TOLERANCE * abs(now), least):
            return now
        before = now
    raise AccuracyError(
        f"mutual inductance of neighbours {spacing * 1e3:.4g} mm apart still moves by more than {TOLERANCE:g} of it, "
        "because the windings all but touch; move them apart"
    )


def _integral(section: WindingSection, spacing: float, level: float, order: tuple[int, int]) -> float:
    x, weights = gauss_rule(order[0])
    radii, heights = np.meshgrid(
        section.inner_radius + section.radial_build * x, section.bottom + level + section.winding_length * x
    )
    b, z = radii.reshape(-1, 1), heights.reshape(-1, 1)
    angle = pi * (np.arange(order[1]) + 0.5) / order[1]  # the other half is the same
    r = np.sqrt(spacing**2 + b * b + 2.0 * spacing * b * np.cos(angle))
    potential = coil_potential(section, r.ravel(), np.broadcast_to(z, r.shape).ravel()).reshape(r.shape)
    round_it = (potential * (b + spacing * np.cos(angle)) / r).mean(axis=1) * 2.0 * pi * b[:, 0]
    return float(np.outer(weights, weights).ravel() @ round_it)
