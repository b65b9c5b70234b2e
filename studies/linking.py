"""What the link does at the places of a candidate: circuits on both sides, chip voltage, margin, reading heights."""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from fem.arrays import Array, ComplexArray
from links.budget import LinkBudget, clamped, link_budget
from links.full_duplex import Keying, Receiver, load_modulation, reply_margin
from links.margin import margin_decibels
from links.reading import ReadingWindow, reading_window
from studies.asked_places import height_range, worst_line
from studies.coupling import Coupling
from studies.specification import Candidate
from studies.tuning import base_circuit, tag_circuit

PROFILE_POINTS = 161


@dataclass(frozen=True, slots=True, eq=False)
class Linked:
    """The link at an array of places.

    ``margin`` [dB] is the least of power margin and, in full-duplex, reply margin; ``chip_voltage`` is unclamped
    and ``clamped_voltage`` what the chip lets stand [V peak].
    """

    budget: LinkBudget
    chip_voltage: Array
    clamped_voltage: Array
    power_margin: Array
    reply_margin: Array | None
    margin: Array


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


def linked(candidate: Candidate, coupling: Coupling, heights: Array, mutual_inductance: ComplexArray) -> Linked:
    """The link at places with the given M; ``heights`` broadcasts with it."""
    base, tag = base_circuit(candidate, coupling.coils), tag_circuit(candidate, coupling.coils, heights)
    budget = link_budget(candidate.frequency, base, tag, mutual_inductance)
    chip = candidate.tag.chip
    voltage = budget.chip_voltage
    power = margin_decibels(voltage, chip.minimum_voltage)
    reply = None
    if candidate.link.mode == "full-duplex":
        modulation = load_modulation(budget, Keying(chip.modulated_load_resistance))
        link = candidate.link
        reply = reply_margin(modulation, Receiver(link.receiver_minimum_voltage, link.receiver_dynamic_range)).margin
    least = power if reply is None else np.minimum(power, reply)
    return Linked(budget, voltage, clamped(voltage, chip.clamp_voltage), power, reply, least)


def profiles(candidate: Candidate, coupling: Coupling) -> tuple[Profile, ...]:
    """Margin against height on the axis, at the worst offset, and at the worst offset and lean."""
    offset, tilt = worst_line(candidate)
    lines = [("on the axis, upright", 0.0, 0.0)]
    if offset:
        lines.append((f"{offset * 1e3:.3g} mm off the axis, upright", offset, 0.0))
    if tilt:
        where = f"{offset * 1e3:.3g} mm off the axis" if offset else "on the axis"
        lines.append((f"{where}, leaning {np.degrees(tilt):.3g}° the worst way", offset, tilt))
    heights = _profile_heights(candidate, coupling)
    found = [coupling.line(heights, *place) for _, *place in lines]
    extremes, error = (np.array(parts) for parts in zip(*found, strict=True))
    margins = _worst_margins(candidate, coupling, heights, extremes, error)
    return tuple(_profile(*line, heights, one) for line, one in zip(lines, margins, strict=True))


def _profile_heights(candidate: Candidate, coupling: Coupling) -> Array:
    lowest, _ = height_range(candidate)
    heights = np.geomspace(lowest, coupling.ceiling, PROFILE_POINTS)
    heights[[0, -1]] = lowest, coupling.ceiling
    return heights


def _profile(label: str, offset: float, tilt: float, heights: Array, margins: Array) -> Profile:
    margin, low, high = margins[0], margins.min(axis=0), margins.max(axis=0)
    return Profile(label, offset, tilt, heights, margin, low, high, reading_window(heights, margin))


def _worst_margins(
    candidate: Candidate, coupling: Coupling, heights: Array, extremes: ComplexArray, error: Array
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
    return np.asarray(linked(candidate, coupling, heights, mutual).margin.min(axis=2))


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
