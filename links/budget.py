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
    source_voltage : ndarray
        Peak voltage the drive stage is left with [V].
    drive_limited : ndarray of bool
        Where the current limit holds the drive stage back.
    base_current, source_current, tag_current : ndarray of complex
        Peak phasors [A].
    coil_voltage, capacitor_voltage : ndarray
        Peak magnitude across the base coil and across its tuning capacitor [V].
    chip_voltage : ndarray
        Peak magnitude across the chip, which is across the tag coil and its capacitor too [V].
    induced_voltage : ndarray
        Peak magnitude induced in the tag coil, ω|M I1| [V].
    input_power : ndarray
        Mean power out of the source, its resistance included [W].
    reflected_impedance : ndarray of complex
        What the tag puts in series with the base coil [Ω].
    coupling_coefficient : ndarray
        |M|/√(L1 L2) [1].
    base_quality_factor, tag_quality_factor : ndarray
        Loaded [1].
    critical_coupling : ndarray
        1/√(Q1 Q2) [1]; infinite where Q1 = 0.
    peak_coupling : ndarray
        Coupling at which the chip voltage is greatest, current limit apart [1].
    """

    frequency: float
    base: BaseCircuit
    tag: TagCircuit
    mutual_inductance: ComplexArray
    source_voltage: RealArray
    drive_limited: BooleanArray
    base_current: ComplexArray
    source_current: ComplexArray
    tag_current: ComplexArray
    coil_voltage: RealArray
    capacitor_voltage: RealArray
    chip_voltage: RealArray
    induced_voltage: RealArray
    input_power: RealArray
    reflected_impedance: ComplexArray
    coupling_coefficient: RealArray
    base_quality_factor: RealArray
    tag_quality_factor: RealArray
    critical_coupling: RealArray
    peak_coupling: RealArray


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
    voltage = held * base.source_voltage
    source_current = held * network.source_current
    parts = {
        "mutual_inductance": np.asarray(mutual_inductance, dtype=np.complex128),
        "source_voltage": voltage,
        "drive_limited": held < 1.0,
        "base_current": held * network.base_current,
        "source_current": source_current,
        "tag_current": held * network.tag_current,
        "coil_voltage": held * np.abs(network.coil_voltage),
        "capacitor_voltage": held * _capacitor_voltage(frequency, base, network),
        "chip_voltage": held * np.abs(network.chip_voltage),
        "induced_voltage": 2.0 * pi * frequency * np.abs(mutual_inductance * held * network.base_current),
        "input_power": 0.5 * voltage * source_current.real,
        "reflected_impedance": network.reflected_impedance,
        **_couplings(frequency, base, tag, mutual_inductance),
    }
    shape = network.base_current.shape
    return LinkBudget(frequency, base, tag, **{name: np.broadcast_to(part, shape) for name, part in parts.items()})


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


def _capacitor_voltage(frequency: float, base: BaseCircuit, network: Network) -> RealArray:
    if base.tuning == "parallel":
        return np.abs(network.coil_voltage)
    susceptance = 2.0 * pi * frequency * base.tuning_capacitance(frequency)
    return np.asarray(np.abs(network.base_current) / susceptance)


def _couplings(
    frequency: float, base: BaseCircuit, tag: TagCircuit, mutual_inductance: Complex
) -> dict[str, RealArray]:
    # |I2| = ω|M V|/|Z1 Z2 + (ωM)²| is greatest where (ω|M|)² = |Z1 Z2|, whatever the phases: Z1 without the tag.
    geometric_mean = np.sqrt(np.asarray(base.inductance) * np.asarray(tag.inductance))
    base_loop = base.source_impedance(frequency) + base.coil_impedance(frequency)
    peak = np.sqrt(np.abs(base_loop * tag.loop_impedance(frequency))) / (2.0 * pi * frequency)
    base_quality, tag_quality = base.loaded_quality_factor(frequency), tag.loaded_quality_factor(frequency)
    root = np.sqrt(base_quality * tag_quality)
    return {
        "coupling_coefficient": np.abs(mutual_inductance) / geometric_mean,
        "base_quality_factor": base_quality,
        "tag_quality_factor": tag_quality,
        "critical_coupling": np.divide(1.0, root, out=np.full_like(root, np.inf), where=root > 0.0),
        "peak_coupling": peak / geometric_mean,
    }
