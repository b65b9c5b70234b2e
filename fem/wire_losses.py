"""Losses in round wire at frequency: skin effect of its own current, proximity effect of a transverse field.

Both follow from Bessel functions of the argument x = d/(√2 δ) of the old tables (x = √2 a/δ with the wire's radius a).
They hold for one straight wire; in a winding they may be added while the wire is thin against its skin depth.

References
----------
NBS Circular 74, *Radio Instruments and Measurements*, 1918 (skin effect of a round wire, resistance and inductance).
S. Butterworth, "On the alternating current resistance of solenoidal coils", Proc. Roy. Soc. A 107, 1925, 693-715.
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
    "proximity_loss_per_length",
    "proximity_note",
    "skin_depth",
    "skin_effect_ratio",
    "transverse_field_factor",
]

THIN_WIRE_LIMIT = 1.5
"""Diameter over skin depth above which neighbouring wires react on each other noticeably (DESIGN 4.4)."""


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
    """Sentence that says the sum of skin and proximity loss is doubtful for this wire; None where it is good.

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
        f"above {THIN_WIRE_LIMIT:g} its turns react on each other, and skin and proximity loss no longer simply add"
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
