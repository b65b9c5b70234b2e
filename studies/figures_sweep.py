"""The sweep: every candidate's margin over the key that moves it most, and what stops those that fail."""

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from studies.figures_style import HUE, INK, QUIET, TINTS
from studies.findings import Findings, Reason, number
from studies.stored import StoredDesign
from studies.swept import SweptAxis

MARKERS = "osD^vP"
"""One for each value of the second key; more values than these share the first."""

MOST_GROUPS = 30
"""Values of an axis beyond which it counts as sampled: each of them then has few designs."""

SAMPLED_PARTS = 6

MOST_DRAWN = 2000
"""Points drawn one by one where a picture is scaled freely; more of them are a picture in the picture."""

SPREAD = 0.3
"""Share of the step between two values over which those of the second key are set side by side."""


def sweep_scatter(found: Findings) -> tuple[Figure, str] | None:
    """The scatter and its finding; None where nothing is swept or nothing was computed.

    Parameters
    ----------
    found : Findings
        Of the run.
    """
    done = [stored for stored in (*found.passing, *found.failing) if _margin(stored) is not None]
    axes_by_effect = sorted(found.axes, key=lambda axis: -effect(axis, done))
    if not done or not axes_by_effect:
        return None
    first, second = axes_by_effect[0], (axes_by_effect[1] if len(axes_by_effect) > 1 else None)
    figure = Figure(figsize=(8.8, 4.2))
    axes = figure.add_axes((0.075, 0.14, 0.665, 0.745))
    _draw_points(axes, done, first, second, found)
    _draw_failed(axes, found.failed, first)
    _draw_limit(axes, done)
    _draw_key(axes, second, bool(found.failed), [axis for axis in axes_by_effect[2:] if len(axis.texts) > 1], done)
    axes.set_xlabel(first.title)
    axes.set_ylabel("margin at the worst required place [dB]")
    if first.numbers is None:
        axes.set_xticks(range(len(first.texts)), first.texts)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    title = _finding(found, first, done)
    axes.set_title(title, loc="left")
    return figure, title


def effect(axis: SweptAxis, designs: Sequence[StoredDesign]) -> float:
    """How far the mean margin moves along an axis [dB]; a sampled axis by parts of equally many designs."""
    known = [(axis.place(stored), margin) for stored in designs if (margin := _margin(stored)) is not None]
    groups: dict[int, list[float]] = {}
    for place, margin in known:
        groups.setdefault(place, []).append(margin)
    numbers = axis.numbers
    if numbers is not None and len(groups) > MOST_GROUPS:
        by_value = [margin for _, margin in sorted(known, key=lambda one: numbers[one[0]])]
        groups = {n: [float(m) for m in part] for n, part in enumerate(np.array_split(by_value, SAMPLED_PARTS))}
    means = [float(np.mean(margins)) for margins in groups.values()]
    return max(means) - min(means) if means else 0.0


def _margin(stored: StoredDesign) -> float | None:
    margin = number(stored, "margin_dB")
    return margin if margin is not None and np.isfinite(margin) else None


def _placing(axis: SweptAxis, second: SweptAxis | None) -> Callable[[StoredDesign], float]:
    """Where candidates stand: at their value, set aside a little by the second key so that none hides another."""
    numbers = [float(place) for place in range(len(axis.texts))] if axis.numbers is None else axis.numbers
    if second is None or len(second.texts) > len(MARKERS) or len(numbers) < 2:
        return lambda stored: numbers[axis.place(stored)]
    aside = second
    step = float(np.min(np.abs(np.diff(np.sort(numbers)))))

    def at(stored: StoredDesign) -> float:
        share = aside.place(stored) / max(len(aside.texts) - 1, 1) - 0.5
        return numbers[axis.place(stored)] + SPREAD * step * share

    return at


def _draw_points(
    axes: Axes, done: Sequence[StoredDesign], first: SweptAxis, second: SweptAxis | None, found: Findings
) -> None:
    """Filled where it passes, hollow where it fails; ringed where it is the best."""
    alike: dict[tuple[str, bool], list[tuple[float, float]]] = {}
    told_apart, at = second is not None and len(second.texts) <= len(MARKERS), _placing(first, second)
    for stored in done:
        marker = MARKERS[second.place(stored) if second is not None and told_apart else 0]
        alike.setdefault((marker, stored.passed), []).append((at(stored), _margin(stored) or 0.0))
    for (marker, passed), points in alike.items():
        axes.plot(
            *zip(*points, strict=True), marker, ms=6.5, mfc=HUE if passed else "white", mec=HUE, mew=1.3, ls="none",
            zorder=3 if passed else 2.9, rasterized=len(done) > MOST_DRAWN,
        )  # fmt: skip
    if found.passing and found.passing[0] in done:
        best = found.passing[0]
        x, y = at(best), _margin(best) or 0.0
        axes.plot([x], [y], "o", ms=13, mfc="none", mec=INK, mew=1.2, ls="none", zorder=4)
        axes.annotate(
            f"best: {best.design}", (x, y), xytext=(0, 10), textcoords="offset points", ha="center",
            fontsize=8.5, zorder=4,
        )  # fmt: skip
    axes.margins(x=0.08, y=0.14)


def _draw_failed(axes: Axes, failed: Sequence[StoredDesign], first: SweptAxis) -> None:
    if failed:
        xs = [*map(_placing(first, None), failed)]
        axes.plot(
            xs, [0.04] * len(xs), "x", color=INK, ms=7, mew=1.5, transform=axes.get_xaxis_transform(), zorder=4,
            rasterized=len(xs) > MOST_DRAWN,
        )  # fmt: skip


def _draw_limit(axes: Axes, done: Sequence[StoredDesign]) -> None:
    """The margin that is required; 0 dB where none is."""
    limits = {check.required for stored in done for check in stored.checks if check.quantity == "margin"} or {0.0}
    for limit in sorted(limits):
        axes.axhline(limit, color=QUIET, lw=1.0, dashes=(4, 3), zorder=1)
        axes.text(
            1.0, limit, f"{limit:g} dB required" if limit else "read from 0 dB", fontsize=8.5, color=QUIET,
            ha="right", va="bottom", transform=axes.get_yaxis_transform(),
        )  # fmt: skip


def _draw_key(
    axes: Axes, second: SweptAxis | None, some_failed: bool, rest: Sequence[SweptAxis], done: Sequence[StoredDesign]
) -> None:
    """What filling and shapes mean, to the right of the axes."""
    entries = [("o", HUE, HUE, "meets every requirement"), ("o", "white", HUE, "misses at least one")]
    if some_failed:
        entries.append(("x", INK, INK, "not computed"))
    if second is not None and len(second.texts) <= len(MARKERS):
        entries.append(("", "none", "none", f"{second.name}:"))
        entries += [(MARKERS[place], QUIET, QUIET, text) for place, text in enumerate(second.texts)]
    if rest:
        entries.append(("", "none", "none", "not told apart:"))
        entries += [("", "none", "none", f"{axis.name}, {effect(axis, done):.1g} dB") for axis in rest[:4]]
    for row, (marker, face, edge, text) in enumerate(entries):
        height = 0.97 - 0.085 * row
        if marker:
            axes.plot(
                [1.045], [height], marker, ms=6.5, mfc=face, mec=edge, mew=1.3, transform=axes.transAxes, clip_on=False
            )  # fmt: skip
        axes.text(1.075 if marker else 1.03, height, text, transform=axes.transAxes, va="center", fontsize=8.5)


def _finding(found: Findings, first: SweptAxis, done: Sequence[StoredDesign]) -> str:
    total = len(found.passing) + len(found.failing)
    moves = effect(first, done)
    return (
        f"{len(found.passing)} of {total} pass; the margin moves most with {first.name}, by {moves:.2g} dB on the mean"
    )


def failure_bars(found: Findings) -> tuple[Figure, str] | None:
    """How often each requirement is missed, and how often it is the one missed by most; None where nothing fails."""
    if len(found.failing) < 2 or not found.reasons:
        return None
    reasons = found.reasons[::-1]
    figure = Figure(figsize=(8.8, 1.15 + 0.42 * len(reasons)))
    bottom = 0.62 / figure.get_figheight()
    axes = figure.add_axes((0.30, bottom, 0.66, 1.0 - bottom - 0.42 / figure.get_figheight()))
    _draw_bars(axes, reasons)
    axes.set_xlabel("candidates that fail")
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    most = found.reasons[0]
    words = most.label[0].upper() + most.label[1:]
    title = f"{words} stops {most.stopped} of the {len(found.failing)} that fail"
    figure.text(0.012, 1.0 - 0.2 / figure.get_figheight(), title, fontsize=10.5, fontweight="bold", va="center")
    return figure, title


def _draw_bars(axes: Axes, reasons: Sequence[Reason]) -> None:
    places = range(len(reasons))
    axes.barh(places, [reason.missed for reason in reasons], 0.62, color=TINTS[0], edgecolor=HUE, lw=0.8)
    axes.barh(places, [reason.stopped for reason in reasons], 0.62, color=HUE)
    axes.set_yticks(places, [reason.label for reason in reasons])
    axes.set_xlim(0.0, 1.5 * max(reason.missed for reason in reasons))
    for place, reason in zip(places, reasons, strict=True):
        words = f" missed by {reason.missed}, by most in {reason.stopped}"
        axes.text(reason.missed, place, words, va="center", fontsize=8.5)
