"""A thin foil disc as many ring-shaped circuits: a second way to eddy currents, with nothing of the solver in it.

The foil is cut into concentric rings, each with its resistance, its self-inductance and its mutual inductances to all
others and to the coil; Kirchhoff's voltage law for the rings is one dense system. Only filament formulas are used
(Maxwell's in K and E, typed again here), with the geometric mean distances of coplanar strips for a ring on itself and
the others (the error then falls with the square of the ring width).

References
----------
J. C. Maxwell, *A Treatise on Electricity and Magnetism*, 1873, vol. 2 ch. XIV: two coaxial circles; a strip's geometric
mean distance w e^(−3/2). E. B. Rosa, F. W. Grover, Bull. NBS 8, 1912: L = μ0 r [ln(8r/g) − 2] of a ring.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ellipe, ellipkm1

from geometries.section import WindingSection

FloatArray = NDArray[np.float64]
MU0 = 4e-7 * pi
COIL_POINTS = 12


@dataclass(frozen=True, slots=True)
class FoilDisc:
    """Thin round foil across the axis: radii and height [m], sheet conductance σt [S], frequency [Hz]."""

    inner_radius: float
    outer_radius: float
    height: float
    conductance: float
    frequency: float


def foil_reflection(
    section: WindingSection,
    turns: float,
    foil_inner_radius: float,
    foil_outer_radius: float,
    foil_height: float,
    sheet_conductance: float,
    frequency: float,
    rings: int = 400,
) -> complex:
    """Impedance [Ω] that the foil adds to a coil: ω² mᵀ (R + jωL)⁻¹ m, phasors e^(+jωt)."""
    foil = FoilDisc(foil_inner_radius, foil_outer_radius, foil_height, sheet_conductance, frequency)
    to_coil = turns * coil_to_rings(section, foil, rings)
    return complex((2.0 * pi * frequency) ** 2 * (to_coil @ np.linalg.solve(ring_impedances(foil, rings), to_coil)))


def foil_mutual(
    section: WindingSection,
    turns: float,
    foil_inner_radius: float,
    foil_outer_radius: float,
    foil_height: float,
    sheet_conductance: float,
    frequency: float,
    probe_radius: float,
    probe_height: float,
    rings: int = 400,
) -> complex:
    """What the foil adds [H] to the mutual inductance of a coil and a coaxial circular filament."""
    foil = FoilDisc(foil_inner_radius, foil_outer_radius, foil_height, sheet_conductance, frequency)
    to_coil = turns * coil_to_rings(section, foil, rings)
    to_probe = circles_mutual(probe_radius, _ring_radii(foil, rings), probe_height - foil_height)
    currents = -2j * pi * frequency * np.linalg.solve(ring_impedances(foil, rings), to_coil)
    return complex(to_probe @ currents)


def circles_mutual(a: ArrayLike, b: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Maxwell's mutual inductance of two coaxial circles [H]: μ0 √(ab) [(2/k − k) K − (2/k) E]."""
    a, b, distance = (np.asarray(v, dtype=float) for v in (a, b, distance))
    total2 = (a + b) ** 2 + distance**2
    less = ((a - b) ** 2 + distance**2) / total2
    k = np.sqrt(4.0 * a * b / total2)
    return MU0 * np.sqrt(a * b) * ((2.0 / k - k) * ellipkm1(less) - 2.0 / k * ellipe(1.0 - less))


def _ring_width(foil: FoilDisc, rings: int) -> float:
    return (foil.outer_radius - foil.inner_radius) / rings


def _ring_radii(foil: FoilDisc, rings: int) -> FloatArray:
    return foil.inner_radius + _ring_width(foil, rings) * (np.arange(rings) + 0.5)


def coil_to_rings(section: WindingSection, foil: FoilDisc, rings: int) -> FloatArray:
    """Mutual inductance of each ring and one turn of the coil [H]."""
    x, weights = np.polynomial.legendre.leggauss(COIL_POINTS)
    radii = section.mean_radius + 0.5 * section.radial_build * x
    heights = section.mid_height + 0.5 * section.winding_length * x - foil.height
    ring = _ring_radii(foil, rings)[:, None, None]
    return 0.25 * np.einsum("rij,i,j->r", circles_mutual(radii[:, None], ring, heights), weights, weights)


def ring_impedances(foil: FoilDisc, rings: int) -> NDArray[np.complex128]:
    """R + jωL of the rings [Ω]."""
    radii, width = _ring_radii(foil, rings), _ring_width(foil, rings)
    steps = np.abs(np.subtract.outer(np.arange(rings), np.arange(rings)))
    distances = circles_mutual(radii[:, None], radii + np.diag(np.full(rings, 0.5 * width)), 0.0)
    nearer = MU0 * np.sqrt(np.outer(radii, radii)) * _strip_corrections(rings)[steps]
    inductances = np.where(steps > 0, distances + nearer, 0.0)
    inductances += np.diag(MU0 * radii * (np.log(8.0 * radii / width) + 1.5 - 2.0))
    resistances = np.diag(2.0 * pi * radii / (foil.conductance * width))
    return resistances + 2j * pi * foil.frequency * inductances


def _strip_corrections(rings: int) -> FloatArray:
    """ln(k) − ln(geometric mean distance of two coplanar strips of width 1, k steps apart), k = 0 … rings − 1."""
    k = np.arange(1.0, rings)
    inner = (k - 1.0) ** 2 * np.log(np.maximum(k - 1.0, 1.0))
    mean = 0.5 * ((k + 1.0) ** 2 * np.log(k + 1.0) + inner) - k**2 * np.log(k) - 1.5
    return np.concatenate(([0.0], np.log(k) - mean))
