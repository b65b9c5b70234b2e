"""Margins in decibels, and what a rectifier loads its source with."""

import numpy as np

from links.errors import require_positive
from links.quantities import Real, RealArray


def margin_decibels(voltage: Real, minimum: Real) -> RealArray:
    """How far a voltage lies above the least that is needed, 20 log10(voltage/minimum) [dB].

    Parameters
    ----------
    voltage : float or ndarray
        Magnitude [V]; 0 gives −∞.
    minimum : float or ndarray
        Least voltage needed, counted the same way, peak for peak [V].

    Raises
    ------
    LinkError
        For a minimum not above 0.
    """
    require_positive("minimum voltage", minimum)
    ratio = np.abs(np.asarray(voltage, dtype=np.float64)) / minimum
    logarithm = np.log10(ratio, out=np.full_like(ratio, -np.inf), where=~(ratio == 0.0))
    return np.asarray(20.0 * logarithm)


def peak_rectifier_load(dc_resistance: Real) -> Real:
    """Resistance by which a peak rectifier loads its tuned circuit, half the DC load's [Ω].

    Parameters
    ----------
    dc_resistance : float or ndarray
        Load of the rectifier's DC side [Ω].

    Notes
    -----
    The DC side stands at the peak V and takes V²/R; a resistor across the circuit takes V²/(2 R_ac): R_ac = R/2.
    Diode drops are neglected.
    """
    require_positive("load resistance of the rectifier", dc_resistance)
    return 0.5 * dc_resistance
