"""Full-duplex reply: what the tag's load modulation leaves in the base coil's current."""

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from links.budget import LinkBudget, limited_share
from links.circuits import BaseCircuit, TagCircuit
from links.errors import LinkError, require_not_negative, require_positive
from links.margin import margin_decibels
from links.network import coupled_network
from links.quantities import ComplexArray, RealArray

# ISO 11785 full-duplex: one bit lasts 32 carrier cycles; a load switched once a bit makes a square wave of 64.
CYCLES_PER_BIT = 32
CYCLES_PER_KEYING_PERIOD = 2 * CYCLES_PER_BIT


@dataclass(frozen=True, slots=True)
class Keying:
    """How the chip keys its load.

    Parameters
    ----------
    modulated_load_resistance : float
        Load across the tag while it is keyed [Ω].
    frequency : float or None
        Fundamental of the square keying [Hz]; None for 1/64 of the carrier.

    Notes
    -----
    1/64 of the carrier is one change of load a bit at 32 carrier cycles a bit (ISO 11785, 4193.75 bit/s at 134.2 kHz).
    The differential bi-phase code used there also changes within a bit, for runs of one symbol at every half bit
    (from memory): give 1/32 of the carrier to see that harder case.
    """

    modulated_load_resistance: float
    frequency: float | None = None

    def __post_init__(self) -> None:
        require_positive("modulated load resistance", self.modulated_load_resistance)
        if self.frequency is not None:
            require_positive("keying frequency", self.frequency)


@dataclass(frozen=True, slots=True)
class Receiver:
    """What the reader's receiver asks for.

    Parameters
    ----------
    minimum_voltage : float
        Least sideband voltage across the base coil, before any divider [V peak].
    dynamic_range : float
        How far under the carrier a sideband may lie [dB].
    """

    minimum_voltage: float
    dynamic_range: float

    def __post_init__(self) -> None:
        require_positive("minimum voltage of the receiver", self.minimum_voltage)
        require_not_negative("dynamic range of the receiver", self.dynamic_range)


@dataclass(frozen=True, slots=True, eq=False)
class LoadModulation:
    """Trace of the keyed load in the base coil, arrays of the budget's shape.

    Parameters
    ----------
    base_current_change : ndarray of complex
        ΔI1, keyed less not keyed, a difference of peak phasors [A].
    envelope_change : ndarray
        Keyed less not keyed magnitude of I1, all an envelope detector sees; it has nulls where ΔI1 has none [A].
    carrier_current : ndarray
        Magnitude of the mean of the two currents [A peak].
    sideband_current, sideband_voltage : ndarray
        Magnitude of each first sideband, in the base coil and across it [A peak], [V peak].
    """

    base_current_change: ComplexArray
    envelope_change: RealArray
    carrier_current: RealArray
    sideband_current: RealArray
    sideband_voltage: RealArray

    @property
    def modulation_depth_decibels(self) -> RealArray:
        """How far each sideband lies under the carrier [dB]; ∞ where there is none."""
        return -margin_decibels(self.sideband_current, self.carrier_current)


def load_modulation(budget: LinkBudget, keying: Keying) -> LoadModulation:
    """What keying the tag's load changes in the base coil, in steady state.

    Parameters
    ----------
    budget : LinkBudget
        The link with the load not keyed.
    keying : Keying
        How the load is keyed.

    Returns
    -------
    LoadModulation
        See there.

    Raises
    ------
    LinkError
        For a keying frequency not below the carrier.

    Notes
    -----
    Both states are solved to their ends, and the first sideband of a square wave between them, |ΔI1|/π, is lowered
    by what the two circuits take at the keying frequency. That share is the base current a small current in the chip
    causes at the sideband over that at the carrier, the chip loaded with the mean of its two conductances,
    [ωZ2L/(Z1 Z2 + ω²M²)] at both: weakly coupled, one pole each for Q1 and Q2; nearer, what each takes off the other.

    Exact where the load is keyed lightly, at any coupling. Against the whole keyed circuit solved at all its sidebands
    at once (Q1 1-66, Q2 12-45, keyed at 1/64 and 1/32 of the carrier), heavy keying left it up to 20 % high far below
    critical coupling, within 20 % at it, and up to 45 % low at three times it, with a load of 25 kΩ keyed to 500 Ω. The
    carrier was within 6 % up to critical coupling.

    The drive stage is taken to keep one voltage through both states, low enough that neither exceeds the current
    limit; a stage that regulated its current bit by bit would wipe the reply out.
    """
    base, frequency = budget.base, budget.frequency
    keyed_tag = replace(budget.tag, load_resistance=keying.modulated_load_resistance)
    free = coupled_network(frequency, base, budget.tag, budget.mutual_inductance)
    keyed = coupled_network(frequency, base, keyed_tag, budget.mutual_inductance)
    larger = np.maximum(np.abs(free.source_current), np.abs(keyed.source_current))
    held = limited_share(larger, base.current_limit)
    change = held * (keyed.base_current - free.base_current)
    sideband = np.abs(change) / pi * _keyed_response(budget, keying)
    return LoadModulation(
        base_current_change=change,
        envelope_change=held * (np.abs(keyed.base_current) - np.abs(free.base_current)),
        carrier_current=0.5 * held * np.abs(keyed.base_current + free.base_current),
        sideband_current=sideband,
        # The source holds still, so the coil's voltage changes by the drop in what the coil looks back into.
        sideband_voltage=sideband * np.abs(base.source_impedance(frequency)),
    )


def _keyed_response(budget: LinkBudget, keying: Keying) -> RealArray:
    """Mean over both first sidebands of what is left of a slow change of the load [1]."""
    frequency = budget.frequency
    distance = frequency / CYCLES_PER_KEYING_PERIOD if keying.frequency is None else keying.frequency
    if distance >= frequency:
        raise LinkError("keying frequency", f"{distance} given; it must be less than the carrier's, {frequency}")
    conductance = 0.5 / np.asarray(budget.tag.load_resistance) + 0.5 / keying.modulated_load_resistance
    base = replace(budget.base, capacitance=budget.base.tuning_capacitance(frequency))
    tag = replace(budget.tag, load_resistance=1.0 / conductance, capacitance=budget.tag.tuning_capacitance(frequency))
    lower, carrier, upper = (
        _transfer(place, base, tag, budget.mutual_inductance)
        for place in (frequency - distance, frequency, frequency + distance)
    )
    return np.asarray(0.5 * (lower + upper) / carrier)


def _transfer(frequency: float, base: BaseCircuit, tag: TagCircuit, mutual_inductance: ComplexArray) -> RealArray:
    # Base current for a current put into the chip's node, per ampere and per henry of M: without M in the numerator
    # the ratio of two of them stands at M = 0 as well.
    omega = 2.0 * pi * frequency
    base_loop = base.source_impedance(frequency) + base.coil_impedance(frequency)
    loops = base_loop * tag.loop_impedance(frequency) + (omega * mutual_inductance) ** 2
    return np.asarray(omega * np.abs(tag.chip_impedance(frequency) / loops))


@dataclass(frozen=True, slots=True, eq=False)
class ReplyMargin:
    """Margins of a full-duplex reply [dB], arrays of the budget's shape; −∞ where nothing comes back."""

    dynamic_range_margin: RealArray
    voltage_margin: RealArray

    @property
    def margin(self) -> RealArray:
        """The smaller of the two [dB]."""
        return np.minimum(self.dynamic_range_margin, self.voltage_margin)


def reply_margin(modulation: LoadModulation, receiver: Receiver) -> ReplyMargin:
    """Margins of a full-duplex reply against a receiver.

    Parameters
    ----------
    modulation : LoadModulation
        What comes back.
    receiver : Receiver
        What it asks for.

    Returns
    -------
    ReplyMargin
        Dynamic range less modulation depth, and sideband voltage over its minimum [dB].
    """
    return ReplyMargin(
        dynamic_range_margin=receiver.dynamic_range - modulation.modulation_depth_decibels,
        voltage_margin=margin_decibels(modulation.sideband_voltage, receiver.minimum_voltage),
    )
