"""What the weak currents of a liquid round the tag add to the base field.

The map takes its field from sources that lie clear of the tag; a liquid's currents do not. They are left out of it, and
their share of the field, taken on the axis where their integral is finite everywhere, corrects M by height.
"""

from dataclasses import dataclass

import numpy as np

from fem.arrays import Array, ComplexArray
from fem.sources import Rings

SAMPLES = 60
SHARE_ERROR = 0.1
"""What is not known of the share on the axis: the room that the tag takes from the liquid, and the quadrature."""


@dataclass(frozen=True, slots=True, eq=False)
class LiquidField:
    """Share of a liquid's currents in the axial field over that of all else, by height [m], shape (n,) [1]."""

    heights: Array
    shares: ComplexArray

    def share(self, heights: Array) -> ComplexArray:
        """The share at ``heights`` [1], kept beyond the ends."""
        real, imaginary = (np.interp(heights, self.heights, part) for part in (self.shares.real, self.shares.imag))
        return np.asarray(real + 1j * imaginary)

    @property
    def largest(self) -> float:
        """The largest magnitude at any height [1]."""
        return float(np.abs(self.shares).max())


def liquid_field(liquids: tuple[Rings, ...], others: tuple[Rings, ...], low: float, high: float) -> LiquidField:
    """Shares on the axis from ``low`` to ``high`` [m]."""
    heights = np.linspace(low, high, SAMPLES)
    own = sum((rings.axial_flux_density(heights) for rings in liquids), np.zeros(SAMPLES, dtype=complex))
    return LiquidField(heights, own / sum(rings.axial_flux_density(heights) for rings in others))
