"""Coils beside plane layers that reach to infinity sideways: Bessel integrals over plane waves of the field.

The field of a coil is a sum of J1(αr) e^(−αz); layers that lie across the axis reflect each α with a factor Γ(α) and
pass it with a factor T(α). Phasors follow e^(+jωt); a perfect conductor has Γ = −1. The layers' surface towards the
first winding is the plane z = 0, and layers are listed from that surface away from it. Integrals are cut into panels of
half a period of the fastest Bessel function and need a clearance between winding and surface.

References
----------
C. V. Dodd, W. E. Deeds, "Analytical solutions to eddy-current probe-coil problems", J. Appl. Phys. 39, 1968, 2829-2838.
The ribbon layer's factor: a sheet magnetised against its normal field, from the loss σω²B²tw³/24 per length of a strip.
"""

from collections.abc import Callable, Sequence
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.special import j0, j1, struve

from fem.graded_rules import FloatArray, gauss_rule
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection

ComplexArray = NDArray[np.complex128]
PlaneFactor = Callable[[FloatArray], ComplexArray]
PlaneLayer = tuple[float, complex, float | None]
"""Conductivity [S/m], relative permeability μ' − jμ'' [1], thickness [m] (None: without end)."""

PANEL_POINTS = 12
LAST_EXPONENT = 42.0
"""e^(−2αl) is cut off at e^(−42), below rounding."""
LAST_ARGUMENT = 2000.0
"""… or at αr where the section's own factor, which falls like (αr)⁻⁵, is below rounding."""


def layered_coil_impedance_change(
    section: WindingSection, turns: float, frequency: float, layers: Sequence[PlaneLayer]
) -> complex:
    """What plane layers add to a coil's impedance.

    Parameters
    ----------
    section : WindingSection
        The winding [m], wholly above the surface z = 0, or wholly below it (then the layers lie above it).
    turns : float
        Number of turns.
    frequency : float
        [Hz].
    layers : sequence of (conductivity, relative_permeability, thickness)
        From the surface away from the coil, [S/m], [1], [m]; behind the last lies air, or, where its thickness is None,
        nothing else.

    Returns
    -------
    complex
        ΔZ = ΔR + jωΔL [Ω].

    Raises
    ------
    ValueError
        If the winding touches or crosses the surface, or a layer without end is not the last.
    """
    return reflected_impedance(section, turns, frequency, lambda alpha: layers_factors(alpha, frequency, layers)[0])


def reflected_impedance(section: WindingSection, turns: float, frequency: float, reflection: PlaneFactor) -> complex:
    """Impedance ΔZ = jωΔL [Ω] that a plane with the reflection factor Γ(α) at z = 0 adds to a coil.

    Parameters as in :func:`layered_coil_impedance_change`; ``reflection`` takes α [1/m] and returns Γ [1].
    """
    change = reflected_mutual_inductance(section, turns, section, turns, reflection)
    return 2j * pi * frequency * change


def reflected_mutual_inductance(
    section1: WindingSection, turns1: float, section2: WindingSection, turns2: float, reflection: PlaneFactor
) -> complex:
    """What a plane at z = 0 adds to the mutual inductance of two coaxial windings on the same side of it.

    Parameters
    ----------
    section1, section2 : WindingSection
        Both above or both below z = 0 [m].
    turns1, turns2 : float
        Numbers of turns.
    reflection : callable
        Γ(α), α in [1/m].

    Returns
    -------
    complex
        ΔM [H]: M with the plane is the mutual inductance in air plus this.

    Raises
    ------
    ValueError
        If a winding touches the plane, or they lie on different sides.
    """
    if _side(section1) != _side(section2):
        raise ValueError("reflected_mutual_inductance: the windings lie on different sides of the plane z = 0")
    return _plane_integral(section1, section2, reflection) * turns1 * turns2


def transmitted_mutual_inductance(
    section1: WindingSection,
    turns1: float,
    section2: WindingSection,
    turns2: float,
    transmission: PlaneFactor,
    thickness: float = 0.0,
) -> complex:
    """Mutual inductance [H] of two coaxial windings on the two sides of plane layers.

    Parameters
    ----------
    section1 : WindingSection
        Wholly above z = 0 [m].
    section2 : WindingSection
        Wholly below the layers' other surface z = −``thickness`` [m].
    turns1, turns2 : float
        Numbers of turns.
    transmission : callable
        T(α), from the upper surface to the lower one; e^(−α·thickness) for air.
    thickness : float
        Thickness of the layers altogether [m].

    Raises
    ------
    ValueError
        If a winding is not clear on its side.
    """
    below = section2.raised(thickness)
    if _side(section1) != 1 or _side(below) != -1:
        raise ValueError("transmitted_mutual_inductance: one winding must lie above the layers and the other below")
    return _plane_integral(section1, below, transmission) * turns1 * turns2


def layers_factors(
    alpha: FloatArray, frequency: float, layers: Sequence[PlaneLayer]
) -> tuple[ComplexArray, ComplexArray]:
    """Reflection and transmission factors of a stack of plane layers.

    Parameters
    ----------
    alpha : ndarray
        [1/m].
    frequency : float
        [Hz].
    layers : sequence of (conductivity, relative_permeability, thickness)
        From the side of the incoming field; behind the last lies air unless its thickness is None.

    Returns
    -------
    reflection, transmission : ndarray
        Γ at the first surface; T from the first surface to the last, 0 through a layer without end.

    Raises
    ------
    ValueError
        If a layer without end is not the last.

    Notes
    -----
    α_i = √(α² + jωμ_iσ_i); at each surface A and (1/μ) ∂A/∂z are continuous, (α_i/μ_i − α_j/μ_j)/(α_i/μ_i + α_j/μ_j).
    """
    if any(thickness is None for _, _, thickness in layers[:-1]):
        raise ValueError("layers_factors: a layer without end (thickness None) must be the last")
    behind: list[PlaneLayer] = [] if layers and layers[-1][2] is None else [(0.0, 1.0, None)]
    media: list[PlaneLayer] = [(0.0, 1.0, None), *layers, *behind]
    reflection, transmission = np.zeros(alpha.shape, dtype=complex), np.ones(alpha.shape, dtype=complex)
    for here, beyond in zip(media[-2::-1], media[:0:-1], strict=True):
        through = _path(alpha, frequency, beyond)
        echo = reflection * through**2
        step = _step(alpha, frequency, here, beyond)
        reflection = (step + echo) / (1.0 + step * echo)
        transmission = transmission * through * (1.0 + reflection) / (1.0 + echo)
    return reflection, transmission if behind else np.zeros_like(transmission)


def sheet_reflection(alpha: FloatArray, frequency: float, conductance: float) -> ComplexArray:
    """Γ = −q/(1 + q) of a thin closed sheet, q = jωμ0σt/(2α) (:func:`sheet_transmission` is 1/(1 + q)).

    Parameters
    ----------
    alpha : ndarray
        [1/m].
    frequency : float
        [Hz].
    conductance : float
        σt, conductivity times thickness [S]; the thickness small against skin depth and distances.
    """
    q = 2j * pi * frequency * MAGNETIC_CONSTANT * conductance / (2.0 * alpha)
    factor: ComplexArray = -q / (1.0 + q)
    return factor


def sheet_transmission(alpha: FloatArray, frequency: float, conductance: float) -> ComplexArray:
    """T = 1 + Γ = 1/(1 + q) of a thin closed sheet; parameters as in :func:`sheet_reflection`."""
    return 1.0 + sheet_reflection(alpha, frequency, conductance)


def ribbon_reflection(
    alpha: FloatArray, frequency: float, conductance: float, ribbon_width: float, pitch: float
) -> ComplexArray:
    """Γ = −q/(1 + q) of a layer of ribbons that cannot carry current right round.

    Parameters
    ----------
    alpha : ndarray
        [1/m].
    frequency : float
        [Hz].
    conductance : float
        σt of a ribbon [S].
    ribbon_width, pitch : float
        Width w, and distance p from one ribbon's middle to the next [m].

    Notes
    -----
    q = jωμ0σt w³α/(24p) times 1/(1 + jcX), X = ωμ0σt w, c = 0.119 − 0.0455 (w/p)² − 0.0155 (w/p)⁶: the ribbons' own and
    their neighbours' screening, fitted to 0.2 % at X = 2; not to be used above X = 2π. A stays continuous across
    the layer, so T = 1 + Γ here as well.
    """
    width = 2.0 * pi * frequency * MAGNETIC_CONSTANT * conductance * ribbon_width
    filled = ribbon_width / pitch
    screening = 1.0 + 1j * (0.119 - 0.0455 * filled**2 - 0.0155 * filled**6) * width
    q = 1j * width * ribbon_width**2 * alpha / (24.0 * pitch * screening)
    factor: ComplexArray = -q / (1.0 + q)
    return factor


def _path(alpha: FloatArray, frequency: float, layer: PlaneLayer) -> ComplexArray:
    """e^(−α_i t) across a layer [1]; 1 for a medium without end, behind which nothing is added."""
    conductivity, permeability, thickness = layer
    if thickness is None:
        return np.ones(alpha.shape, dtype=complex)
    wave: ComplexArray = np.exp(-thickness * _wave_number(alpha, frequency, conductivity, permeability))
    return wave


def _wave_number(alpha: FloatArray, frequency: float, conductivity: float, permeability: complex) -> ComplexArray:
    squared = alpha**2 + 2j * pi * frequency * MAGNETIC_CONSTANT * permeability * conductivity
    root: ComplexArray = np.sqrt(squared)
    return root


def _step(alpha: FloatArray, frequency: float, here: PlaneLayer, beyond: PlaneLayer) -> ComplexArray:
    """(x − y)/(x + y) with x = α_i/μ_i, as (x² − y²)/(x + y)², which keeps the digits of a weak step."""
    (sigma1, mu1, _), (sigma2, mu2, _) = here, beyond
    total = _wave_number(alpha, frequency, sigma1, mu1) / mu1 + _wave_number(alpha, frequency, sigma2, mu2) / mu2
    geometric = alpha**2 * (1.0 / mu1**2 - 1.0 / mu2**2)
    eddy = 2j * pi * frequency * MAGNETIC_CONSTANT * (sigma1 / mu1 - sigma2 / mu2)
    step: ComplexArray = (geometric + eddy) / total**2
    return step


def _side(section: WindingSection) -> int:
    """1 for a winding above z = 0, −1 for one below."""
    if section.bottom > 0.0:
        return 1
    if section.top < 0.0:
        return -1
    raise ValueError(
        f"plane layers: a winding from {section.bottom:g} m to {section.top:g} m touches or crosses the surface; "
        "it must lie wholly on one side"
    )


def _plane_integral(section1: WindingSection, section2: WindingSection, factor: PlaneFactor) -> complex:
    """πμ0 ∫ S1(α) S2(α) F(α) dα [H] with S the sections' factors per turn."""
    nearest = sum(min(abs(section.bottom), abs(section.top)) for section in (section1, section2))
    alpha, weights = _wave_rule(section1, section2, nearest)
    sources = _section_factor(section1, alpha) * _section_factor(section2, alpha)
    return complex(pi * MAGNETIC_CONSTANT * np.sum(weights * sources * factor(alpha)))


def _wave_rule(section1: WindingSection, section2: WindingSection, nearest: float) -> tuple[FloatArray, FloatArray]:
    """Nodes α [1/m] and weights: panels of π/(r1 + r2), the first ones halved again and again towards 0."""
    step = pi / (section1.outer_radius + section2.outer_radius)
    last = min(LAST_EXPONENT / nearest, LAST_ARGUMENT / min(section1.mean_radius, section2.mean_radius))
    halvings = step * 0.5 ** np.arange(40, 0, -1)
    edges = np.concatenate(([0.0], halvings, step * np.arange(1, int(last / step) + 2)))
    x, weights = gauss_rule(PANEL_POINTS)
    widths = np.diff(edges)[:, None]
    return (edges[:-1, None] + widths * x).ravel(), (widths * weights).ravel()


def _section_factor(section: WindingSection, alpha: FloatArray) -> FloatArray:
    """∫∫ r J1(αr) e^(−α|z|) over the section, over its area [m]."""
    near, length = min(abs(section.bottom), abs(section.top)), section.winding_length
    radial = (_bessel_moment(alpha * section.outer_radius) - _bessel_moment(alpha * section.inner_radius)) / alpha**2
    axial = -np.expm1(-alpha * length) * np.exp(-alpha * near) / alpha
    average: FloatArray = radial * axial / section.area
    return average


def _bessel_moment(x: FloatArray) -> FloatArray:
    """∫ t J1(t) dt from 0 to x, in Struve functions."""
    moment: FloatArray = 0.5 * pi * x * (j1(x) * struve(0, x) - j0(x) * struve(1, x))
    return moment
