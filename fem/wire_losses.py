"""Losses in round wire at frequency: skin effect of its own current, proximity effect of a transverse field.

Both follow from Bessel functions of the argument x = d/(√2 δ) of the old tables (x = √2 a/δ with the wire's radius a).
They hold for one straight wire. In a winding the wires' induced moments add to the field across each of them, which
:func:`local_field_factor` allows for; how well the whole then holds is measured in docs/ac-resistance.md.

References
----------
NBS Circular 74, *Radio Instruments and Measurements*, 1918 (skin effect of a round wire, resistance and inductance).
S. Butterworth, "On the alternating current resistance of solenoidal coils", Proc. Roy. Soc. A 107, 1925, 693-715.
Lord Rayleigh, "On the influence of obstacles arranged in rectangular order upon the properties of a medium", Phil. Mag.
34, 1892, 481-502 (field that acts on one of many cylinders).
"""

from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ive, jve

from fem.graded_rules import FloatArray
from geometries.constants import MAGNETIC_CONSTANT, skin_depth

__all__ = [
    "direct_current_resistance",
    "internal_inductance_ratio",
    "local_field_factor",
    "proximity_loss_per_length",
    "proximity_note",
    "skin_depth",
    "skin_effect_ratio",
    "transverse_field_factor",
]

THIN_WIRE_LIMIT = 1.5
"""Diameter over skin depth up to which a winding's resistance is within 1 % of wires solved one by one."""


def direct_current_resistance(length: float, diameter: float, conductivity: float) -> float:
    """Resistance of a round wire to direct current [Ω].

    Parameters
    ----------
    length, diameter : float
        [m].
    conductivity : float
        At the wire's temperature [S/m].
    """
    return length / (conductivity * 0.25 * pi * diameter**2)


def skin_effect_ratio(diameter: ArrayLike, frequency: ArrayLike, conductivity: ArrayLike) -> FloatArray:
    """Resistance of a lone round wire at frequency, over its resistance to direct current.

    Parameters
    ----------
    diameter : array_like
        [m].
    frequency : array_like
        [Hz], above 0.
    conductivity : array_like
        [S/m]; the wire is not magnetic.

    Returns
    -------
    ndarray
        R/R0 [1].

    Notes
    -----
    Z/R0 = (ka/2) J0(ka)/J1(ka), k = (1 − j)/δ, time convention e^(+jωt).
    """
    return 1.0 + np.real(_internal_excess(_radius_over_depth(diameter, frequency, conductivity)))


def internal_inductance_ratio(diameter: ArrayLike, frequency: ArrayLike, conductivity: ArrayLike) -> FloatArray:
    """Internal inductance of a lone round wire at frequency, over μ0/(8π) per length of direct current [1].

    Parameters as in :func:`skin_effect_ratio`.
    """
    ratio = _radius_over_depth(diameter, frequency, conductivity)
    inductance: FloatArray = 4.0 * np.imag(_internal_excess(ratio)) / ratio**2
    return inductance


def transverse_field_factor(x: ArrayLike) -> FloatArray:
    """Butterworth's G(x) = (x/4)(ber x ber′x + bei x bei′x)/(ber²x + bei²x).

    Parameters
    ----------
    x : array_like
        d/(√2 δ) [1], above 0.

    Notes
    -----
    G = (x²/8) Im[I2(ζ)/I0(ζ)], ζ = (1 + j) x/√2: the same by recurrence, without the loss of digits at small x, where
    G = x⁴/64.
    """
    x = np.asarray(x, dtype=float)
    argument = (1.0 + 1.0j) * np.sqrt(0.5) * x
    factor: FloatArray = x**2 / 8.0 * np.imag(ive(2, argument) / ive(0, argument))
    return factor


def local_field_factor(
    diameter: ArrayLike, frequency: ArrayLike, conductivity: ArrayLike, fill: ArrayLike
) -> FloatArray:
    """|H|² across a wire among others, over that of the winding's evenly spread current.

    Parameters
    ----------
    diameter, frequency, conductivity : array_like
        [m], [Hz], [S/m].
    fill : array_like
        Part of the section that is conductor [1].

    Returns
    -------
    ndarray
        1/\\|1 − f J2(ka)/J0(ka)\\|² [1], k = (1 − j)/δ: at most 1.

    Notes
    -----
    A wire's transverse moment per area is 2 J2/J0 times the field H + M/2 that acts on it, M = f times that moment:
    Rayleigh's first term, exact for round wires on a square or hexagonal lattice but for their higher multipoles.
    """
    ka = (1.0 - 1.0j) * _radius_over_depth(diameter, frequency, conductivity)
    factor: FloatArray = np.abs(1.0 - np.asarray(fill) * jve(2, ka) / jve(0, ka)) ** -2.0
    return factor


def proximity_loss_per_length(
    diameter: ArrayLike, frequency: ArrayLike, conductivity: ArrayLike, field: ArrayLike
) -> FloatArray:
    """Power lost in a round wire in a uniform alternating field across it.

    Parameters
    ----------
    diameter : array_like
        [m].
    frequency : array_like
        [Hz].
    conductivity : array_like
        [S/m].
    field : array_like
        Peak magnetic field H across the wire, as it would be without the wire [A/m]; the modulus counts. Where the
        two components are out of phase, √(\\|H_r\\|² + \\|H_z\\|²).

    Returns
    -------
    ndarray
        Mean power per length [W/m]: (8π/σ) H² G(x), which is πω²μ0²σd⁴H²/128 where the wire is thin against δ.
    """
    x = np.sqrt(2.0) * _radius_over_depth(diameter, frequency, conductivity)
    loss: FloatArray = 8.0 * pi / np.asarray(conductivity) * np.abs(field) ** 2 * transverse_field_factor(x)
    return loss


def proximity_note(diameter: float, frequency: float, conductivity: float) -> str | None:
    """Sentence that says a winding's resistance is doubtful for this wire; None where it is good.

    Parameters
    ----------
    diameter : float
        [m].
    frequency : float
        [Hz].
    conductivity : float
        [S/m].
    """
    depth = skin_depth(frequency, conductivity)
    if diameter <= THIN_WIRE_LIMIT * depth:
        return None
    return (
        f"the wire is {diameter / depth:.2g} skin depths thick ({diameter * 1e3:.3g} mm against {depth * 1e3:.3g} mm): "
        f"above {THIN_WIRE_LIMIT:g} its turns react on each other in more ways than are reckoned with; the winding's "
        "resistance is good to 3 % up to 2 skin depths and an estimate beyond"
    )


def _radius_over_depth(diameter: ArrayLike, frequency: ArrayLike, conductivity: ArrayLike) -> FloatArray:
    diameter, frequency, conductivity = (np.asarray(v, dtype=float) for v in (diameter, frequency, conductivity))
    ratio: FloatArray = 0.5 * diameter * np.sqrt(pi * frequency * MAGNETIC_CONSTANT * conductivity)
    return ratio


def _internal_excess(radius_over_depth: FloatArray) -> NDArray[np.complex128]:
    """Z/R0 − 1 = −(ka/2) J2(ka)/J1(ka); the exponentially scaled functions' factors cancel."""
    ka = (1.0 - 1.0j) * radius_over_depth
    excess: NDArray[np.complex128] = -0.5 * ka * jve(2, ka) / jve(1, ka)
    return excess
