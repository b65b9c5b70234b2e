"""Margin against height: on the axis with its error band, at the worst offset, and at the worst lean."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.arrays import Array
from studies.drawing import MILLIMETRE
from studies.figures_style import DASHES, HUE, INK, QUIET, TINTS
from studies.labels import Label, place_labels
from studies.linking import Profile
from studies.specification import Requirement

WIDTHS = (1.8, 1.8, 2.2)
COLOURS = (HUE, INK, INK)
THIN = 0.15
"""A band no wider than this to either side [dB] is hidden by its line: then it is told in words."""

SHALLOWEST, DEEPEST = 3.0, -25.0
"""How far below 0 dB the picture goes at least and at most [dB]."""

TALL, WIDE, HIGH = 4.6, 0.665, 0.70
"""Height of the figure [inch]; width and height of its axes as shares of it."""

MOST_MARKS = 10
"""Required heights up to which each is named."""


def margin_against_height(profiles: Sequence[Profile], require: Requirement, state: str = "") -> tuple[Figure, str]:
    """The picture and its finding.

    Parameters
    ----------
    profiles : sequence of Profile
        The axis first, then the worse lines.
    require : Requirement
        Its places, margin and read height are marked.
    state : str
        The worst of several, named in the title.
    """
    figure = Figure(figsize=(8.8, TALL))
    axes = figure.add_axes((0.075, 0.12, WIDE, HIGH))
    right = _last_height(profiles, require)
    bottom, top = _margin_limits(profiles, right)
    axes.set_xlim(profiles[0].heights[0] * MILLIMETRE, right * MILLIMETRE)
    axes.set_ylim(bottom, top)
    _draw_band(axes, profiles[0])
    for number, profile in enumerate(profiles):
        axes.plot(profile.heights * MILLIMETRE, _finite(profile.margin), **_pen(number), zorder=3)
    _draw_levels(axes, require)
    _draw_heights(axes, require)
    _draw_labels(axes, profiles, right, (bottom, top))
    axes.set_xlabel("height of the tag coil's centre above the plate's top [mm]")
    axes.set_ylabel("margin [dB]")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    title = profile_finding(profiles[-1], state)
    figure.text(0.075, 0.985, title, fontsize=10.5, fontweight="bold", va="top")
    return figure, title


def profile_finding(worst: Profile, state: str = "") -> str:
    """Over which heights the tag is read on the worst line, in the worst of all states."""
    line = f"{worst.label}, {state}" if state else worst.label
    window = worst.window
    if window.upper is None or window.lower is None:
        return f"The tag is read at no height, {line}"
    upper = f"{'beyond ' if window.reaches_end else ''}{window.upper * MILLIMETRE:.3g} mm"
    lower = window.lower * MILLIMETRE
    start = f"the lowest height looked at, {lower:.3g} mm," if window.starts_at_begin else f"{lower:.3g} mm"
    gaps = ", with gaps below" if window.gaps else ""
    return f"Read from {start} up to {upper}{gaps}:\n{line}"


def _pen(number: int) -> dict[str, Any]:
    place = min(number, 2)
    pen: dict[str, Any] = {"color": COLOURS[place], "lw": WIDTHS[place]}
    if DASHES[place]:
        pen["dashes"] = DASHES[place]
    return pen


def _finite(margin: Array) -> Array:
    return np.where(np.isfinite(margin), margin, np.nan)


def _last_height(profiles: Sequence[Profile], require: Requirement) -> float:
    """Far enough to see the read height and all that is required [m]."""
    wanted = [place.height for place in require.places]
    wanted += [limit.value for limit in require.at_least if limit.quantity == "read_height"]
    wanted += [profile.window.upper for profile in profiles if profile.window.upper is not None]
    first, last = float(profiles[0].heights[0]), float(profiles[0].heights[-1])
    return min(last, max(1.25 * max(wanted, default=0.5 * last), 2.0 * first))


def _margin_limits(profiles: Sequence[Profile], right: float) -> tuple[float, float]:
    """All of the lines up to the right edge, but no deeper than `DEEPEST`."""
    shown = np.concatenate([_finite(p.margin_high)[p.heights <= right] for p in profiles])
    highest = float(np.nanmax(shown)) if np.isfinite(shown).any() else 0.0
    ends = [float(np.interp(right, p.heights, np.nan_to_num(p.margin, neginf=DEEPEST))) for p in profiles]
    deepest = min(DEEPEST, highest + DEEPEST)
    return max(min(-SHALLOWEST, min(ends) - 1.0), deepest), max(highest + 1.0, 6.0)


def _draw_band(axes: Axes, axis: Profile) -> None:
    low, high = _finite(axis.margin_low), _finite(axis.margin_high)
    axes.fill_between(axis.heights * MILLIMETRE, low, high, color=TINTS[1], lw=0.0, zorder=2)


def _band_width(axis: Profile, right: float, bottom: float) -> float:
    """Greatest distance of the band's edges from the line in view [dB]."""
    seen = (axis.heights <= right) & np.isfinite(axis.margin) & (axis.margin > bottom)
    seen &= np.isfinite(axis.margin_low) & np.isfinite(axis.margin_high)
    if not seen.any():
        return 0.0
    apart = np.maximum(axis.margin - axis.margin_low, axis.margin_high - axis.margin)[seen]
    return float(apart.max())


def _draw_levels(axes: Axes, require: Requirement) -> None:
    """0 dB, below which nothing is read, and the margin that is required."""
    left, bottom = axes.get_xlim()[0], axes.get_ylim()[0]
    axes.axhspan(bottom, 0.0, color="#f0eeea", zorder=0)
    axes.axhline(0.0, color=INK, lw=1.0, zorder=1)
    axes.text(left, bottom, " not read below 0 dB", va="bottom", fontsize=8.5, color=QUIET)
    for limit in require.at_least:
        if limit.quantity == "margin" and limit.value != 0.0:
            axes.axhline(limit.value, color=QUIET, lw=1.0, dashes=(4, 3), zorder=1)
            axes.text(left, limit.value, f" required: {limit.value:g} dB", va="bottom", fontsize=8.5, color=QUIET)


def _draw_heights(axes: Axes, require: Requirement) -> None:
    """Required heights, named above the axes."""
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    marks = [(place.height, "place") for place in require.places]
    marks += [(limit.value, "read height") for limit in require.at_least if limit.quantity == "read_height"]
    labels = [Label(words, height * MILLIMETRE, 0.0) for height, words in dict.fromkeys(marks)]
    for label in labels:
        axes.axvline(label.x, color=QUIET, lw=0.9, dashes=(1.5, 2), zorder=1)
    if len(labels) > MOST_MARKS:
        return
    point, rise = (right - left) / (8.8 * WIDE * 72.0), (top - bottom) / (TALL * HIGH * 72.0)
    sideways = [Label(label.text, 0.0, label.x) for label in labels]
    for label, x in place_labels(sideways, left, right, 44.0 * point, 4.0 * point):
        axes.plot([label.y, x], [top, top + 7.0 * rise], color=QUIET, lw=0.7, clip_on=False)
        axes.text(
            x, top + 8.0 * rise, f"{label.text}\n{label.y:.3g} mm", ha="center", va="bottom", fontsize=8, color=QUIET
        )  # fmt: skip


def _draw_labels(axes: Axes, profiles: Sequence[Profile], right: float, limits: tuple[float, float]) -> None:
    """Each line's name on the right, joined to its end by a stroke of the line's own kind."""
    bottom, top = limits
    labels = []
    for number, profile in enumerate(profiles):
        x, y = _end(profile, right, bottom)
        note = ""
        if number == 0:
            wide = _band_width(profile, right, bottom)
            size = f"±{wide:.2g} dB" if wide > THIN else f"±{wide:.1g} dB,\nhidden by the line"
            note = f";\nestimated error\nup to {size}"
        words = profile.label.replace(", leaning", ",\nleaning")
        labels.append(Label(words + note, x, y))
    point = (top - bottom) / (TALL * HIGH * 72.0)  # one point on paper [dB]
    width = (right - profiles[0].heights[0]) * MILLIMETRE
    column = right * MILLIMETRE + 0.055 * width
    for label, height in place_labels(labels, bottom, top, 12.0 * point, 7.0 * point):
        number = labels.index(label)
        axes.plot([label.x, column], [label.y, height], **{**_pen(number), "lw": 1.0}, clip_on=False, zorder=2)
        axes.text(column + 0.01 * width, height, label.text, va="center", fontsize=8.5)


def _end(profile: Profile, right: float, bottom: float) -> tuple[float, float]:
    """Last point of a line in view [mm], [dB]."""
    margin = _finite(profile.margin)
    seen = np.flatnonzero((profile.heights <= right) & (margin >= bottom))
    last = int(seen[-1]) if seen.size else 0
    if last + 1 < margin.size and np.isfinite(margin[last + 1]) and margin[last + 1] >= bottom:
        inside = float(np.interp(right, profile.heights[last : last + 2], margin[last : last + 2]))
        return right * MILLIMETRE, inside
    value = float(margin[last]) if np.isfinite(margin[last]) else bottom
    return float(profile.heights[last]) * MILLIMETRE, max(value, bottom)
