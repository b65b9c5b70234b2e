"""M by the whole volume integral of DESIGN 4.3: the check of the axial moments, and the way out where they fail."""

import numpy as np

from fem.arrays import Array, ComplexArray
from fem.sources import Rings, unit_ring
from fem.tag_solution import TagSolution

AROUND = 24
"""Points round the tag's own axis; the integrand is periodic, so the rule converges exponentially."""


def volume_mutual_inductance(
    sources: tuple[Rings, ...], tag: TagSolution, height: float, offset: float, tilt: float
) -> complex:
    """M per turn² = ∫ A_b · J_t dV + ∫ B_b · M_t dV with the tag moved and turned to its place [H].

    Parameters
    ----------
    sources : tuple of Rings
        Of the base coil with its surroundings, per ampere.
    tag : TagSolution
        Per ampere.
    height, offset, tilt : float
        Place of the tag's centre [m], [m] and lean of its axis [rad], outward positive.

    Notes
    -----
    Only the moved tag has to lie outside the base's sources, not the sphere about it.
    """
    total = 0.0 + 0.0j
    for rings in tag.sources:
        total += _integral(sources, rings, height, offset, tilt)
    return total


def _integral(sources: tuple[Rings, ...], tag: Rings, height: float, offset: float, tilt: float) -> complex:
    angle = 2.0 * np.pi * np.arange(AROUND) / AROUND
    cos, sin = np.cos(angle), np.sin(angle)
    rho = tag.radius[:, None]
    x, y = rho * cos, rho * sin
    z = np.broadcast_to(tag.height[:, None], x.shape)
    turned_x, turned_z = offset + np.cos(tilt) * x + np.sin(tilt) * z, height - np.sin(tilt) * x + np.cos(tilt) * z
    r = np.hypot(turned_x, y)
    potential, radial, axial = base_field(sources, r, turned_z)
    a_x, a_y = -potential * y / r, potential * turned_x / r
    b_x, b_y = radial * turned_x / r, radial * y / r
    azimuthal = a_x * np.cos(tilt) * -sin + a_y * cos
    own_x, own_z = np.cos(tilt) * b_x - np.sin(tilt) * axial, np.sin(tilt) * b_x + np.cos(tilt) * axial
    own_radial = own_x * cos + b_y * sin
    density = (
        azimuthal.mean(axis=1) * tag.current + own_radial.mean(axis=1) * tag.radial + own_z.mean(axis=1) * tag.axial
    )
    return complex(2.0 * np.pi * (tag.weight * density).sum())


def base_field(sources: tuple[Rings, ...], r: Array, z: Array) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """A [T m], B_r and B_z [T] straight from the sources, at places off the axis and outside them; shape of ``r``."""
    found = np.zeros((3, r.size), dtype=complex)
    for rings in sources:
        step = max(1, 200_000 // rings.radius.size)
        for start in range(0, r.size, step):
            place = slice(start, start + step)
            found[:, place] += _ring_sum(rings, r.ravel()[place, None], z.ravel()[place, None])
    return tuple(part.reshape(r.shape) for part in found)  # type: ignore[return-value]


def _ring_sum(rings: Rings, r: Array, z: Array) -> ComplexArray:
    """Fields of current rings and, by a central difference of the potential, of ring dipoles."""
    strength = rings.weight * rings.current / rings.radius
    found = np.stack([part @ strength for part in unit_ring(rings.radius, rings.height, r, z)])
    if not rings.magnetised:
        return found
    step = 1e-5
    shifts = ((0.0, 0.0), (step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step))
    moved = [_moment_potential(rings, r + dr, z + dz) for dr, dz in shifts]
    radius = r.ravel()
    radial = -(moved[3] - moved[4]) / (2.0 * step)
    axial = ((radius + step) * moved[1] - (radius - step) * moved[2]) / (2.0 * step) / radius
    return found + np.stack([moved[0], radial, axial])


def _moment_potential(rings: Rings, r: Array, z: Array) -> ComplexArray:
    _, radial, axial = unit_ring(r, z, rings.radius, rings.height)
    return np.asarray((radial @ (rings.weight * rings.radial) + axial @ (rings.weight * rings.axial)) / r.ravel())
