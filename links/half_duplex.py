"""The three margins of a half-duplex exchange: charge, reply, and silence before the reply."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from links.charging import Charge
from links.dead_time import RingDown
from links.errors import require_positive
from links.margin import margin_decibels
from links.quantities import RealArray
from links.rectified_tag import Store
from links.reply import Reply

Limit = Literal["power", "reply", "dead time"]
LIMITS: tuple[Limit, ...] = ("power", "reply", "dead time")


STILL_RISING = 0.1
"""Share of its voltage that a store still gains in another charge time, above which it has not stopped rising."""


@dataclass(frozen=True, slots=True)
class Listening:
    """When the base listens, and how well.

    Parameters
    ----------
    pause : float
        Between the end of the drive and the first bit it must hear [s].
    minimum_voltage : float
        Least voltage across the base coil its receiver hears, and most it stands beside a reply [V peak].
    """

    pause: float
    minimum_voltage: float

    def __post_init__(self) -> None:
        require_positive("pause", self.pause)
        require_positive("minimum voltage of the receiver", self.minimum_voltage)


@dataclass(frozen=True, slots=True, eq=False)
class HalfDuplexMargins:
    """Margins of a half-duplex exchange, arrays of the budget's shape.

    Parameters
    ----------
    power, reply, dead_time : ndarray
        [dB].
    needed_voltage : ndarray
        Of the store at the end of the charge time, a measurement before the reply included [V].
    spare_energy : ndarray
        What the store, clamped, holds beyond that; negative where the reply itself lacks it [J].
    """

    power: RealArray
    reply: RealArray
    dead_time: RealArray
    needed_voltage: RealArray
    spare_energy: RealArray

    @property
    def margin(self) -> RealArray:
        """The smallest of the three [dB]."""
        return np.asarray(np.min((self.power, self.reply, self.dead_time), axis=0))

    @property
    def limited_by(self) -> NDArray[np.str_]:
        """Which of the three that is."""
        least = np.argmin((self.power, self.reply, self.dead_time), axis=0)
        return np.asarray(np.array(LIMITS, dtype=np.str_)[least])


def half_duplex_margins(
    charged: Charge,
    supply: Store,
    reply: Reply,
    ringing: RingDown,
    listening: Listening,
    measurement_energy: float = 0.0,
) -> HalfDuplexMargins:
    """Margins in the three stretches of a half-duplex exchange.

    Parameters
    ----------
    charged : Charge
        The store at the end of the charge time.
    supply : Store
        What was charged.
    reply : Reply
        What is sent from it; all arrays broadcast with each other.
    ringing : RingDown
        Of the base coil.
    listening : Listening
        When and how well the base listens.
    measurement_energy : float
        Taken from the store before the reply [J].

    Returns
    -------
    HalfDuplexMargins
        See there.

    Notes
    -----
    Power is the unclamped voltage of the store over the one the whole telegram needs; where the clamp itself lies under
    that need, it is the clamped one, since no nearer place could then mend it. Reply is the weaker tone across the base
    coil over the receiver's minimum. Dead time is the receiver's minimum over what still rings at the end of the pause.
    """
    needed = reply.needed_voltage(supply.capacitance, measurement_energy)
    clamp = np.inf if supply.clamp_voltage is None else supply.clamp_voltage
    counted = np.where(clamp < needed, charged.clamped_voltage, charged.unclamped_voltage)
    parts = np.broadcast_arrays(
        margin_decibels(counted, needed),
        margin_decibels(reply.weakest_base_voltage, listening.minimum_voltage),
        ringing.margin(listening.pause, listening.minimum_voltage),
        needed,
        0.5 * supply.capacitance * (charged.clamped_voltage**2 - needed**2),
    )
    return HalfDuplexMargins(*parts)


def store_notes(charged: Charge, supply: Store, margins: HalfDuplexMargins) -> tuple[str, ...]:
    """Sentences on a store that cannot do its work, over all places of the arrays."""
    notes = []
    greatest = float(np.max(margins.needed_voltage))
    if supply.clamp_voltage is not None and supply.clamp_voltage < greatest:
        notes.append(
            f"The clamp holds the store at {supply.clamp_voltage:.3g} V, under the {greatest:.3g} V from which the "
            "whole telegram can be sent: no field is strong enough."
        )
    voltage, more = charged.unclamped_voltage, charged.final_rate * charged.time
    short = (voltage < margins.needed_voltage) & (more < 1e-3 * margins.needed_voltage)
    slow = short & (more > STILL_RISING * voltage)
    if np.any(slow):
        wait = float(np.min((margins.needed_voltage - voltage)[slow] / charged.final_rate[slow]))
        notes.append(
            f"At {int(np.sum(slow))} of {slow.size} places the store rises so slowly that it would take {wait:.3g} s "
            f"at best to reach what the reply needs, where {charged.time:.3g} s are given (lowest "
            f"{float(np.min(voltage[slow])):.3g} V): a far smaller storage capacitor is needed."
        )
    stuck = short & ~slow
    if np.any(stuck):
        lowest = float(np.min(voltage[stuck]))
        notes.append(
            f"At {int(np.sum(stuck))} of {stuck.size} places the store has all but stopped rising, short of what the "
            f"reply needs (lowest {lowest:.3g} V): a longer charge time does not help there."
        )
    return tuple(notes)
