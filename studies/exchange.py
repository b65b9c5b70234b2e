"""A half-duplex exchange in time: charge, silence, reply, each with its margin, and which of them decides."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Array
from links.budget import LinkBudget
from links.charging import Charge, charge
from links.dead_time import RingDown, ring_down
from links.half_duplex import HalfDuplexMargins, Listening, half_duplex_margins
from links.margin import margin_decibels, peak_rectifier_load
from links.rectified_tag import Store
from links.reply import Reply, ReplyDrive, Telegram, sustained_reply
from links.store_charge import quasi_steady_charge
from studies.specification import Candidate


@dataclass(frozen=True, slots=True, eq=False)
class Exchange:
    """An exchange at an array of places.

    ``charged`` is None for a tag without a store, whose power margin is that of the steady chip voltage.
    """

    charged: Charge | None
    reply: Reply
    ringing: RingDown
    margins: HalfDuplexMargins


def store_of(candidate: Candidate) -> Store | None:
    """Rectifier and store of the tag; None where the study gives none."""
    chip, capacitance = candidate.tag.chip, candidate.link.storage_capacitance
    if capacitance is None:
        return None
    # What the chip loads the tuned circuit with is twice as much behind a peak rectifier (DESIGN 4.5).
    return Store(
        capacitance,
        chip.rectifier_drop,
        chip.current,
        float(chip.load_resistance / peak_rectifier_load(1.0)),
        chip.clamp_voltage,
    )


def exchange(candidate: Candidate, budget: LinkBudget, stepped: bool) -> Exchange:
    """The exchange at the budget's places; ``stepped`` follows the charge from cycle to cycle.

    Raises
    ------
    LinkError
        For a store that no rectifier can serve.
    """
    chip, link, store = candidate.tag.chip, candidate.link, store_of(candidate)
    telegram = Telegram(link.reply_tones, link.telegram_bits)
    drive = ReplyDrive(chip.minimum_voltage, chip.minimum_voltage, chip.current, candidate.drive.when_off, telegram)
    reply, ringing = sustained_reply(budget, drive), ring_down(budget, candidate.drive.when_off)
    listening = Listening(link.pause, link.receiver_minimum_voltage)
    if store is None:
        return Exchange(None, reply, ringing, _without_store(candidate, budget, reply, ringing))
    assert link.charge_time is not None, "a store has its charge time"
    charged = (charge if stepped else quasi_steady_charge)(budget, store, link.charge_time)
    margins = half_duplex_margins(charged, store, reply, ringing, listening, link.measurement_energy)
    return Exchange(charged, reply, ringing, margins)


def _without_store(candidate: Candidate, budget: LinkBudget, reply: Reply, ringing: RingDown) -> HalfDuplexMargins:
    chip, link = candidate.tag.chip, candidate.link
    voltage = budget.chip_voltage
    return HalfDuplexMargins(
        margin_decibels(voltage, chip.minimum_voltage),
        margin_decibels(reply.weakest_base_voltage, link.receiver_minimum_voltage),
        np.broadcast_to(ringing.margin(link.pause, link.receiver_minimum_voltage), voltage.shape),
        np.full_like(voltage, chip.minimum_voltage),
        np.full_like(voltage, np.nan),
    )


FARTHEST = 400.0
"""A margin further from its reference than this counts as so far [dB]: logarithms of nothing do not interpolate."""

LONG_QUIET = 1e4
"""The same of a dead-time margin: a pause of many time constants leaves thousands of decibels [dB]."""


@dataclass(frozen=True, slots=True, eq=False)
class ExchangeTable:
    """A half-duplex tag's margins over height and magnitude of M, each less what it nearly follows.

    Parameters
    ----------
    heights, magnitudes : ndarray, shapes (n,) and (m,)
        Nodes, evenly spread over their logarithms [m], [H].
    power, reply, dead_time : ndarray, shape (n, m)
        Power margin less that of the steady chip voltage, reply margin less the level of |M|, and dead-time margin;
        all but straight in the two logarithms [dB].
    """

    heights: Array
    magnitudes: Array
    power: Array
    reply: Array
    dead_time: Array

    def margins(self, budget: LinkBudget, heights: Array) -> tuple[Array, Array, Array]:
        """Power, reply and dead-time margin at the places of a budget, at ``heights`` that broadcast with it [dB]."""
        mutual = np.abs(budget.mutual_inductance)
        low, up = _between(self.heights, np.asarray(heights))
        left, right = _between(self.magnitudes, mutual)
        shares = [np.broadcast_arrays(*pair) for pair in ((low, left), (up, right))]
        (below, before), (rise, step) = shares

        def at(values: Array) -> Array:
            first = values[below, before] * (1.0 - step) + values[below, before + 1] * step
            second = values[below + 1, before] * (1.0 - step) + values[below + 1, before + 1] * step
            return np.asarray(first * (1.0 - rise) + second * rise)

        return (
            at(self.power) + margin_decibels(budget.chip_voltage, 1.0),
            at(self.reply) + margin_decibels(mutual, 1.0),
            at(self.dead_time),
        )


def excesses(budget: LinkBudget, found: Exchange) -> tuple[Array, Array, Array]:
    """What a table holds, from an exchange at its nodes [dB]."""
    margins = found.margins
    return (
        np.clip(margins.power - margin_decibels(budget.chip_voltage, 1.0), -FARTHEST, FARTHEST),
        np.clip(margins.reply - margin_decibels(np.abs(budget.mutual_inductance), 1.0), -FARTHEST, FARTHEST),
        np.clip(np.broadcast_to(margins.dead_time, budget.held.shape), -LONG_QUIET, LONG_QUIET),
    )


def _between(nodes: Array, values: Array) -> tuple[NDArray[np.intp], Array]:
    """The node before each value and how far it is towards the next, over evenly spread logarithms; ends hold on."""
    step = np.log(nodes[-1] / nodes[0]) / (nodes.size - 1)
    place = np.log(np.maximum(values, nodes[0]) / nodes[0]) / step
    before = np.minimum(place.astype(np.intp), nodes.size - 2)
    return before, np.minimum(place - before, 1.0)
