"""Thin cylindrical current sheets in air: filaments integrated once or twice over their height, in closed form.

A sheet of radius a carries 1 A per metre of its length, from height 0 to ζ below the point; every function is the
primitive over ζ of a filament's formula, so a sheet from one height to another is a difference of two values.

With the complete integral, 0 … π/2,

    I(n, m) = ∫ sin²θ cos²θ / ((1 − n sin²θ) √(1 − m sin²θ)) dθ = [D(m) − (1 − n) R_J(0, 1 − m, 1, 1 − n)/3] / n

n = 4ar/(a + r)², and D and C as in ``closed_forms_loops``. Functions take a − r apart from a and r, because quadrature
over a crowds its nodes about a = r, where the difference of the rounded radii would lose all its digits.

References
----------
B. C. Carlson, "Numerical computation of real or complex elliptic integrals", Numer. Algorithms 10, 1995, 13-26.
The integrals over the azimuth follow from the filaments' by parts; derived here and checked by quadrature in the tests.
"""

from math import pi

import numpy as np
from scipy.special import ellipkm1, elliprd, elliprj

from fem.graded_rules import FloatArray
from geometries.constants import MAGNETIC_CONSTANT

SMALL_PARAMETER = 0.05
"""n below which I(n, m) is summed round the azimuth, since its closed form would lose the digits of n."""


def sheet_vector_potential(a: FloatArray, r: FloatArray, a_less_r: FloatArray, zeta: FloatArray) -> FloatArray:
    """∫ of a filament's A_φ over its height, from 0 to ``zeta`` away from the point.

    Parameters
    ----------
    a, r : ndarray
        Radii of the sheet and of the point [m].
    a_less_r : ndarray
        a − r [m], not 0 where ``zeta`` is 0.
    zeta : ndarray
        [m]; the result is odd in it.

    Returns
    -------
    ndarray
        [Wb/A].

    Notes
    -----
    (μ0 a² r ζ/2π) ∫ sin²φ / (ρ² √(ρ² + ζ²)) dφ over 0 … π with ρ² = a² + r² − 2ar cos φ.
    """
    far = np.hypot(a + r, zeta)
    integral = _integral_i(a + r, a_less_r, zeta)
    return 4.0 * MAGNETIC_CONSTANT * a**2 * r * zeta * integral / (pi * far * (a + r) ** 2)


def sheet_axial_flux_density(a: FloatArray, r: FloatArray, a_less_r: FloatArray, zeta: FloatArray) -> FloatArray:
    """∫ of a filament's B_z over its height, from 0 to ``zeta`` away from the point [T·m/A].

    Parameters as in :func:`sheet_vector_potential`; odd in ``zeta``, and it jumps across the sheet.

    Notes
    -----
    (μ0 ζ/2π d2) [K(m) + (a − r)/(a + r) Π(n, m)], loses the digits of (a/r)² far outside the sheet.
    """
    total = a + r
    far = np.hypot(total, zeta)
    less_m, less_n = (a_less_r**2 + zeta**2) / far**2, (a_less_r / total) ** 2
    # Π − K = (n/3) R_J, and K (1 + (a − r)/(a + r)) = 2aK/(a + r).
    excess = (1.0 - less_n) * elliprj(0.0, less_m, 1.0, less_n) / 3.0
    bracket = 2.0 * a * ellipkm1(less_m) / total + a_less_r / total * excess
    flux_density: FloatArray = MAGNETIC_CONSTANT * zeta * bracket / (2.0 * pi * far)
    return flux_density


def sheets_mutual_primitive(a: FloatArray, b: FloatArray, a_less_b: FloatArray, zeta: FloatArray) -> FloatArray:
    """Second primitive over the distance ζ of the mutual inductance of two filaments, less a constant.

    Parameters
    ----------
    a, b : ndarray
        Radii [m].
    a_less_b : ndarray
        a − b [m], not 0 where ``zeta`` is 0.
    zeta : ndarray
        [m]; the result is even in it.

    Returns
    -------
    ndarray
        [H·m²]. Second differences of it are the mutual inductances of two sheets.

    Notes
    -----
    μ0 a² b² ∫ sin²φ √(ρ² + ζ²)/ρ² dφ over 0 … π with ρ² = a² + b² − 2ab cos φ.
    """
    near, far = np.hypot(a_less_b, zeta), np.hypot(a + b, zeta)
    whole = near + far
    d = elliprd(0.0, (near / far) ** 2, 1.0) / 3.0
    c = (2.0 / 3.0) * (far / whole) ** 3 * elliprd(0.0, 4.0 * near * far / whole**2, 1.0)
    integral = (d - c) / 3.0 + (zeta / (a + b)) ** 2 * _integral_i(a + b, a_less_b, zeta)
    primitive: FloatArray = 8.0 * MAGNETIC_CONSTANT * (a * b) ** 2 * integral / far
    return primitive


def _integral_i(total: FloatArray, difference: FloatArray, zeta: FloatArray) -> FloatArray:
    """I(n, m) for radii of the given sum and difference [1]."""
    total, difference, zeta = np.broadcast_arrays(total, difference, zeta)
    far2 = total**2 + zeta**2
    less_m, less_n = (difference**2 + zeta**2) / far2, (difference / total) ** 2
    n = (total - difference) * (total + difference) / total**2
    small = n < SMALL_PARAMETER
    n_safe = np.where(small, 1.0, n)
    closed = (elliprd(0.0, less_m, 1.0) - less_n * elliprj(0.0, less_m, 1.0, less_n)) / (3.0 * n_safe)
    if np.any(small):
        closed = np.array(closed)
        closed[small] = _summed_integral_i(n[small], 1.0 - less_m[small])
    return np.asarray(closed)


def _summed_integral_i(n: FloatArray, m: FloatArray) -> FloatArray:
    # Trapezoid over a full period; the integrand's nearest singularity is at sin²θ = 1/n ≥ 20.
    sine2 = np.sin(pi * (np.arange(16) + 0.5) / 32.0) ** 2
    values = sine2 * (1.0 - sine2) / ((1.0 - n[:, None] * sine2) * np.sqrt(1.0 - m[:, None] * sine2))
    mean: FloatArray = 0.5 * pi * values.mean(axis=1)
    return mean
