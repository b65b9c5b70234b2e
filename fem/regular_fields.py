"""Source-free axisymmetric fields by their profile along the axis: B_z(0, s) = (s/a)^k."""

from math import factorial

import numpy as np

from fem.arrays import Array


def regular_field(degree: int, scale: float, r: Array, z: Array) -> tuple[Array, Array, Array]:
    """Potential and flux density of the field whose axial profile is (z/scale)^degree.

    Parameters
    ----------
    degree : int
        k.
    scale : float
        a [m].
    r, z : ndarray
        Places [m].

    Returns
    -------
    potential, radial, axial : ndarray
        A [m] and B_r, B_z [1] per tesla of profile.

    Notes
    -----
    A_k = ½ Σ_j (−1)^j k! / (4^j j! (j+1)! (k−2j)!) ρ^{2j+1} ζ^{k−2j}, in units of a; B = curl A.
    """
    rho, zeta = _powers(r / scale, degree + 1), _powers(z / scale, degree)
    potential, radial, axial = (np.zeros_like(rho[0]) for _ in range(3))
    for j in range(degree // 2 + 1):
        power = degree - 2 * j
        factor = 0.5 * (-1) ** j * factorial(degree)
        factor /= 4**j * factorial(j) * factorial(j + 1) * factorial(power)
        potential += factor * rho[2 * j + 1] * zeta[power]
        axial += factor * (2 * j + 2) * rho[2 * j] * zeta[power]
        if power:
            radial -= factor * power * rho[2 * j + 1] * zeta[power - 1]
    return potential * scale, radial, axial


def _powers(values: Array, highest: int) -> list[Array]:
    """The powers from 0 to ``highest``, each from the one before: several times quicker than raising each anew."""
    found = [np.ones_like(values)]
    for _ in range(highest):
        found.append(found[-1] * values)
    return found


def uniform_field(r: Array, z: Array) -> tuple[Array, Array, Array]:
    """A uniform axial field of 1 T: A = r/2."""
    return regular_field(0, 1.0, r, z)
