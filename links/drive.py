"""What a drive stage puts on the base coil's circuit."""

from math import pi
from typing import Literal

from links.errors import LinkError, require_positive

Bridge = Literal["full", "half", "sine"]
Tuning = Literal["series", "parallel"]

# First Fourier coefficient of a square wave of height ±1 (full bridge) and of 0 … 1 (half bridge).
FUNDAMENTAL_SHARE: dict[Bridge, float] = {"full": 4.0 / pi, "half": 2.0 / pi, "sine": 1.0}


def fundamental_voltage(bridge: Bridge, supply: float) -> float:
    """Peak voltage of the drive's fundamental.

    Parameters
    ----------
    bridge : {"full", "half", "sine"}
        A full bridge switches between ±supply, a half bridge between 0 and supply; ``"sine"`` means that
        ``supply`` already is the peak of a sine.
    supply : float
        Supply voltage, or the sine's peak [V].

    Returns
    -------
    float
        Peak voltage at the working frequency [V].

    Raises
    ------
    LinkError
        For another bridge, or a supply not above 0.

    Notes
    -----
    Fourier series of a square wave of duty one half: 4/π, 2/π or 1 times the supply. Dead time is neglected.
    """
    if bridge not in FUNDAMENTAL_SHARE:
        raise LinkError("bridge", f"{bridge!r} given; one of {', '.join(FUNDAMENTAL_SHARE)} is allowed")
    require_positive("supply", supply)
    return FUNDAMENTAL_SHARE[bridge] * supply


def standing_voltage(bridge: Bridge, tuning: Tuning, fundamental: float) -> float:
    """Mean voltage that stands across a series tuning capacitor beside the alternating one [V].

    Parameters
    ----------
    bridge, tuning : str
        A half bridge's mean is half its supply, π/4 of its ``fundamental`` [V peak]; a full bridge and a sine have
        none. In parallel tuning a capacitor that blocks the mean is taken to stand before the coil.
    """
    return pi / 4.0 * fundamental if bridge == "half" and tuning == "series" else 0.0


def drive_notes(bridge: Bridge, tuning: Tuning) -> tuple[str, ...]:
    """Sentences a designer should read beside the figures of this drive and tuning."""
    if tuning == "series":
        return ()
    notes = [
        "A parallel-tuned coil never sees more than the source voltage: its current is set by the voltage, not by Q."
    ]
    if bridge != "sine":
        notes.append(
            "From a square wave the parallel tuning capacitor also draws current at the odd harmonics; only the source "
            "resistance limits it, and neither the source current nor the input power given here contains it."
        )
    if bridge == "half":
        notes.append(
            "A half bridge's mean, half its supply, is taken to be kept from the coil by a blocking capacitor: without "
            "one it drives a direct current through stage and coil that no figure here contains."
        )
    return tuple(notes)
