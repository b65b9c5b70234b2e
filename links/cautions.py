"""Cautions that the numbers of a design call for, as plain sentences.

They warn; they do not show that anything is safe.
"""

from dataclasses import dataclass
from math import log10

from links.limits import (
    FIELD_LIMIT_SOURCE,
    REFERENCE_LEVEL_SOURCE,
    decibel_microampere_per_metre,
    field_limit_at_10_m,
    reference_level_occupational,
    reference_level_public,
)

# IEC 60335-1 clause 8.1.4 does not count an accessible part at safety extra-low voltage as live up to 42.4 V peak
# (figure seen quoted, the standard's number from memory). It is drawn up for low frequencies; at 100-150 kHz the
# first harm is a burn, so it is only the place from which on to speak of it.
TOUCH_VOLTAGE = 42.4
# Common practice, no source: skin burns within seconds on metal and glass-ceramic somewhat above this.
HOT_SURFACE = 60.0

CALCULATION_ONLY = (
    "This is a calculation, not a safety or compliance approval; local codes and qualified practice decide."
)
MAINS = (
    "A mains-fed heater lies beside a low-voltage coil: insulation, creepage, earthing and the protection against a "
    "broken heater are the work of a qualified person, under the local codes."
)


@dataclass(frozen=True, slots=True)
class HazardFigures:
    """The numbers that decide which cautions are shown.

    Parameters
    ----------
    frequency : float
        [Hz].
    coil_voltage : float
        Greatest voltage across the base coil or its capacitor [V peak].
    flux_density : float or None
        Greatest flux density where a person can reach [T rms]; None where it was not computed.
    plate_temperature : float or None
        Hottest temperature of the plate or of anything in the stack [°C].
    mains_heater : bool
        Whether a heater is, or may be, fed from the mains.
    far_field : float or None
        Greatest field strength at 10 m, of the fundamental [A/m rms]; None where it was not computed.
    """

    frequency: float
    coil_voltage: float
    flux_density: float | None = None
    plate_temperature: float | None = None
    mains_heater: bool = False
    far_field: float | None = None


def cautions(figures: HazardFigures) -> tuple[str, ...]:
    """Sentences to show beside the results of a design; the last one always is there.

    Parameters
    ----------
    figures : HazardFigures
        What was computed.

    Returns
    -------
    tuple of str
        One caution each.
    """
    mains = MAINS if figures.mains_heater else None
    found = (_voltage(figures), _heat(figures), mains, _field(figures), _far_field(figures))
    return (*(sentence for sentence in found if sentence is not None), CALCULATION_ONLY)


def _voltage(figures: HazardFigures) -> str | None:
    if figures.coil_voltage <= TOUCH_VOLTAGE:
        return None
    return (
        f"The tuned coil reaches {figures.coil_voltage:.0f} V peak, more than {TOUCH_VOLTAGE} V, up to which parts at "
        "safety extra-low voltage may commonly be touched: cover coil, capacitor and leads, choose parts rated for "
        "it, and switch off before touching."
    )


def _heat(figures: HazardFigures) -> str | None:
    if figures.plate_temperature is None or figures.plate_temperature <= HOT_SURFACE:
        return None
    return (
        f"Parts reach {figures.plate_temperature:.0f} °C: above about {HOT_SURFACE:.0f} °C (common practice, no "
        "source) they burn skin; guard them, and let them cool before touching."
    )


def _field(figures: HazardFigures) -> str | None:
    if figures.flux_density is None or figures.flux_density <= 0.0:
        return None
    public, occupational = reference_level_public(figures.frequency), reference_level_occupational(figures.frequency)
    measured = f"The field reaches {figures.flux_density * 1e6:.3g} µT rms where a person can come"
    implants = (
        "Reference levels do not protect wearers of pacemakers or other implants: keep them, and magnetic media, away."
    )
    if public is None or occupational is None:
        return f"{measured}; no reference level is known here at this frequency. {implants}"
    levels = f"{public * 1e6:.0f} µT for the public, {occupational * 1e6:.0f} µT at work"
    compared = "more than" if figures.flux_density > public else "not more than"
    return f"{measured}, {compared} the public reference level ({levels}; {REFERENCE_LEVEL_SOURCE}). {implants}"


def _far_field(figures: HazardFigures) -> str | None:
    """Too strong for other users of the band, or no limit known to hold it against."""
    if figures.far_field is None or figures.far_field <= 0.0:
        return None
    limit = field_limit_at_10_m(figures.frequency)
    made = f"The field at 10 m is {decibel_microampere_per_metre(figures.far_field):.1f} dBµA/m rms"
    if limit is None:
        return (
            f"{made}; no limit is known here at {figures.frequency / 1e3:.4g} kHz ({FIELD_LIMIT_SOURCE}, as far as it "
            "is kept here, covers 90 to 148.5 kHz): find out which one holds before it is switched on."
        )
    if figures.far_field <= limit:
        return None
    return (
        f"{made}, {20.0 * log10(figures.far_field / limit):.1f} dB above the limit of "
        f"{decibel_microampere_per_metre(limit):.1f} dBµA/m ({FIELD_LIMIT_SOURCE}): it may disturb other users of the "
        "band, and national rules may forbid it."
    )
