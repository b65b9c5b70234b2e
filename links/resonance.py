"""Resonance of one coil: tuning capacitors, quality factors, self-resonance, the cost of detuning."""

from math import pi

import numpy as np

from links.quantities import Real, RealArray


def series_tuning_capacitance(inductance: Real, frequency: float) -> Real:
    """Capacitance that cancels a coil's reactance in series, 1/(ω²L) [F].

    Parameters
    ----------
    inductance : float or ndarray
        Inductance as installed [H].
    frequency : float
        [Hz].
    """
    return 1.0 / ((2.0 * pi * frequency) ** 2 * inductance)


def parallel_tuning_capacitance(inductance: Real, resistance: Real, frequency: float) -> Real:
    """Capacitance that makes a coil's parallel circuit purely resistive, L/(R² + ω²L²) [F].

    Parameters
    ----------
    inductance, resistance : float or ndarray
        Of the coil as installed [H], [Ω].
    frequency : float
        [Hz].

    Notes
    -----
    Across a tag coil the same capacitance gives the greatest chip voltage, whatever the chip's load: |1 + (R +
    jωL)(G + jωC)|² is least where its derivative by C vanishes, and G drops out of that condition. This holds while
    the tag does not change the base current (M → 0); nearer, the tag sees a further impedance ω²M²/Z1 in series.
    """
    reactance = 2.0 * pi * frequency * inductance
    return inductance / (resistance**2 + reactance**2)


def resonant_frequency(inductance: Real, capacitance: Real) -> RealArray:
    """Frequency at which a coil and a capacitor resonate without losses, 1/(2π√(LC)) [Hz]."""
    return np.asarray(1.0 / (2.0 * pi * np.sqrt(np.asarray(inductance) * capacitance)))


def quality_factor(inductance: Real, resistance: Real, frequency: float) -> Real:
    """Quality factor of a coil with its loss in series, ωL/R [1]."""
    return 2.0 * pi * frequency * inductance / resistance


def parallel_loaded_quality_factor(inductance: Real, resistance: Real, load: Real, frequency: float) -> RealArray:
    """Quality factor of a coil with a resistor across it, 1/Q = R/(ωL) + ωL/R_L [1].

    Parameters
    ----------
    inductance, resistance : float or ndarray
        Of the coil [H], [Ω].
    load : float or ndarray
        Across the coil [Ω]; 0 gives Q = 0, infinity leaves the coil's own Q.
    frequency : float
        [Hz].
    """
    reactance = 2.0 * pi * frequency * np.asarray(inductance)
    load_is_open = np.isinf(load)
    finite_load = np.where(load_is_open, 1.0, load)
    loaded = finite_load * reactance / (finite_load * resistance + reactance**2)
    return np.where(load_is_open, reactance / resistance, loaded)


def relative_detuning(exact: float, capacitance: float) -> float:
    """How far a circuit resonates off the working frequency, (f0 − f)/f = √(C_exact/C) − 1 [1].

    Parameters
    ----------
    exact, capacitance : float
        What would tune it exactly, and what is there [F]. A capacitor too small gives a positive detuning.
    """
    return float(np.sqrt(exact / capacitance)) - 1.0


def off_tune_loss(quality: Real, relative_detuning: Real) -> RealArray:
    """What a circuit's response loses off its resonance, 10 log10(1 + (2Qδ)²) [dB].

    Parameters
    ----------
    quality : float or ndarray
        Loaded quality factor [1].
    relative_detuning : float or ndarray
        δ = (f − f0)/f0 [1]; single pole, good for |δ| well under 1.
    """
    return 10.0 * np.log10(1.0 + (2.0 * np.asarray(quality) * relative_detuning) ** 2)


def self_resonance_ratio(self_resonant_frequency: float, frequency: float) -> float:
    """Self-resonant over working frequency [1]; an estimate at best, and under 3 worth a warning."""
    return self_resonant_frequency / frequency


def stray_capacitance(inductance: float, self_resonant_frequency: float) -> float:
    """Capacitance a coil brings itself, from its self-resonance: part of what tunes it [F]."""
    return 1.0 / ((2.0 * pi * self_resonant_frequency) ** 2 * inductance)
