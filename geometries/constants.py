"""Physical constants and the skin depth, which sizes meshes."""

from math import inf, pi, sqrt

MAGNETIC_CONSTANT = 4e-7 * pi
"""μ0 [H/m]: the value that the published inductance tables use (CODATA 2018 differs by 5e-10)."""


def skin_depth(frequency: float, conductivity: float, relative_permeability: float = 1.0) -> float:
    """Skin depth √(2/(ωμσ)) of a plane wave in a conductor [m]; infinite in an insulator.

    Parameters
    ----------
    frequency : float
        [Hz].
    conductivity : float
        [S/m].
    relative_permeability : float
        [1].
    """
    if conductivity == 0.0:
        return inf
    return sqrt(1.0 / (pi * frequency * MAGNETIC_CONSTANT * relative_permeability * conductivity))
