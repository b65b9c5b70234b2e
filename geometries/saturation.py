"""How a ferrite gives way to a steady field: a stated law of magnetisation, and the permeability that it leaves.

Notes
-----
Fröhlich's and Kennelly's law, J = J_s H/(H + a) with a = J_s/(μ0(μ_i − 1)), so that B = μ0 H + J, gives

    secant       μ = B/(μ0 H)  = 1 + (μ_i − 1)/(1 + x)
    incremental  μ_d = dB/(μ0 dH) = 1 + (μ_i − 1)/(1 + x)²,    x = H/a.

It has no hysteresis, begins at the initial permeability and ends at the saturation flux density; both limits are
exact, what lies between is a fit. The permeability that a *small* signal meets on a biased material is less than the
slope of the curve in between (from memory; makers print it as a curve against the steady field), so that a core
moderately biased may have less permeability than this law says: the ends, unbiased and saturated, do not depend on it.

References
----------
O. Fröhlich, 1881; A. E. Kennelly, "Magnetic reluctance", 1891 (the law that their names stand for; from memory).
"""

from dataclasses import dataclass

from geometries.constants import MAGNETIC_CONSTANT


@dataclass(frozen=True, slots=True)
class Biased:
    """A material in a steady field.

    ``flux_density`` [T], ``field_strength`` [A/m], ``secant_permeability`` B/(μ0 H) and ``incremental_permeability``
    dB/(μ0 dH) [1], and the ``saturated_share`` J/J_s that its magnetisation is of the greatest [1].
    """

    flux_density: float
    field_strength: float
    secant_permeability: float
    incremental_permeability: float
    saturated_share: float


@dataclass(frozen=True, slots=True)
class SaturationLaw:
    """Of a material with an initial permeability μ_i above 1 [1] and a saturation flux density [T]."""

    initial_permeability: float
    saturation_flux_density: float

    @property
    def _knee(self) -> float:
        """a, the field strength at which half the greatest magnetisation is reached [A/m]."""
        return self.saturation_flux_density / (MAGNETIC_CONSTANT * (self.initial_permeability - 1.0))

    def at_secant(self, permeability: float) -> Biased:
        """The state in which B/(μ0 H) is a ``permeability`` above 1, at most the initial one [1]."""
        x = (self.initial_permeability - permeability) / (permeability - 1.0)
        return self._at(x)

    def at_flux_density(self, flux_density: float) -> Biased:
        """The state at a ``flux_density`` [T]; of its size alone, B and H along each other."""
        b, knee = abs(flux_density), self._knee
        # μ0 H² + (μ0 a + J_s − B) H − a B = 0, its positive root without a difference of like numbers.
        half = 0.5 * (MAGNETIC_CONSTANT * knee + self.saturation_flux_density - b)
        root = (half * half + MAGNETIC_CONSTANT * knee * b) ** 0.5
        strength = knee * b / (half + root) if half > 0.0 else (root - half) / MAGNETIC_CONSTANT
        return self._at(strength / knee)

    def _at(self, x: float) -> Biased:
        strength, above = x * self._knee, self.initial_permeability - 1.0
        share = x / (1.0 + x)
        return Biased(
            MAGNETIC_CONSTANT * strength + share * self.saturation_flux_density,
            strength,
            1.0 + above / (1.0 + x),
            1.0 + above / (1.0 + x) ** 2,
            share,
        )
