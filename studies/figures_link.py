"""Pictures of the circuits: the loss ladder, and base and tag against frequency with both reply tones."""

from collections.abc import Sequence
from itertools import pairwise
from math import pi

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.arrays import Array
from links.circuits import BaseCircuit, TagCircuit
from studies.figures_style import HUE, INK, QUIET, TINTS
from studies.findings import number, worst_words
from studies.ladder import STEPS
from studies.rows import AnyRow
from studies.rows import number as column
from studies.specification import Candidate
from studies.stored import StoredDesign

SPAN = 0.12
"""How far the response picture reaches to either side of the working frequency, as a share of it."""

POINTS, ENDS = 481, 9
"""Frequencies of a curve, and capacitances between the ends of a tolerance of which its band is made."""

WORST_STEP, UNSEEN = "ladder_worst_state_dB", 0.05
"""The ladder's last step, left out where it changes less than can be read [dB]."""

TITLE_LINE = 0.2
"""Room for a second line of a title [inch]."""

FOOT, HEAD = 0.5, 0.45
"""Room under and above the ladder [inch]."""

DEEPEST = -25.0
"""Lower edge of the response picture [dB]."""


def loss_ladder(stored: StoredDesign) -> tuple[Figure, str] | None:
    """What each step from the coil alone in air to the tag as it will sit costs; None where it was not computed."""
    found = [(words, number(stored, f"ladder_{step}_dB")) for step, words in STEPS]
    steps = [(words, value) for words, value in found if value is not None and np.isfinite(value)]
    if len(steps) > 2 and number(stored, WORST_STEP) is not None and abs(steps[-1][1] - steps[-2][1]) < UNSEEN:
        steps.pop()  # the state as given is the worst
    if len(steps) < 2:
        return None
    worst, tall = worst_words(stored), 0.9 + 0.52 * len(steps)
    more = TITLE_LINE if worst else 0.0
    figure = Figure(figsize=(8.8, tall + more))
    axes = figure.add_axes((0.36, FOOT / (tall + more), 0.58, (tall - FOOT - HEAD) / (tall + more)))
    values = [value for _, value in steps]
    low, high = min(0.0, *values), max(0.0, *values)
    room = 0.14 * (high - low)
    axes.set_xlim(low - room, high + room)
    axes.set_ylim(len(steps) - 0.45, -0.55)
    axes.axvline(0.0, color=INK, linewidth=0.8)
    for row, (words, value) in enumerate(steps):
        _draw_rung(axes, row, value, None if row == 0 else values[row - 1])
        axes.text(low - room * 1.15, row, words, ha="right", va="center")
    axes.set_yticks([])
    axes.set_xlabel("margin at the worst of the places asked for [dB]")
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    title = ladder_finding(steps) + (f";\n{worst}" if worst else "")
    figure.text(0.02, 0.975, title, fontsize=10.5, fontweight="bold", va="top")
    return figure, title


def _draw_rung(axes: Axes, row: int, value: float, before: float | None) -> None:
    """A step: the margin left as a pale bar, what it cost as a dark one beside it."""
    axes.barh(row, value, height=0.56, color=TINTS[1], zorder=2)
    text = f"{value:.1f} dB"
    if before is not None:
        cost = before - value
        axes.barh(row, cost, left=value, height=0.56, color=HUE if cost >= 0.0 else QUIET, zorder=3)
        text = f"{0.0 - round(cost, 1):+.1f} → {value:.1f} dB".replace("-", "−")
    end = max(value, value if before is None else before, 0.0)
    axes.text(end, row, f" {text}", va="center", fontsize=9.0, zorder=4)


def ladder_finding(steps: list[tuple[str, float]]) -> str:
    """The picture in a sentence."""
    costs = [(before[1] - after[1], after[0]) for before, after in pairwise(steps)]
    most, words = max(costs)
    first, last = steps[0][1], steps[-1][1]
    return f"From {first:.1f} dB in air to {last:.1f} dB: most is lost by “{words}”, {most:.1f} dB".replace("-", "−")


def response(candidate: Candidate, stored: StoredDesign, states: Sequence[AnyRow] = ()) -> tuple[Figure, str] | None:
    """Base and tag against frequency, tuned as they are, with the band of their parts' tolerance and the tones.

    Their other ``states``, each its row, are thin lines.
    """
    if any(number(stored, name) is None for name in ("tuning_capacitance_F", "fitted_capacitance_least_F")):
        return None
    tones = candidate.link.reply_tones if candidate.link.mode == "half-duplex" else (candidate.frequency,)
    low = min(*tones, candidate.frequency * (1.0 - SPAN))
    frequencies = np.linspace(0.99 * low, candidate.frequency * (1.0 + SPAN), POINTS)
    figure = Figure(figsize=(8.8, 4.2))
    axes = figure.add_axes((0.075, 0.13, 0.72, 0.72))
    highest = 0.0
    for side, colour, line in (("", HUE, "-"), ("tag_", INK, "--")):
        curve, band = _curves(candidate, stored, side, frequencies)
        axes.fill_between(frequencies / 1e3, *band, color=colour, alpha=0.13, linewidth=0.0)
        axes.plot(frequencies / 1e3, curve, line, color=colour, linewidth=1.8)
        for row in states[1:]:
            other = _other(candidate, stored, row, side, frequencies)
            axes.plot(frequencies / 1e3, other, color=colour, linewidth=0.7)
            highest = max(highest, float(other.max()))
        words = "tag, its chip's load on it" if side else "base, its drive's resistance in it"
        axes.text(
            1.015,
            curve[-1],
            words.replace(", ", ",\n"),
            transform=axes.get_yaxis_transform(),
            color=colour,
            va="center",
        )
    for tone in dict.fromkeys((candidate.frequency, *tones)):
        axes.axvline(tone / 1e3, color=QUIET, linewidth=0.9)
        axes.text(
            tone / 1e3, highest + 1.2, f"{tone / 1e3:.4g} kHz", ha="center", va="bottom", color=QUIET, fontsize=9.0
        )
    axes.set_ylim(DEEPEST, highest + 1.0)
    axes.set_xlim(frequencies[0] / 1e3, frequencies[-1] / 1e3)
    axes.set_xlabel("frequency [kHz]")
    axes.set_ylabel("response, of its peak as given [dB]" if states[1:] else "response under its peak [dB]")
    for spine in ("top", "right"):
        axes.spines[spine].set_visible(False)
    title = _response_finding(candidate, stored, tones) + _worst_state(candidate, stored, states[1:])
    if states[1:]:
        others = " and ".join(str(row["state"]) for row in states[1:])
        axes.text(0.01, 0.03, f"thin: {others}", transform=axes.transAxes, color=QUIET, fontsize=9.0)
    figure.text(0.02, 0.985, title, fontsize=10.5, fontweight="bold", va="top")
    return figure, title


def _curves(
    candidate: Candidate, stored: StoredDesign, side: str, frequencies: Array
) -> tuple[Array, tuple[Array, Array]]:
    """Response of one side as tuned, and the least and greatest over its parts' tolerance [dB]."""
    own = number(stored, f"{side}tuning_capacitance_F") or 0.0
    least, greatest = (number(stored, f"{side}fitted_capacitance_{end}_F") or own for end in ("least", "greatest"))
    capacitances = [own, *np.linspace(least, greatest, ENDS).tolist()]
    levels = [_level(candidate, stored.row, side, one, frequencies) for one in capacitances]
    top = max(float(level.max()) for level in levels)
    shown = np.maximum(np.array(levels) - top, 2.0 * DEEPEST)
    return shown[0], (shown.min(axis=0), shown.max(axis=0))


def _other(candidate: Candidate, stored: StoredDesign, row: AnyRow, side: str, frequencies: Array) -> Array:
    """Response of one side in another state, under the peak of the state as given [dB]."""
    own = number(stored, f"{side}tuning_capacitance_F") or 0.0
    top = float(_level(candidate, stored.row, side, own, frequencies).max())
    level = _level(candidate, row, side, column(row, f"{side}tuning_capacitance_F"), frequencies)
    return np.maximum(level - top, 2.0 * DEEPEST)


def _level(candidate: Candidate, row: AnyRow, side: str, capacitance: float, frequencies: Array) -> Array:
    """Current of the base coil at the drive's voltage, or voltage of the tag per volt induced [dB]."""
    start = side or "base_"
    inductance, resistance = column(row, f"{start}inductance_H"), column(row, f"{start}resistance_ohm")
    if side:
        tag = TagCircuit(inductance, resistance, candidate.tag.chip.load_resistance, capacitance)
        gains = [abs(complex(tag.chip_impedance(f) / tag.loop_impedance(f))) for f in frequencies]
    else:
        drive = candidate.drive
        base = BaseCircuit(inductance, resistance, 1.0, drive.resistance, candidate.link.tuning, capacitance)
        gains = [
            abs(complex(base.open_circuit_voltage(f) / (base.source_impedance(f) + base.coil_impedance(f))))
            for f in frequencies
        ]
    return np.asarray(20.0 * np.log10(gains))


def response_levels(candidate: Candidate, stored: StoredDesign) -> dict[str, tuple[Array, Array]] | None:
    """Frequencies [Hz] and response [dB] of ``base`` and ``tag`` as tuned; None where they were not computed."""
    if any(number(stored, name) is None for name in ("tuning_capacitance_F", "tag_tuning_capacitance_F")):
        return None
    frequencies = np.linspace(1.0 - SPAN, 1.0 + SPAN, POINTS) * candidate.frequency
    found = {}
    for name, side in (("base", ""), ("tag", "tag_")):
        capacitance = number(stored, f"{side}tuning_capacitance_F") or 0.0
        found[name] = frequencies, _level(candidate, stored.row, side, capacitance, frequencies)
    return found


def _response_finding(candidate: Candidate, stored: StoredDesign, tones: tuple[float, ...]) -> str:
    """The picture in a sentence: what the farther tone loses in the base, and how far tolerance moves either side."""
    at = np.array([candidate.frequency, *tones])
    level = _level(candidate, stored.row, "", number(stored, "tuning_capacitance_F") or 0.0, at)
    moved = [_moved(stored, side) for side in ("", "tag_")]
    words = f"tolerance: base ±{moved[0]:.2g} %, tag ±{moved[1]:.2g} %"
    lost = float(level[0] - level[1:].min())
    if lost < 0.1:
        return words[0].upper() + words[1:]
    far = float(at[1:][np.argmin(level[1:])])
    return f"At {far / 1e3:.4g} kHz the base is {lost:.1f} dB under its carrier; {words}"


def _worst_state(candidate: Candidate, stored: StoredDesign, states: Sequence[AnyRow]) -> str:
    """The other state that takes most at the carrier from base and tag together, as the title's second line."""
    if not states:
        return ""
    carrier = np.array([candidate.frequency])
    found = []
    for row in states:
        changes = []
        for side in ("", "tag_"):
            own = number(stored, f"{side}tuning_capacitance_F") or 0.0
            given = _level(candidate, stored.row, side, own, carrier)
            there = _level(candidate, row, side, column(row, f"{side}tuning_capacitance_F"), carrier)
            changes.append(float(there[0] - given[0]))
        found.append((sum(changes), changes, str(row["state"])))
    total, (base, tag), state = min(found)
    if total >= 0.0:
        return f";\nno other state takes anything at {candidate.frequency / 1e3:.4g} kHz"
    return f";\nworst state, {state}: base {base:+.1f} dB, tag {tag:+.1f} dB at the carrier".replace("-", "−")


def _moved(stored: StoredDesign, side: str) -> float:
    """Half of what the parts' tolerance moves a resonance by [%]."""
    ends = [number(stored, f"{side}fitted_capacitance_{end}_F") or 1.0 for end in ("least", "greatest")]
    resonances = [1.0 / (2.0 * pi * float(np.sqrt(end))) for end in ends]
    return 100.0 * (resonances[0] - resonances[1]) / (resonances[0] + resonances[1])
