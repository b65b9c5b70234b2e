"""Full-duplex reply: what the tag's load modulation leaves in the base coil's current."""

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from links.budget import LinkBudget, limited_share
from links.errors import require_not_negative, require_positive
from links.margin import margin_decibels
from links.network import coupled_network
from links.quantities import ComplexArray, RealArray
from links.resonance import single_pole_response

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

    Notes
    -----
    Both states are solved to their ends and the first sideband of a square wave between them, |ΔI1|/π, is lowered
    by one pole each for the loaded Q1 and Q2 at the keying frequency (for Q2 the higher of the two states).
    Valid for two weakly coupled circuits tuned to the carrier, keyed lightly: past critical coupling the response
    splits and this is an estimate. The drive stage is taken to keep one voltage through both states, low enough that
    neither exceeds the current limit; a stage that regulated its current bit by bit would wipe the reply out.
    """
    base, frequency = budget.base, budget.frequency
    keyed_tag = replace(budget.tag, load_resistance=keying.modulated_load_resistance)
    free = coupled_network(frequency, base, budget.tag, budget.mutual_inductance)
    keyed = coupled_network(frequency, base, keyed_tag, budget.mutual_inductance)
    larger = np.maximum(np.abs(free.source_current), np.abs(keyed.source_current))
    held = limited_share(larger, base.current_limit)
    change = held * (keyed.base_current - free.base_current)
    distance = frequency / CYCLES_PER_KEYING_PERIOD if keying.frequency is None else keying.frequency
    tag_quality = np.maximum(budget.tag_quality_factor, keyed_tag.loaded_quality_factor(frequency))
    left = single_pole_response(budget.base_quality_factor, frequency, distance)
    left = left * single_pole_response(tag_quality, frequency, distance)
    sideband = np.abs(change) / pi * left
    return LoadModulation(
        base_current_change=change,
        envelope_change=held * (np.abs(keyed.base_current) - np.abs(free.base_current)),
        carrier_current=0.5 * held * np.abs(keyed.base_current + free.base_current),
        sideband_current=sideband,
        # The source holds still, so the coil's voltage changes by the drop in what the coil looks back into.
        sideband_voltage=sideband * np.abs(base.source_impedance(frequency)),
    )


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
