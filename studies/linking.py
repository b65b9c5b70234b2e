"""What the link does at the places of a candidate: circuits on both sides, chip voltage, margin, reading heights."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Array, ComplexArray
from links.budget import LinkBudget, clamped, link_budget
from links.circuits import BaseCircuit, TagCircuit
from links.full_duplex import Keying, Receiver, load_modulation, reply_margin
from links.half_duplex import LIMITS
from links.margin import margin_decibels
from links.reading import ReadingWindow, reading_window
from studies.asked_places import height_range, worst_line
from studies.coupling import Coupling
from studies.exchange import Exchange, ExchangeTable, excesses, exchange
from studies.leads import seen_through_lead
from studies.specification import Candidate
from studies.tuning import base_circuit, tag_circuit

PROFILE_POINTS = 161

TABLE_HEIGHTS, TABLE_NODES = 10, 32
SMALLEST_SHARE = 1e-4
"""Size of the table of a half-duplex tag's margins, and its least |M| as a share of the greatest."""

LEAST_MUTUAL = 1e-18
"""A mutual inductance no larger than this [H] is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Linked:
    """The link at an array of places.

    ``margin`` [dB] is the least of power and reply margin and, in half-duplex, of dead-time margin; ``chip_voltage`` is
    steady and unclamped, ``clamped_voltage`` what the chip lets stand [V peak]. ``exchange`` is a half-duplex tag's.
    """

    budget: LinkBudget
    chip_voltage: Array
    clamped_voltage: Array
    power_margin: Array
    reply_margin: Array
    dead_time_margin: Array | None
    exchange: Exchange | None = None

    @property
    def margin(self) -> Array:
        """The least of them [dB]."""
        least = np.minimum(self.power_margin, self.reply_margin)
        return least if self.dead_time_margin is None else np.asarray(np.minimum(least, self.dead_time_margin))

    @property
    def limited_by(self) -> NDArray[np.str_]:
        """Which of them that is: "power", "reply" or "dead time"."""
        found = [self.power_margin, self.reply_margin]
        found += [] if self.dead_time_margin is None else [self.dead_time_margin]
        return np.asarray(np.array(LIMITS, dtype=np.str_)[np.argmin(found, axis=0)])


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Margin against height on one line, with the band that the estimated error of M leaves, shape (n,) [m], [dB]."""

    label: str
    offset: float
    tilt: float
    heights: Array
    margin: Array
    margin_low: Array
    margin_high: Array
    window: ReadingWindow


def linked(
    candidate: Candidate,
    coupling: Coupling,
    heights: Array,
    mutual_inductance: ComplexArray,
    table: ExchangeTable | None = None,
) -> Linked:
    """The link at places with the given M; ``heights`` broadcasts with it.

    With a ``table`` a half-duplex tag's margins are interpolated in it; without one its exchange is followed at every
    place: from cycle to cycle, unless the study's candidates are so many that they share their field.
    """
    base, tag = base_circuit(candidate, coupling.coils), tag_circuit(candidate, coupling.coils, heights)
    mutual_inductance = seen_through_lead(candidate, coupling.coils.base, mutual_inductance)
    if table is None or candidate.link.mode == "full-duplex":
        stepped = candidate.formulation == "total field"
        return linked_circuits(candidate, base, tag, mutual_inductance, stepped=stepped)
    budget = link_budget(candidate.frequency, base, tag, mutual_inductance)
    voltage = budget.chip_voltage
    standing = clamped(voltage, candidate.tag.chip.clamp_voltage)
    return Linked(budget, voltage, standing, *table.margins(budget, heights))


def linked_circuits(
    candidate: Candidate, base: BaseCircuit, tag: TagCircuit, mutual_inductance: ComplexArray, *, stepped: bool
) -> Linked:
    """The link of these very circuits, M as seen from the reader's end of any lead.

    ``stepped`` follows a store's charge from cycle to cycle.
    """
    budget = link_budget(candidate.frequency, base, tag, mutual_inductance)
    chip, link = candidate.tag.chip, candidate.link
    voltage = budget.chip_voltage
    standing = clamped(voltage, chip.clamp_voltage)
    if link.mode == "full-duplex":
        keying = Keying(chip.modulated_load_resistance, link.keying_frequency)
        receiver = Receiver(link.receiver_minimum_voltage, link.receiver_dynamic_range)
        reply = reply_margin(load_modulation(budget, keying), receiver).margin
        return Linked(budget, voltage, standing, margin_decibels(voltage, chip.minimum_voltage), reply, None)
    found = exchange(candidate, budget, stepped)
    margins = found.margins
    return Linked(budget, voltage, standing, margins.power, margins.reply, margins.dead_time, found)


def greatest_mutual(candidate: Candidate, coupling: Coupling) -> float:
    """Greatest |M| at the lowest place, wherever the map has the tag there [H]."""
    lowest, _ = height_range(candidate)
    offsets, tilts = np.array(candidate.grid.offsets), np.array(candidate.grid.tilts)
    nearest = coupling.grid(np.array([lowest]), offsets, tilts)
    return float(np.abs(nearest.greatest_mutual_inductance).max())


def exchange_table(candidate: Candidate, coupling: Coupling, greatest: float | None = None) -> ExchangeTable | None:
    """A half-duplex tag's margins between the lowest place and the ceiling, ready to be interpolated.

    ``greatest`` is `greatest_mutual` where that is known already [H].
    """
    if candidate.link.mode == "full-duplex":
        return None
    lowest, _ = height_range(candidate)
    greatest = greatest_mutual(candidate, coupling) if greatest is None else greatest
    heights = np.geomspace(lowest, coupling.ceiling, TABLE_HEIGHTS)
    greatest *= float(np.abs(seen_through_lead(candidate, coupling.coils.base, np.ones(1, dtype=np.complex128)))[0])
    magnitudes = max(greatest, LEAST_MUTUAL) * np.geomspace(SMALLEST_SHARE, 1.0, TABLE_NODES)
    base, tag = base_circuit(candidate, coupling.coils), tag_circuit(candidate, coupling.coils, heights[:, None])
    budget = link_budget(candidate.frequency, base, tag, magnitudes.astype(np.complex128))
    return ExchangeTable(heights, magnitudes, *excesses(budget, exchange(candidate, budget, stepped=False)))


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """M on some lines of heights, whatever drives the base coil.

    ``named`` are label, offset [m] and tilt [rad] of each; ``heights`` (n,) [m]; ``extremes`` (n_line, 2, n) and
    ``error`` (n_line, n) as of `Coupling.line` [H].
    """

    named: tuple[tuple[str, float, float], ...]
    heights: Array
    extremes: ComplexArray
    error: Array

    def times(self, factor: float) -> "Lines":
        """With so many times the turns on the base coil."""
        return Lines(self.named, self.heights, factor * self.extremes, factor * self.error)


def profiles(candidate: Candidate, coupling: Coupling, table: ExchangeTable | None) -> tuple[Profile, ...]:
    """Margin against height on the axis, at the worst offset, and at the worst offset and lean."""
    return profiles_on(candidate, coupling, table, asked_lines(candidate, coupling))


def asked_lines(candidate: Candidate, coupling: Coupling) -> Lines:
    """M on the lines on which the study asks for the reading height."""
    offset, tilt = worst_line(candidate)
    lines = [("on the axis, upright", 0.0, 0.0)]
    if offset:
        lines.append((f"{offset * 1e3:.3g} mm off the axis, upright", offset, 0.0))
    if tilt:
        where = f"{offset * 1e3:.3g} mm off the axis" if offset else "on the axis"
        lines.append((f"{where}, leaning {np.degrees(tilt):.3g}° the worst way", offset, tilt))
    return _lines(candidate, coupling, tuple(lines))


def lines_at(candidate: Candidate, coupling: Coupling, places: Sequence[tuple[float, float]]) -> Lines:
    """M on lines at any offsets [m] and tilts [rad]."""
    named = [(f"{offset * 1e3:.3g} mm off the axis, {np.degrees(tilt):.3g}°", offset, tilt) for offset, tilt in places]
    return _lines(candidate, coupling, tuple(named))


def _lines(candidate: Candidate, coupling: Coupling, named: tuple[tuple[str, float, float], ...]) -> Lines:
    heights = _profile_heights(candidate, coupling)
    found = [coupling.line(heights, offset, tilt) for _, offset, tilt in named]
    extremes, error = (np.array(parts) for parts in zip(*found, strict=True))
    return Lines(named, heights, extremes, error)


def profiles_on(
    candidate: Candidate, coupling: Coupling, table: ExchangeTable | None, lines: Lines
) -> tuple[Profile, ...]:
    """Margin against height on lines."""
    margins = _worst_margins(candidate, coupling, lines.heights, lines.extremes, lines.error, table)
    return tuple(_profile(*line, lines.heights, one) for line, one in zip(lines.named, margins, strict=True))


def _profile_heights(candidate: Candidate, coupling: Coupling) -> Array:
    lowest, _ = height_range(candidate)
    heights = np.geomspace(lowest, coupling.ceiling, PROFILE_POINTS)
    heights[[0, -1]] = lowest, coupling.ceiling
    return heights


def _profile(label: str, offset: float, tilt: float, heights: Array, margins: Array) -> Profile:
    margin, low, high = margins[0], margins.min(axis=0), margins.max(axis=0)
    return Profile(label, offset, tilt, heights, margin, low, high, reading_window(heights, margin))


def _worst_margins(
    candidate: Candidate,
    coupling: Coupling,
    heights: Array,
    extremes: ComplexArray,
    error: Array,
    table: ExchangeTable | None,
) -> Array:
    """Least margin over all lean directions, M as it is and its magnitude off by ∓ its error, (n_line, 3, n) [dB].

    Past critical coupling the chip voltage falls as M grows: then the strongest lean is the worst one. Between the two
    the voltage has at most one maximum and no minimum.

    Parameters
    ----------
    extremes : ndarray of complex, shape (n_line, 2, n)
        M of least and of greatest magnitude on each line [H].
    error : ndarray, shape (n_line, n)
        [H].
    """
    shifts = np.multiply.outer((0.0, -1.0, 1.0), error).swapaxes(0, 1)
    mutual = _shifted(extremes[:, None], shifts[:, :, None])
    return np.asarray(linked(candidate, coupling, heights, mutual, table).margin.min(axis=2))


def _shifted(mutual_inductance: ComplexArray, shift: Array) -> ComplexArray:
    """M with its magnitude moved by ``shift`` [H], not below zero."""
    size = np.abs(mutual_inductance)
    moved = np.maximum(size + shift, 0.0)
    return np.asarray(np.where(size == 0.0, moved, mutual_inductance * moved / np.where(size == 0.0, 1.0, size)))


def coupling_coefficient(coupling: Coupling, heights: Array, mutual_inductance: ComplexArray) -> Array:
    """k = |M|/√(L_b L_t) with the tag's L at its height [1]."""
    inductance = coupling.coils.base.inductance * coupling.coils.tag_inductance(heights)
    return np.asarray(np.abs(mutual_inductance) / np.sqrt(inductance))


def rms(peak: float) -> float:
    """Root mean square of a sine of the given peak."""
    return peak / sqrt(2.0)
