"""Published limits and reference levels of the magnetic field, and the dipole that meets them.

Limits of emission and reference levels of exposure are rms values; phasors elsewhere in the project are peak values.
"""

from math import log2, log10, pi

# (from [Hz], to [Hz], level at "from" [dBµA/m at 10 m], fall per octave above "from" [dB]).
# Source: ERC/REC 70-03 annex 9, bands a2, a3, b, c, as the CEPT frequency information system and the Swiss Radio
# Interface Regulation RIR1005-01 (edition 5.0, 2018) list them; measured after EN 300 330. Of the narrow protected
# bands only 128.6-129.6 kHz lies within. National rules may differ.
_FIELD_LIMITS_AT_10_M = (
    (90e3, 119e3, 42.0, 0.0),
    (119e3, 135e3, 66.0, 3.0),
    (135e3, 140e3, 42.0, 0.0),
    (140e3, 148.5e3, 37.7, 0.0),
)
_PROTECTED_BANDS = ((128.6e3, 129.6e3, 42.0),)

FIELD_LIMIT_SOURCE = "ERC/REC 70-03 annex 9, measured after EN 300 330"
REFERENCE_LEVEL_SOURCE = "ICNIRP 2010, reference levels 3 kHz to 10 MHz (further levels apply above 100 kHz)"


def field_limit_at_10_m(frequency: float) -> float | None:
    """Largest magnetic field strength a short-range inductive device may make at 10 m.

    Parameters
    ----------
    frequency : float
        [Hz].

    Returns
    -------
    float or None
        Rms field strength [A/m]; None where no limit is known here (below 90 kHz, above 148.5 kHz).

    Notes
    -----
    Where two bands meet, the lower limit holds. A loop antenna of some area or length may be limited further.

    References
    ----------
    CEPT, ERC Recommendation 70-03, annex 9 (inductive applications), bands a2, a3, b and c.
    ETSI EN 300 330, short range devices 9 kHz to 25 MHz and inductive loop systems 9 kHz to 30 MHz.
    """
    levels = [
        level - fall * log2(frequency / begin)
        for begin, end, level, fall in _FIELD_LIMITS_AT_10_M
        if begin <= frequency <= end
    ]
    levels += [level for begin, end, level in _PROTECTED_BANDS if levels and begin <= frequency <= end]
    return 1e-6 * 10.0 ** (min(levels) / 20.0) if levels else None


def decibel_microampere_per_metre(field: float) -> float:
    """A field strength [A/m] in dBµA/m; −∞ for no field."""
    return 20.0 * log10(field / 1e-6) if field > 0.0 else -float("inf")


def reference_level_public(frequency: float) -> float | None:
    """Reference level of exposure of the general public [T rms]; None outside 3 kHz to 10 MHz.

    Notes
    -----
    From 100 kHz further levels against heating apply. No level here is meant to protect wearers of implants.

    References
    ----------
    International Commission on Non-Ionizing Radiation Protection, Guidelines for limiting exposure to time-varying
    electric and magnetic fields (1 Hz to 100 kHz), Health Physics 99, 2010, 818.
    """
    return 27e-6 if 3e3 <= frequency <= 10e6 else None


def reference_level_occupational(frequency: float) -> float | None:
    """Reference level of exposure at work [T rms]; None outside 3 kHz to 10 MHz. Source as for the public level."""
    return 100e-6 if 3e3 <= frequency <= 10e6 else None


def dipole_field_on_axis(moment: float, distance: float) -> float:
    """Field strength of a magnetic dipole on its axis, m/(2πr³) [A/m].

    Parameters
    ----------
    moment : float
        Magnetic moment [A m²]; peak gives peak, rms gives rms.
    distance : float
        From the dipole, large against its size and small against λ/2π (356 m at 134.2 kHz) [m].

    Notes
    -----
    In the plane across the axis the field is half of this.
    """
    return moment / (2.0 * pi * distance**3)


def largest_moment_for_field(field: float, distance: float) -> float:
    """Magnetic moment that makes ``field`` [A/m] on its axis at ``distance`` [m] [A m²]; peak gives peak, rms rms."""
    return 2.0 * pi * distance**3 * field
