"""Circular filaments in air: vector potential, flux density and mutual inductance in closed form.

Everything follows from two complete elliptic integrals that stay of order one everywhere but at the filament itself::

    D(m) = ∫ sin²θ / √(1 − m sin²θ) dθ          C(m) = ∫ sin²θ cos²θ / (1 − m sin²θ)^(3/2) dθ         0 … π/2

with m = 1 − (d1/d2)², d1 and d2 the least and the greatest distance from the point to the filament. Written so, no
formula subtracts nearly equal numbers, neither by the axis nor far away nor close to the wire, which Maxwell's form in
K and E does. D = R_D(0, 1 − m, 1)/3, and a Landen step turns C into one R_D as well.

References
----------
J. C. Maxwell, *A Treatise on Electricity and Magnetism*, 1873, vol. 2 ch. XIV (the same formulas in K and E).
B. C. Carlson, "Numerical computation of real or complex elliptic integrals", Numer. Algorithms 10, 1995, 13-26 (R_D).
"""

from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import elliprd

from fem.errors import AccuracyError
from fem.graded_rules import FloatArray
from geometries.constants import MAGNETIC_CONSTANT

FIRST_LINE_POINTS = 32
MOST_LINE_POINTS = 16384


def loop_vector_potential(radius: ArrayLike, height: ArrayLike, r: ArrayLike, z: ArrayLike) -> FloatArray:
    """Azimuthal vector potential of a circular filament carrying 1 A, in air.

    Parameters
    ----------
    radius, height : array_like
        The filament's radius and its place along the axis [m].
    r, z : array_like
        Points, broadcast against the filament [m]; r is not negative.

    Returns
    -------
    ndarray
        A_φ per ampere [Wb/(m·A)]; exactly 0 on the axis, infinite on the filament.
    """
    return np.asarray(r, dtype=float) * _potential_over_radius(radius, r, np.subtract(z, height))


def loop_flux_density(
    radius: ArrayLike, height: ArrayLike, r: ArrayLike, z: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Flux density (B_r, B_z) of a circular filament carrying 1 A, in air.

    Parameters
    ----------
    radius, height : array_like
        The filament's radius and its place along the axis [m].
    r, z : array_like
        Points, broadcast against the filament [m]; r is not negative.

    Returns
    -------
    radial, axial : ndarray
        [T/A]; the radial one is exactly 0 on the axis.
    """
    a, r, zeta = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (radius, r, np.subtract(z, height))))
    near, far, d, c = _distances_and_integrals(a, r, zeta)
    scale = 2.0 * MAGNETIC_CONSTANT * a**2 / (pi * near**2 * far**3)
    axial = ((a - r) * (a + r) + zeta**2) * d - 2.0 * r * (a - r) * c
    return scale * 2.0 * r * zeta * (d - c), scale * axial


def loop_mutual_inductance(a: ArrayLike, b: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Mutual inductance of two circular filaments on one axis.

    Parameters
    ----------
    a, b : array_like
        Radii [m].
    distance : array_like
        Distance of their planes [m].

    Returns
    -------
    ndarray
        [H].
    """
    b = np.asarray(b, dtype=float)
    return 2.0 * pi * b**2 * _potential_over_radius(a, b, np.asarray(distance, dtype=float))


def displaced_loops_mutual_inductance(
    a: ArrayLike, b: ArrayLike, height: ArrayLike, offset: ArrayLike, tilt: ArrayLike, tolerance: float = 1e-12
) -> FloatArray:
    """Mutual inductance of two circular filaments in any position to each other.

    Parameters
    ----------
    a, b : array_like
        Radii of the first and the second filament [m].
    height : array_like
        Height of the second's centre above the plane of the first [m]; may be negative.
    offset : array_like
        Sideways distance of the second's centre from the axis of the first [m].
    tilt : array_like
        Angle between the axes [rad], positive when the top of the second's axis leans outward, away from the axis of
        the first, in the plane of the offset.
    tolerance : float
        Wanted error, relative to the largest contribution to the integral [1].

    Returns
    -------
    ndarray
        [H], broadcast; positive where the second's flux linkage has the sign of the coaxial, upright case.

    Raises
    ------
    AccuracyError
        If the filaments come so close that the line integral does not settle.

    Notes
    -----
    Neumann's integral: M = ∮ A · dl of the first filament's potential round the second, by the trapezoidal rule, whose
    error falls exponentially because the integrand is periodic and analytic. Points are doubled until it settles.
    """
    arguments = (np.asarray(v, dtype=float) for v in (a, b, height, offset, tilt))
    shape_of = np.broadcast_arrays(*arguments)
    flat = tuple(v.ravel() for v in shape_of)
    total, largest = _line_sum(flat, FIRST_LINE_POINTS, 0.0)
    points = FIRST_LINE_POINTS
    change = np.full_like(total, np.inf)
    while np.any(change > tolerance * largest):
        if points >= MOST_LINE_POINTS:
            raise AccuracyError(_closeness_text(flat, change, largest))
        between, peak = _line_sum(flat, points, pi / points)
        change = 0.5 * np.abs(between - total)
        total, largest, points = 0.5 * (total + between), np.maximum(largest, peak), 2 * points
    return total.reshape(shape_of[0].shape)


def dipole_vector_potential(moment: ArrayLike, height: ArrayLike, r: ArrayLike, z: ArrayLike) -> FloatArray:
    """Azimuthal vector potential of a magnetic dipole on the axis, pointing along it, in air.

    Parameters
    ----------
    moment : array_like
        Magnetic moment [A·m²]; complex for a phasor.
    height : array_like
        Its place along the axis [m].
    r, z : array_like
        Points [m].

    Returns
    -------
    ndarray
        A_φ = μ0 m r / (4π (r² + ζ²)^(3/2)) [Wb/m].
    """
    r, zeta = np.asarray(r, dtype=float), np.subtract(z, height)
    potential: FloatArray = MAGNETIC_CONSTANT * np.asarray(moment) * r / (4.0 * pi * np.hypot(r, zeta) ** 3)
    return potential


def _distances_and_integrals(
    a: FloatArray, r: FloatArray, zeta: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Least and greatest distance to the filament [m], D(m) and C(m) [1]."""
    near, far = np.hypot(a - r, zeta), np.hypot(a + r, zeta)
    d = elliprd(0.0, (near / far) ** 2, 1.0) / 3.0
    return near, far, d, _integral_c(near, far)


def _integral_c(near: FloatArray, far: FloatArray) -> NDArray[np.float64]:
    total = near + far
    c: FloatArray = (2.0 / 3.0) * (far / total) ** 3 * elliprd(0.0, 4.0 * near * far / total**2, 1.0)
    return c


def _potential_over_radius(radius: ArrayLike, r: ArrayLike, zeta: ArrayLike) -> FloatArray:
    """A_φ/r per ampere [Wb/(m²·A)], finite and smooth across the axis."""
    a, r, zeta = (np.asarray(v, dtype=float) for v in (radius, r, zeta))
    return potential_over_radius(a, r, a - r, zeta)


def potential_over_radius(a: FloatArray, r: FloatArray, a_less_r: FloatArray, zeta: FloatArray) -> FloatArray:
    """A_φ/r per ampere of a filament [Wb/(m²·A)], with a − r given apart for rules that crowd about a = r."""
    near, far = np.hypot(a_less_r, zeta), np.hypot(a + r, zeta)
    ratio: FloatArray = 4.0 * MAGNETIC_CONSTANT * a**2 * _integral_c(near, far) / (pi * far**3)
    return ratio


def _line_sum(places: tuple[FloatArray, ...], points: int, shift: float) -> tuple[FloatArray, FloatArray]:
    """Trapezoidal sum [H] over ``points`` equal steps from angle ``shift``, and the largest integrand times 2π."""
    a, b, height, offset, tilt = (v[:, None] for v in places)
    angle = shift + 2.0 * pi * np.arange(points) / points
    along, across = b * np.cos(angle), b * np.sin(angle)
    x, z = offset + along * np.cos(tilt), height - along * np.sin(tilt)
    # x dy − y dx along the second filament; its y is ``across``.
    sweep = x * along + across**2 * np.cos(tilt)
    values = _potential_over_radius(a, np.hypot(x, across), z) * sweep
    return 2.0 * pi * values.mean(axis=1), 2.0 * pi * np.abs(values).max(axis=1)


def _closeness_text(places: tuple[FloatArray, ...], change: FloatArray, largest: FloatArray) -> str:
    worst = int(np.nanargmax(np.where(largest > 0.0, change / largest, 0.0)))
    a, b, height, offset, tilt = (float(v[worst]) for v in places)
    return (
        f"mutual inductance of filaments of radius {a:g} m and {b:g} m at height {height:g} m, offset {offset:g} m, "
        f"tilt {tilt:g} rad: the line integral still moves by {change[worst]:.2g} H after {MOST_LINE_POINTS} points, "
        "because the filaments nearly touch; move them apart or allow a larger tolerance"
    )
