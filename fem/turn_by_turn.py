"""Inductance of a winding in air, turn by turn, for how far real turns are from a section evenly filled."""

import numpy as np
from numpy.typing import NDArray

from fem.closed_forms_loops import loop_mutual_inductance
from geometries.constants import MAGNETIC_CONSTANT


def turns_inductance(radii: NDArray[np.float64], heights: NDArray[np.float64], diameter: float) -> float:
    """Self-inductance of rings in series, in air [H].

    Parameters
    ----------
    radii, heights : ndarray
        Of the middle of every turn [m]; no two at one place.
    diameter : float
        Of the bare round wire [m].

    Notes
    -----
    Each turn by itself μ0 a (ln(8a/ρ) − 7/4) with ρ the wire's radius and the current even over it (a series in ρ/a of
    which the next term is (ρ/a)² ln; from memory), each pair by Maxwell's formula between the wires' middles, exact for
    straight round wires side by side and off by the square of wire over ring here.
    """
    own = MAGNETIC_CONSTANT * radii * (np.log(16.0 * radii / diameter) - 1.75)
    pairs = sum(
        float(loop_mutual_inductance(radii[:k], radii[k], heights[:k] - heights[k]).sum()) for k in range(1, radii.size)
    )
    return float(own.sum()) + 2.0 * pairs
