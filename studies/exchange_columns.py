"""What a candidate's reply comes to, in columns and in words: half-duplex in time, full-duplex in bandwidth."""

from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np

from links.charging import Charge
from links.full_duplex import CYCLES_PER_KEYING_PERIOD, Keying, load_modulation
from links.half_duplex import HalfDuplexMargins, store_notes
from studies.exchange import store_of
from studies.linking import Linked
from studies.rows import Row
from studies.specification import Candidate

_Arrays = TypeVar("_Arrays", Charge, HalfDuplexMargins)

ROOM_FOR_SIDEBANDS = 2.0
"""Bandwidth that both first sidebands of the keying take, in keying frequencies."""


def exchange_columns(candidate: Candidate, link: Linked) -> Row:
    """Columns of the reply.

    Parameters
    ----------
    candidate : Candidate
        Any.
    link : Linked
        With no tag first, then at each reference place.

    Returns
    -------
    dict
        Margins and what limits at the worst place; all else at the worst of the places, each for itself.
    """
    worst = 1 + int(np.argmin(link.margin[1:]))
    row: Row = {
        "margin_limited_by": str(link.limited_by[worst]),
        "power_margin_dB": float(link.power_margin[worst]),
        "reply_margin_dB": float(link.reply_margin[worst]),
    }
    if link.dead_time_margin is not None:
        row["dead_time_margin_dB"] = float(link.dead_time_margin[worst])
    return row | (_half_duplex(candidate, link) if link.exchange is not None else _full_duplex(candidate, link))


def _half_duplex(candidate: Candidate, link: Linked) -> Row:
    found, receiver = link.exchange, candidate.link.receiver_minimum_voltage
    assert found is not None, "only called for a half-duplex exchange"
    ringing = np.broadcast_to(found.ringing.time_to(receiver), link.chip_voltage.shape)
    row: Row = {
        "reply_voltage_V": float(found.reply.weakest_base_voltage[1:].min()),
        "dead_time_s": float(ringing.max()),
        "pause_s": candidate.link.pause,
    }
    if found.charged is None:
        return row
    return row | {
        "store_voltage_V": float(found.charged.unclamped_voltage[1:].min()),
        "needed_store_voltage_V": float(found.margins.needed_voltage[1:].max()),
        "spare_store_energy_J": float(found.margins.spare_energy[1:].min()),
    }


def _full_duplex(candidate: Candidate, link: Linked) -> Row:
    keying = candidate.link.keying_frequency or candidate.frequency / CYCLES_PER_KEYING_PERIOD
    modulation = load_modulation(link.budget, Keying(candidate.tag.chip.modulated_load_resistance, keying))
    return {
        "modulation_depth_dB": float(modulation.modulation_depth_decibels[1:].max()),
        "sideband_voltage_V": float(modulation.sideband_voltage[1:].min()),
        "base_bandwidth_Hz": _bandwidth(candidate.frequency, float(np.max(link.budget.base_quality_factor))),
        "tag_bandwidth_Hz": _bandwidth(candidate.frequency, float(np.max(link.budget.tag_quality_factor))),
        "needed_bandwidth_Hz": ROOM_FOR_SIDEBANDS * keying,
    }


def _bandwidth(frequency: float, quality: float) -> float:
    """Between the two frequencies at which a tuned circuit is 3 dB down, f/Q [Hz]."""
    return frequency / quality if quality > 0.0 else float("inf")


def exchange_remarks(candidate: Candidate, link: Linked, row: Row) -> list[str]:
    """What a designer should know of the reply: a store that fails, a base that rings on, too few hertz."""
    return [
        *_store_remarks(candidate, link),
        *_dead_time_remarks(row),
        *_bandwidth_remarks(row),
        *_over_voltage_remarks(candidate, row),
    ]


def _store_remarks(candidate: Candidate, link: Linked) -> list[str]:
    found, store = link.exchange, store_of(candidate)
    if found is None or found.charged is None or store is None:
        return []
    notes = store_notes(_behind_no_tag(found.charged), store, _behind_no_tag(found.margins))
    return [f"link.storage: {note[0].lower()}{note[1:]}" for note in notes]


def _behind_no_tag(values: _Arrays) -> _Arrays:
    """All arrays without the first place, that of no tag, where no store ever charges."""
    named = {field.name: getattr(values, field.name) for field in fields(values)}
    behind: dict[str, Any] = {name: one[1:] for name, one in named.items() if isinstance(one, np.ndarray)}
    return replace(values, **behind)


def _dead_time_remarks(row: Row) -> list[str]:
    dead, pause = row.get("dead_time_s"), row.get("pause_s")
    if not isinstance(dead, float) or not isinstance(pause, float) or dead <= pause:
        return []
    return [
        f"link.pause: the base coil rings on for {dead * 1e3:.3g} ms until its receiver can hear; the reply begins "
        f"after {pause * 1e3:.3g} ms"
    ]


def _bandwidth_remarks(row: Row) -> list[str]:
    needed = row.get("needed_bandwidth_Hz")
    if not isinstance(needed, float):
        return []
    found = []
    for side, words in (("base", "base coil's"), ("tag", "tag's")):
        left = row[f"{side}_bandwidth_Hz"]
        if isinstance(left, float) and left < needed:
            found.append(
                f"link.keying_frequency: the {words} circuit passes {left / 1e3:.3g} kHz, the keying's sidebands take "
                f"{needed / 1e3:.3g} kHz; what that costs is in the reply margin"
            )
    return found


def _over_voltage_remarks(candidate: Candidate, row: Row) -> list[str]:
    """A tag that sits so near that its chip would stand at more than it bears, but for its limiter."""
    chip, greatest = candidate.tag.chip, row["greatest_chip_voltage_V"]
    assert isinstance(greatest, float), "a voltage is a number"
    if chip.maximum_voltage is None or greatest <= chip.maximum_voltage:
        return []
    held = (
        f"; its limiter has to hold it at {chip.clamp_voltage:g} V"
        if chip.clamp_voltage is not None and chip.clamp_voltage <= chip.maximum_voltage
        else " and nothing limits it"
    )
    return [
        f"tag.chip.maximum_voltage: the chip would reach {greatest:.3g} V peak where the tag sits too close, more than "
        f"the {chip.maximum_voltage:g} V it stands{held}"
    ]
