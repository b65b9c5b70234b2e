"""What a coil's voltage and current ask of its wire."""

from math import sqrt

from links.errors import LinkError, require_not_negative, require_positive
from links.quantities import Real


def volts_per_turn(coil_voltage: float, turns: int) -> float:
    """Even share of a coil's voltage that stands across one turn.

    Parameters
    ----------
    coil_voltage : float
        Across the whole coil [V peak].
    turns : int
        At least 1.

    Returns
    -------
    float
        [V peak].

    Raises
    ------
    LinkError
        For a negative voltage or no turns.

    Notes
    -----
    The turns of a thick winding do not link the same flux: ``fem.turn_linkage`` says how much more than the even share
    the most stressed one may carry.
    """
    require_not_negative("coil voltage", coil_voltage)
    require_positive("turns", turns)
    return coil_voltage / turns


def neighbour_voltage(coil_voltage: float, turns: int, between: int, linkage_ratio: float = 1.0) -> float:
    """Greatest voltage between two wires of a coil that touch.

    Parameters
    ----------
    coil_voltage : float
        Across the whole coil [V peak].
    turns, between : int
        Of the whole coil, and of the wire from the one point of touch to the other.
    linkage_ratio : float
        Flux linkage of the most stressed turn over that of the average one [1].

    Returns
    -------
    float
        [V peak]; never more than stands across the whole coil.

    Raises
    ------
    LinkError
        For a negative voltage, no turns, more turns between the two than there are, or a ratio below 1.

    Notes
    -----
    An upper bound, as good as the ratio: every turn between the two is taken to be the most stressed one. What the
    coil's own capacitance makes uneven, near its self-resonance, is not in it.
    """
    if not 1 <= between <= turns:
        raise LinkError("turns between neighbours", f"{between} given; it must be 1 to {turns}")
    if not linkage_ratio >= 1.0:
        raise LinkError("linkage ratio", f"{linkage_ratio} given; it must be at least 1")
    return min(coil_voltage, between * linkage_ratio * volts_per_turn(coil_voltage, turns))


def rms_at_duty(peak: Real, duty: float) -> Real:
    """Rms over a long time of a sine of some peak that is on for a share of it.

    Parameters
    ----------
    peak : float or ndarray
        While it is on.
    duty : float
        Share of the time [1], above 0, at most 1.

    Returns
    -------
    float or ndarray
        peak · √(duty/2), in the unit of ``peak``.

    Raises
    ------
    LinkError
        For another duty.

    Notes
    -----
    Heating over times long against the drive's cycle; build-up and decay of the current are taken as sudden.
    """
    if not 0.0 < duty <= 1.0:
        raise LinkError("duty", f"{duty} given; it must be above 0 and at most 1")
    return peak * sqrt(0.5 * duty)
