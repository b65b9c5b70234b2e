"""The two circuits of a link as they are driven, tuned and loaded.

Phasors are peak values, time convention e^{+jωt}.
"""

from dataclasses import dataclass, replace
from math import pi
from typing import get_args

import numpy as np

from links.drive import Tuning
from links.errors import LinkError, require_not_negative, require_positive
from links.quantities import ComplexArray, Real, RealArray
from links.resonance import parallel_loaded_quality_factor, parallel_tuning_capacitance, series_tuning_capacitance


@dataclass(frozen=True, slots=True, eq=False)
class BaseCircuit:
    """The base coil with its drive stage and tuning capacitor.

    Parameters
    ----------
    inductance, resistance : float or ndarray
        Of the base coil as installed, what the surroundings reflect included [H], [Ω].
    source_voltage : float
        Peak voltage of the drive's fundamental [V].
    source_resistance : float
        Of the drive stage, with any series resistor [Ω].
    tuning : {"series", "parallel"}
        Where the capacitor sits.
    capacitance : float or ndarray or None
        Of the tuning capacitor [F]; None resonates exactly with ``inductance``.
    current_limit : float or None
        Greatest peak source current [A]; the drive stage holds it by lowering its voltage. None for no limit.

    Raises
    ------
    LinkError
        For a value no circuit can have.
    """

    inductance: Real
    resistance: Real
    source_voltage: float
    source_resistance: float
    tuning: Tuning = "series"
    capacitance: Real | None = None
    current_limit: float | None = None

    def __post_init__(self) -> None:
        require_positive("inductance of the base coil", self.inductance)
        require_positive("resistance of the base coil", self.resistance)
        require_positive("source voltage", self.source_voltage)
        require_not_negative("source resistance", self.source_resistance)
        if self.tuning not in get_args(Tuning):
            raise LinkError("tuning", f"{self.tuning!r} given; one of {', '.join(get_args(Tuning))} is allowed")
        if self.capacitance is not None:
            require_positive("tuning capacitance of the base coil", self.capacitance)
        if self.current_limit is not None:
            require_positive("current limit", self.current_limit)

    def tuning_capacitance(self, frequency: float) -> RealArray:
        """Capacitance of the tuning capacitor, given or exactly resonant [F]."""
        if self.capacitance is not None:
            return np.asarray(self.capacitance)
        if self.tuning == "series":
            return np.asarray(series_tuning_capacitance(self.inductance, frequency))
        return np.asarray(parallel_tuning_capacitance(self.inductance, self.resistance, frequency))

    def coil_impedance(self, frequency: float) -> ComplexArray:
        """R1 + jωL1 [Ω]."""
        return np.asarray(self.resistance + 2j * pi * frequency * np.asarray(self.inductance))

    def source_impedance(self, frequency: float) -> ComplexArray:
        """Impedance the coil looks back into, source and capacitor together [Ω]."""
        susceptance = 2j * pi * frequency * self.tuning_capacitance(frequency)
        if self.tuning == "series":
            return np.asarray(self.source_resistance + 1.0 / susceptance)
        return np.asarray(self.source_resistance / (1.0 + susceptance * self.source_resistance))

    def open_circuit_voltage(self, frequency: float) -> ComplexArray:
        """Peak phasor voltage where the coil connects, with the coil taken off [V]."""
        if self.tuning == "series":
            return np.asarray(complex(self.source_voltage))
        susceptance = 2j * pi * frequency * self.tuning_capacitance(frequency)
        return np.asarray(self.source_voltage / (1.0 + susceptance * self.source_resistance))

    def loaded_quality_factor(self, frequency: float) -> RealArray:
        """Quality factor of the driven coil without a tag [1].

        Notes
        -----
        Series: ωL1/(R1 + Rs). Parallel: 1/Q1 = R1/(ωL1) + ωL1/Rs, the source being across the coil; a source
        without resistance holds the coil's voltage and leaves no resonance, Q1 = 0.
        """
        if self.tuning == "series":
            reactance = 2.0 * pi * frequency * np.asarray(self.inductance)
            return np.asarray(reactance / (self.resistance + self.source_resistance))
        return parallel_loaded_quality_factor(self.inductance, self.resistance, self.source_resistance, frequency)


@dataclass(frozen=True, slots=True, eq=False)
class TagCircuit:
    """The tag coil with its capacitor and its chip, all three across one pair of terminals.

    Parameters
    ----------
    inductance, resistance : float or ndarray
        Of the tag coil where it sits (they follow its height) [H], [Ω]; arrays broadcast with the mutual inductance.
    load_resistance : float or ndarray
        What the chip loads the tuned circuit with [Ω]; infinity for none.
    capacitance : float or ndarray or None
        Of the tag's capacitor [F]. None is exactly tuned at every place, which no real tag is where its inductance
        changes: see `tuned_at`.

    Raises
    ------
    LinkError
        For a value no circuit can have.
    """

    inductance: Real
    resistance: Real
    load_resistance: Real
    capacitance: Real | None = None

    def __post_init__(self) -> None:
        require_positive("inductance of the tag coil", self.inductance)
        require_positive("resistance of the tag coil", self.resistance)
        require_positive("load resistance of the chip", self.load_resistance)
        if self.capacitance is not None:
            require_positive("tuning capacitance of the tag", self.capacitance)

    def tuning_capacitance(self, frequency: float) -> RealArray:
        """Capacitance across the tag coil, given or tuned for the greatest chip voltage [F]."""
        if self.capacitance is not None:
            return np.asarray(self.capacitance)
        return np.asarray(parallel_tuning_capacitance(self.inductance, self.resistance, frequency))

    def chip_impedance(self, frequency: float) -> ComplexArray:
        """Chip and capacitor in parallel, Z2L [Ω]."""
        # R_L/(1 + jωC2 R_L), written so that an open load (R_L = ∞) needs no case of its own.
        admittance = 1.0 / np.asarray(self.load_resistance) + 2j * pi * frequency * self.tuning_capacitance(frequency)
        return np.asarray(1.0 / admittance)

    def loop_impedance(self, frequency: float) -> ComplexArray:
        """Z2 = R2 + jωL2 + Z2L [Ω]."""
        coil = self.resistance + 2j * pi * frequency * np.asarray(self.inductance)
        return np.asarray(coil + self.chip_impedance(frequency))

    def loaded_quality_factor(self, frequency: float) -> RealArray:
        """1/Q2 = R2/(ωL2) + ωL2/R_L [1]."""
        return parallel_loaded_quality_factor(self.inductance, self.resistance, self.load_resistance, frequency)


def tuned_at(tag: TagCircuit, frequency: float, inductance: float, resistance: float) -> TagCircuit:
    """The same tag with the one capacitor that tunes it where its coil has ``inductance`` and ``resistance``.

    Parameters
    ----------
    tag : TagCircuit
        As it is at its places.
    frequency : float
        [Hz].
    inductance, resistance : float
        Of the tag coil where it is tuned, usually far from the plate [H], [Ω].
    """
    return replace(tag, capacitance=parallel_tuning_capacitance(inductance, resistance, frequency))
