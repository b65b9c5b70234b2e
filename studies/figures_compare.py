"""Two designs beside each other: ladders, margins, coupling maps on one scale with their ratio, cuts, responses."""

from itertools import pairwise
from math import degrees

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, LinearSegmentedColormap
from matplotlib.figure import Figure

from fem.arrays import Array, BooleanArray
from studies.asked_places import reference_places
from studies.compare_texts import signed
from studies.compared import Side
from studies.comparing import (
    at_places,
    common_spread,
    coupling_in_decibels,
    error_in_decibels,
    ladder_steps,
    relative_error,
)
from studies.drawing import MILLIMETRE
from studies.figures_coupling import PERCENT, draw_panel, draw_scale, map_levels
from studies.figures_link import response_levels
from studies.figures_section import shown_tilt
from studies.figures_style import DEPTH, HUE, INK, QUIET, TINTS
from studies.ladder import STEPS

Drawn = tuple[Figure, str]

CHANGE = LinearSegmentedColormap.from_list(
    "change", ["#6b3708", "#b9772f", "#e6c79c", "#fbfaf6", "#a9cfd1", "#3f868f", "#0b3a42"]
)
"""Less coupling brown, more of it green-blue, both darker the larger: signs stand on the contours too."""

STEPS_OF_CHANGE = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
CHANGE_LEVELS = 4
"""Steps [dB] of which the one is taken that needs no more levels than so many to either side."""

PLAIN, DASHED = (0, ()), (0, (6, 2))
COMMON = 97.0
"""Per cent of the places that the scale of the ratio and its finding hold: beside a null it has no bounds."""

DEEPEST = -10.0
"""Margin down to which heights are drawn [dB]."""

LEAST_SHOWN = 0.005
"""A change that would be printed as 0.00 [dB]."""


def minus(text: str) -> str:
    """With the sign that a reader expects."""
    return text.replace("-", "−")


def ladder_difference(reference: Side, other: Side) -> Drawn | None:
    """What each step of the loss ladder costs in the one and in the other; None where either has none."""
    ours, theirs = ladder_steps(reference), ladder_steps(other)
    steps = [(name, words) for name, words in STEPS if name in ours and name in theirs]
    if len(steps) < 2:
        return None
    figure = Figure(figsize=(8.8, 1.15 + 0.56 * len(steps)))
    axes = figure.add_axes((0.33, 0.15, 0.44, 0.68))
    values = [(ours[name], theirs[name]) for name, _ in steps]
    every = [value for pair in values for value in pair]
    low, high = min(0.0, *every), max(0.0, *every)
    room = 0.06 * (high - low or 1.0)
    axes.set_xlim(low - room, high + room)
    axes.set_ylim(len(steps) - 0.4, -0.6)
    axes.axvline(0.0, color=INK, linewidth=0.8)
    changes = _step_changes(values)
    for row, ((_, words), (one, two), change) in enumerate(zip(steps, values, changes, strict=True)):
        axes.barh(row - 0.19, one, height=0.34, color=TINTS[1], edgecolor=QUIET, linewidth=0.6)
        axes.barh(row + 0.19, two, height=0.34, color=HUE)
        axes.text(low - 1.6 * room, row, words, ha="right", va="center")
        own = signed(two - one)
        text = own if row == 0 else f"{own}, of it here {signed(change)}"
        axes.text(high + 1.6 * room, row, text, va="center", fontsize=9.0)
    axes.set_yticks([])
    axes.set_xlabel(f"margin left after each step [dB]; pale {reference.letter}, dark {other.letter}")
    _open(axes, left=True)
    title = ladder_finding(reference, other, [words for _, words in steps], changes)
    figure.text(0.02, 0.985, title, fontsize=10.5, fontweight="bold", va="top")
    return figure, title


def _step_changes(values: list[tuple[float, float]]) -> list[float]:
    """By how much more margin the other keeps in each step [dB]: the first in air, then what steps cost."""
    first = values[0][1] - values[0][0]
    return [first] + [(b[1] - b[0]) - (a[1] - a[0]) for a, b in pairwise(values)]


def ladder_finding(reference: Side, other: Side, words: list[str], changes: list[float]) -> str:
    """Which step makes the difference."""
    total = sum(changes)
    if max(abs(change) for change in changes) < LEAST_SHOWN:
        return f"Every step costs the same in {reference.letter} and {other.letter}"
    most = max(range(len(changes)), key=lambda step: abs(changes[step]))
    where = "the coil in air" if most == 0 else f"“{words[most]}”"
    return (
        f"{other.letter} ends {signed(total)} from {reference.letter}: most of it by {where}, {signed(changes[most])}"
    )


def margin_difference(reference: Side, other: Side) -> Drawn:
    """Worst-line margins against height with their bands, and below them the difference."""
    figure = Figure(figsize=(8.8, 5.4))
    above, below = figure.add_axes((0.085, 0.42, 0.885, 0.47)), figure.add_axes((0.085, 0.1, 0.885, 0.26))
    ends = [side.arrays.profiles[-1].heights for side in (reference, other)]
    low = max(float(one[0]) for one in ends)
    high = min(*(float(one[-1]) for one in ends), max(_last_seen(side) for side in (reference, other)))
    for side, colour, dashes in ((reference, INK, PLAIN), (other, HUE, DASHED)):
        worst = side.arrays.profiles[-1]
        heights = worst.heights * MILLIMETRE
        bottom, top = (np.where(np.isfinite(one), one, np.nan) for one in (worst.margin_low, worst.margin_high))
        above.fill_between(heights, bottom, top, color=colour, alpha=0.15, linewidth=0.0)
        label = f"{side.letter}: {worst.label}"
        above.plot(
            heights, np.where(np.isfinite(worst.margin), worst.margin, np.nan), color=colour, label=label, ls=dashes
        )
    above.axhline(0.0, color=INK, linewidth=0.8)
    above.legend(loc="upper right", frameon=False, fontsize=8.5)
    above.set_ylabel("margin [dB]")
    above.set_ylim(bottom=max(above.get_ylim()[0], -25.0))
    title = f"{reference.letter} and {other.letter} have no height in common"
    if high > low:
        heights = np.linspace(low, high, 161)
        change, error = _margin_change(reference, other, heights)
        below.fill_between(heights * MILLIMETRE, change - error, change + error, color=HUE, alpha=0.2, linewidth=0.0)
        below.plot(heights * MILLIMETRE, change, color=HUE)
        title = margin_finding(reference, other, heights, change)
        for axes in (above, below):
            axes.set_xlim(low * MILLIMETRE, high * MILLIMETRE)
    below.axhline(0.0, color=INK, linewidth=0.8)
    below.set_ylabel(f"{other.letter} − {reference.letter} [dB]")
    below.set_xlabel("height of the tag coil's centre above the plate's top [mm]")
    for axes in (above, below):
        _open(axes)
    figure.text(0.02, 0.985, title, fontsize=10.5, fontweight="bold", va="top")
    return figure, title


def _last_seen(side: Side) -> float:
    """Height [m] up to which a design's worst margin is looked at: where it has fallen to `DEEPEST`."""
    worst = side.arrays.profiles[-1]
    seen = np.flatnonzero(worst.margin > DEEPEST)
    return float(worst.heights[seen[-1] if seen.size else -1])


def _margin_change(reference: Side, other: Side, heights: Array) -> tuple[Array, Array]:
    """Change of the margin on each side's worst line, and what it may be off by [dB]."""
    margins, errors = [], []
    common = float(error_in_decibels(np.array(common_spread(reference, other))))
    for side in (reference, other):
        worst = side.arrays.profiles[-1]
        lines = [np.where(np.isfinite(one), one, np.nan) for one in (worst.margin, worst.margin_low, worst.margin_high)]
        at, low, high = (np.interp(heights, worst.heights, one) for one in lines)
        margins.append(at)
        errors.append(np.maximum(np.maximum(high - at, at - low) - common, 0.0))
    return margins[1] - margins[0], errors[0] + errors[1]


def margin_finding(reference: Side, other: Side, heights: Array, change: Array) -> str:
    """Between what the margins differ."""
    seen = np.isfinite(change)
    if not seen.any():
        return f"{reference.letter} and {other.letter} read at no common height"
    least, most = float(change[seen].min()), float(change[seen].max())
    span = f"{heights[0] * MILLIMETRE:.3g} to {heights[-1] * MILLIMETRE:.3g} mm"
    if max(abs(least), abs(most)) < LEAST_SHOWN:
        return f"The worst margins of {reference.letter} and {other.letter} are the same from {span}"
    return minus(f"{other.letter} has {least:+.2f} to {most:+.2f} dB of margin against {reference.letter}, {span}")


# -- maps -----------------------------------------------------------------------------------------------------------


def common_places(reference: Side, other: Side) -> tuple[tuple[float, ...], tuple[float, ...], float] | None:
    """Heights and offsets of the reference's map that the other's holds too [m], and the tilt shown [rad]."""
    tilt = reference.grid.tilts[shown_tilt(reference.candidate)]
    both = []
    for ours, theirs in (
        (reference.grid.heights, other.grid.heights),
        (reference.grid.offsets, other.grid.offsets),
    ):
        low, high = max(ours[0], theirs[0]), min(ours[-1], theirs[-1])
        both.append(tuple(dict.fromkeys((low, *(x for x in ours if low < x < high), high))) if high > low else ())
    tilts = other.grid.tilts
    inside = tilts[0] - 1e-9 <= tilt <= tilts[-1] + 1e-9
    return (both[0], both[1], tilt) if both[0] and both[1] and inside else None


def ratio_of(reference: Side, other: Side) -> tuple[Array, Array] | None:
    """The ratio of k over the common places, and the estimated errors of both together, (n_height, n_offset) [dB]."""
    places = common_places(reference, other)
    if places is None:
        return None
    heights, offsets, tilt = places
    levels, errors, spread = [], [], common_spread(reference, other)
    for side in (reference, other):
        levels.append(at_places(side, coupling_in_decibels(side), heights, offsets, tilt))
        errors.append(at_places(side, error_in_decibels(relative_error(side, spread)), heights, offsets, tilt))
    return levels[1] - levels[0], errors[0] + errors[1]


def maps_beside(reference: Side, other: Side) -> Drawn | None:
    """k of both on one scale, and the ratio; hatched where it is no more than the error. None without common places."""
    places, found = common_places(reference, other), ratio_of(reference, other)
    if places is None or found is None:
        return None
    heights, offsets, tilt = places
    ratio, error = found
    hidden = masked(ratio, error)
    levels_of = [at_places(side, coupling_in_decibels(side), heights, offsets, tilt) for side in (reference, other)]
    percent = [PERCENT * 10.0 ** (level / 20.0) for level in levels_of]
    levels = map_levels(np.stack(percent))
    figure = Figure(figsize=(8.8, 4.3))
    norm = BoundaryNorm(levels, DEPTH.N)
    for number, (side, values) in enumerate(zip((reference, other), percent, strict=True)):
        axes = figure.add_axes((0.065 + 0.235 * number, 0.135, 0.215, 0.64))
        draw_panel(axes, heights, offsets, values, levels, norm)
        axes.set_title(f"k of {side.letter}", fontsize=9.5, fontweight="normal", pad=5)
        axes.set_xlabel("offset [mm]")
        if number:
            axes.set_yticklabels([])
        else:
            axes.set_ylabel("height above the plate's top [mm]")
    draw_scale(figure, levels, norm, (0.53, 0.135, 0.016, 0.64))
    axes = figure.add_axes((0.665, 0.135, 0.215, 0.64))
    _draw_ratio(figure, axes, heights, offsets, ratio, hidden)
    axes.set_title(f"{other.letter} over {reference.letter}", fontsize=9.5, fontweight="normal", pad=5)
    axes.set_xlabel("offset [mm]")
    title = ratio_finding(reference, other, ratio, hidden, tilt)
    figure.text(0.02, 0.985, title, fontsize=10.5, fontweight="bold", va="top")
    return figure, title


def masked(ratio: Array, error: Array) -> BooleanArray:
    """Where a ratio is not told from none: no larger than the error, or not a number."""
    return np.asarray(~(np.abs(ratio) > error))


def _draw_ratio(
    figure: Figure,
    axes: Axes,
    heights: tuple[float, ...],
    offsets: tuple[float, ...],
    ratio: Array,
    hidden: BooleanArray,
) -> None:
    up, out = np.array(heights) * MILLIMETRE, np.array(offsets) * MILLIMETRE
    seen = np.where(hidden, np.nan, ratio)
    largest = float(np.nanpercentile(np.abs(seen), COMMON)) if not hidden.all() else STEPS_OF_CHANGE[0]
    step = next((one for one in STEPS_OF_CHANGE if CHANGE_LEVELS * one >= largest), STEPS_OF_CHANGE[-1])
    levels = step * np.arange(-CHANGE_LEVELS, CHANGE_LEVELS + 1)
    held = np.clip(seen, levels[0], levels[-1])
    axes.set_xlim(out[0], out[-1])
    axes.set_ylim(up[0], up[-1])
    norm = BoundaryNorm(levels.tolist(), CHANGE.N)
    if not hidden.all():
        axes.pcolormesh(out, up, np.ma.masked_invalid(held), cmap=CHANGE, norm=norm, shading="nearest", rasterized=True)
        lines = axes.contour(out, up, np.ma.masked_invalid(held), levels=levels[1:-1], colors=[INK], linewidths=0.6)
        axes.clabel(lines, fmt=lambda level: minus(f"{level:+.3g}") if level else "0", fontsize=8, colors=[INK])
    if hidden.any():
        axes.contourf(
            out, up, hidden.astype(float), levels=[0.5, 1.5], colors=["#ffffff"], hatches=["////"], extend="neither"
        )
    scale = figure.add_axes((0.895, 0.135, 0.016, 0.64))
    middles = 0.5 * (levels[1:] + levels[:-1])
    scale.bar(0.5, 1.0, 1.0, bottom=np.arange(middles.size), color=[CHANGE(norm(one)) for one in middles])
    scale.set_xlim(0.0, 1.0)
    scale.set_ylim(0.0, middles.size)
    scale.set_xticks([])
    scale.yaxis.tick_right()
    scale.set_yticks(np.arange(levels.size), [minus(f"{one:+.3g}") if one else "0" for one in levels], fontsize=8.5)
    scale.set_title("dB", fontsize=8.5, fontweight="normal", pad=4)


def ratio_finding(reference: Side, other: Side, ratio: Array, hidden: BooleanArray, tilt: float) -> str:
    """Between what k differs where it is told from the error."""
    lean = f"leaning {degrees(tilt):.3g}° the worst way" if tilt else "upright"
    if hidden.all():
        return f"Nowhere does k of {other.letter} differ from that of {reference.letter} by more than the error, {lean}"
    least, most = np.percentile(ratio[~hidden], [0.5 * (100.0 - COMMON), 0.5 * (100.0 + COMMON)])
    share = 100.0 * hidden.mean()
    rest = f";\n{share:.0f} % of them within the error" if hidden.any() else ""
    return minus(
        f"k of {other.letter} over {reference.letter}: {least:+.2f} to {most:+.2f} dB at {COMMON:g} % of places, "
        f"{lean}{rest}"
    )


def cuts(reference: Side, other: Side) -> Drawn | None:
    """k against height on the axis, and against offset at the required height, with their bands."""
    places = common_places(reference, other)
    if places is None:
        return None
    heights, offsets, _ = places
    asked = reference_places(reference.candidate)
    wanted = float(np.clip(max(place.height for place in asked), heights[0], heights[-1]))
    figure = Figure(figsize=(8.8, 3.9))
    panels = ((heights, (offsets[0],), "height above the plate's top [mm]"), ((wanted,), offsets, "offset [mm]"))
    for number, (up, out, label) in enumerate(panels):
        axes = figure.add_axes((0.075 + 0.5 * number, 0.14, 0.41, 0.68))
        along = np.array(up if number == 0 else out) * MILLIMETRE
        for side, colour, dashes in ((reference, INK, PLAIN), (other, HUE, DASHED)):
            k = PERCENT * 10.0 ** (at_places(side, coupling_in_decibels(side), up, out, 0.0).ravel() / 20.0)
            error = k * np.minimum(at_places(side, relative_error(side), up, out, 0.0).ravel(), 1.0)
            axes.fill_between(along, k - error, k + error, color=colour, alpha=0.18, linewidth=0.0)
            axes.plot(along, k, color=colour, label=side.letter, ls=dashes)
        axes.set_xlabel(label)
        axes.set_ylim(bottom=0.0)
        axes.set_ylabel("k, upright [%]")
        at = "on the axis" if number == 0 else f"{wanted * MILLIMETRE:.3g} mm up"
        axes.set_title(at, fontsize=9.5, fontweight="normal", pad=4)
        axes.legend(loc="upper right", frameon=False, fontsize=8.5)
        _open(axes)
    title = _cut_finding(reference, other, wanted, offsets)
    figure.text(0.02, 0.985, title, fontsize=10.5, fontweight="bold", va="top")
    return figure, title


def _cut_finding(reference: Side, other: Side, height: float, offsets: tuple[float, ...]) -> str:
    values = [
        PERCENT * 10.0 ** (float(at_places(side, coupling_in_decibels(side), (height,), offsets[:1], 0.0)[0, 0]) / 20.0)
        for side in (reference, other)
    ]
    first, second = (f"{value:.3g} % in {side.letter}" for value, side in zip(values, (reference, other), strict=True))
    return f"At {height * MILLIMETRE:.3g} mm, upright: k of {first}, {second}"


def responses(reference: Side, other: Side) -> Drawn | None:
    """Base and tag of both against frequency, each under the peak of the reference's; None where not computed."""
    found = [response_levels(side.candidate, side.stored) for side in (reference, other)]
    if found[0] is None or found[1] is None:
        return None
    figure = Figure(figsize=(8.8, 3.9))
    peaks = {}
    for number, part in enumerate(("base", "tag")):
        axes = figure.add_axes((0.09 + 0.5 * number, 0.14, 0.395, 0.68))
        top = float(found[0][part][1].max())
        for side, levels, colour, dashes in zip((reference, other), found, (INK, HUE), (PLAIN, DASHED), strict=True):
            assert levels is not None, "both are there"
            frequencies, level = levels[part]
            axes.plot(
                frequencies / 1e3, np.maximum(level - top, -30.0), color=colour, label=side.letter, ls=dashes
            )  # fmt: skip
            peaks[part, side.letter] = float(frequencies[level.argmax()]), float(level.max()) - top
        axes.axvline(reference.candidate.frequency / 1e3, color=QUIET, linewidth=0.9)
        axes.set_xlabel("frequency [kHz]; upright line: the carrier")
        axes.set_ylabel(f"over {reference.letter}'s peak [dB]", labelpad=2)
        axes.set_title(part, fontsize=9.5, fontweight="normal", pad=4)
        axes.legend(loc="upper right", frameon=False, fontsize=8.5)
        _open(axes)
    told = [
        f"{part} {peaks[part, other.letter][0] / 1e3:.4g} kHz, {peaks[part, other.letter][1]:+.2f} dB against "
        f"{peaks[part, reference.letter][0] / 1e3:.4g} kHz"
        for part in ("base", "tag")
    ]
    title = minus(f"Peaks of {other.letter}: {'; '.join(told)}")
    figure.text(0.02, 0.985, title, fontsize=10.5, fontweight="bold", va="top")
    return figure, title


def _open(axes: Axes, *, left: bool = False) -> None:
    for side in ("top", "right", *(("left",) if left else ())):
        axes.spines[side].set_visible(False)
