"""Where the input power goes."""

from dataclasses import dataclass
from math import pi

import numpy as np

from links.budget import LinkBudget
from links.quantities import Real, RealArray


@dataclass(frozen=True, slots=True, eq=False)
class PowerBalance:
    """Mean powers of a link, arrays of the budget's shape.

    Parameters
    ----------
    source : ndarray
        Lost in the source's resistance [W].
    winding, surroundings : ndarray
        Lost in the base coil's wire, and in heater, pan and plate by the base coil's own field [W].
    tag_coil : ndarray
        Lost in the tag coil's resistance, its core and what its own field heats included [W].
    chip : ndarray
        Taken by the chip [W].
    crossed : ndarray
        Lost in the surroundings by the two fields together, −ω Im M Re(I1* I2); of either sign [W].
    """

    source: RealArray
    winding: RealArray
    surroundings: RealArray
    tag_coil: RealArray
    chip: RealArray
    crossed: RealArray

    @property
    def total(self) -> RealArray:
        """Sum of all parts: the input power, to rounding [W]."""
        return self.source + self.winding + self.surroundings + self.tag_coil + self.chip + self.crossed


def power_balance(budget: LinkBudget, reflected_resistance: Real = 0.0) -> PowerBalance:
    """Split the input power of a link into what each part takes.

    Parameters
    ----------
    budget : LinkBudget
        The link.
    reflected_resistance : float or ndarray
        Part of the base coil's resistance that its surroundings reflect [Ω]; the rest is the winding.

    Returns
    -------
    PowerBalance
        Its `total` equals ``budget.input_power`` to rounding.
    """
    base, tag = budget.base, budget.tag
    base_square, tag_square = np.abs(budget.base_current) ** 2, np.abs(budget.tag_current) ** 2
    crossed = np.real(np.conj(budget.base_current) * budget.tag_current)
    return PowerBalance(
        source=0.5 * base.source_resistance * np.abs(budget.source_current) ** 2,
        winding=0.5 * (base.resistance - np.asarray(reflected_resistance)) * base_square,
        surroundings=0.5 * np.asarray(reflected_resistance) * base_square,
        tag_coil=0.5 * np.asarray(tag.resistance) * tag_square,
        chip=0.5 * budget.chip_voltage**2 / np.asarray(tag.load_resistance),
        crossed=-2.0 * pi * budget.frequency * budget.mutual_inductance.imag * crossed,
    )
