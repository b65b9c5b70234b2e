"""The link budget: what one base coil does to one tag, place by place."""

from dataclasses import dataclass
from math import pi

import numpy as np

from links.circuits import BaseCircuit, TagCircuit
from links.network import Network, coupled_network
from links.quantities import BooleanArray, Complex, ComplexArray, Real, RealArray


@dataclass(frozen=True, slots=True, eq=False)
class LinkBudget:
    """Steady state of the link; every array has the shape of the mutual inductance broadcast with the tag's values.

    Parameters
    ----------
    frequency : float
        [Hz].
    base, tag : BaseCircuit, TagCircuit
        What was solved.
    mutual_inductance : ndarray of complex
        [H].
    network : Network
        At the full source voltage.
    held : ndarray
        Share of the full source voltage that the drive stage is left with [1].

    Notes
    -----
    What is not asked for is not worked out: over a map that is most of it.
    """

    frequency: float
    base: BaseCircuit
    tag: TagCircuit
    mutual_inductance: ComplexArray
    network: Network
    held: RealArray

    @property
    def source_voltage(self) -> RealArray:
        """Peak voltage the drive stage is left with [V]."""
        return self.held * self.base.source_voltage

    @property
    def drive_limited(self) -> BooleanArray:
        """Where the current limit holds the drive stage back."""
        return self.held < 1.0

    @property
    def base_current(self) -> ComplexArray:
        """Peak phasor [A]."""
        return self.held * self.network.base_current

    @property
    def source_current(self) -> ComplexArray:
        """Peak phasor [A]."""
        return self.held * self.network.source_current

    @property
    def tag_current(self) -> ComplexArray:
        """Peak phasor [A]."""
        return self.held * self.network.tag_current

    @property
    def coil_voltage(self) -> RealArray:
        """Peak magnitude across the base coil [V]."""
        return self.held * np.abs(self.network.coil_voltage)

    @property
    def capacitor_voltage(self) -> RealArray:
        """Peak magnitude across the base coil's tuning capacitor [V]."""
        if self.base.tuning == "parallel":
            return self.coil_voltage
        susceptance = 2.0 * pi * self.frequency * self.base.tuning_capacitance(self.frequency)
        return np.asarray(self.held * (np.abs(self.network.base_current) / susceptance))

    @property
    def chip_voltage(self) -> RealArray:
        """Peak magnitude across the chip, which is across the tag coil and its capacitor too [V]."""
        return self.held * np.abs(self.network.chip_voltage)

    @property
    def induced_voltage(self) -> RealArray:
        """Peak magnitude induced in the tag coil, ω|M I1| [V]."""
        return np.asarray(2.0 * pi * self.frequency * np.abs(self.mutual_inductance * self.base_current))

    @property
    def input_power(self) -> RealArray:
        """Mean power out of the source, its resistance included [W]."""
        return 0.5 * self.source_voltage * self.source_current.real

    @property
    def reflected_impedance(self) -> ComplexArray:
        """What the tag puts in series with the base coil [Ω]."""
        return self.network.reflected_impedance

    @property
    def coupling_coefficient(self) -> RealArray:
        """|M|/√(L1 L2) [1]."""
        return self._everywhere(np.abs(self.mutual_inductance) / self._mean_inductance)

    @property
    def base_quality_factor(self) -> RealArray:
        """Loaded [1]."""
        return self._everywhere(self.base.loaded_quality_factor(self.frequency))

    @property
    def tag_quality_factor(self) -> RealArray:
        """Loaded [1]."""
        return self._everywhere(self.tag.loaded_quality_factor(self.frequency))

    @property
    def critical_coupling(self) -> RealArray:
        """1/√(Q1 Q2) [1]; infinite where Q1 = 0."""
        root = np.sqrt(self.base_quality_factor * self.tag_quality_factor)
        return np.divide(1.0, root, out=np.full_like(root, np.inf), where=root > 0.0)

    @property
    def peak_coupling(self) -> RealArray:
        """Coupling at which the chip voltage is greatest, current limit apart [1]."""
        # |I2| = ω|M V|/|Z1 Z2 + (ωM)²| is greatest where (ω|M|)² = |Z1 Z2|, whatever the phases: Z1 without the tag.
        base_loop = self.base.source_impedance(self.frequency) + self.base.coil_impedance(self.frequency)
        loops = np.abs(base_loop * self.tag.loop_impedance(self.frequency))
        return self._everywhere(np.sqrt(loops) / (2.0 * pi * self.frequency) / self._mean_inductance)

    @property
    def _mean_inductance(self) -> RealArray:
        return np.asarray(np.sqrt(np.asarray(self.base.inductance) * np.asarray(self.tag.inductance)))

    def _everywhere(self, values: RealArray) -> RealArray:
        return np.broadcast_to(values, self.held.shape)


def link_budget(frequency: float, base: BaseCircuit, tag: TagCircuit, mutual_inductance: Complex) -> LinkBudget:
    """Currents, voltages and power of the link at every mutual inductance.

    Parameters
    ----------
    frequency : float
        [Hz].
    base : BaseCircuit
        Driven base coil.
    tag : TagCircuit
        Arrays broadcast with ``mutual_inductance``.
    mutual_inductance : complex or ndarray
        M, any shape, 0 allowed [H].

    Returns
    -------
    LinkBudget
        See there.

    Raises
    ------
    LinkError
        For a frequency not above 0.

    Notes
    -----
    Linear steady state. Under a current limit the drive stage lowers its voltage until the source current's
    fundamental meets it, and every current and voltage falls in proportion. The chip voltage is not clamped here
    (`clamped`). Past `peak_coupling` it falls as the tag comes closer, unless a current limit is at work.
    """
    network = coupled_network(frequency, base, tag, mutual_inductance)
    held = limited_share(np.abs(network.source_current), base.current_limit)
    mutual = np.broadcast_to(np.asarray(mutual_inductance, dtype=np.complex128), held.shape)
    return LinkBudget(frequency, base, tag, mutual, network, held)


def limited_share(source_current: RealArray, current_limit: float | None) -> RealArray:
    """Share of the full source voltage that keeps the source current [A peak] within its limit [1]."""
    if current_limit is None:
        return np.ones_like(source_current)
    return np.asarray(current_limit / np.maximum(source_current, current_limit))


def clamped(chip_voltage: Real, clamp_voltage: float | None) -> RealArray:
    """Chip voltage as the chip's limiter leaves it [V peak].

    Notes
    -----
    The limiter's current is not fed back into the link: where it works, the true base current lies a little lower
    or higher than the budget says, which does not matter to whether the chip has its voltage.
    """
    return np.asarray(chip_voltage) if clamp_voltage is None else np.minimum(chip_voltage, clamp_voltage)
