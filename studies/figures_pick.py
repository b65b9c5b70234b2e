"""The search: margin over input power with the front, and where along each key the tries lie."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from studies.figures_style import HUE, INK, QUIET
from studies.findings import number
from studies.pick_search import aims
from studies.pick_texts import figures
from studies.picking import Picked
from studies.stored import StoredDesign
from studies.swept import SweptAxis, swept_axes

LEAST_DRAWN = -20.0
"""Margins below this [dB] are drawn at the lower edge."""

HEADROOM = 0.12
"""Share of the axes above all points, for the names of their marks."""

COLUMNS = 3


def front_picture(found: Picked) -> tuple[Figure, str]:
    """Every try as margin over input power; the picks named, the front a line, and the picture's finding."""
    figure = Figure(figsize=(8.8, 4.6))
    axes = figure.add_axes((0.085, 0.13, 0.885, 0.76))
    done = [stored for stored in found.tried if stored.status == "done"]
    _draw_tries(axes, done)
    full = [(aims(stored), stored) for stored in found.run.designs if stored.status == "done"]
    for place, (_, stored) in enumerate(full):
        _name_pick(axes, stored, above=place % 2 == 0)
    passing = [aim for aim, stored in full if stored.passed]
    axes.plot([aim.power for aim in passing], [aim.margin for aim in passing], color=INK, lw=1.1, zorder=4)
    required = next((c.required for one in done for c in one.checks if c.quantity == "margin"), None)
    if required is not None:
        axes.axhline(required, color=QUIET, lw=0.9, ls=(0, (6, 2)))
        axes.annotate(
            f"{required:g} dB required", (0.995, required), xycoords=("axes fraction", "data"), ha="right", va="bottom",
            xytext=(0, 2), textcoords="offset points", fontsize=8.5, color=QUIET,
        )  # fmt: skip
    axes.margins(y=0.12)
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + HEADROOM * (high - low))
    axes.set_xscale("log")
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.xaxis.set_minor_formatter(lambda value, _: f"{value:g}" if f"{value:.0e}"[0] in "235" else "")
    axes.set_xlabel("input power, the greatest of all states [W]")
    axes.set_ylabel("margin at the worst place, in the worst state [dB]")
    _open(axes)
    title = _finding(found)
    axes.set_title(title, loc="left")
    return figure, title


def keys_picture(found: Picked) -> tuple[Figure, str]:
    """Margin of every try over each searched key, the picks filled black."""
    keys = [axis for axis in swept_axes(found.space.study) if len(axis.texts) > 1]
    rows = -(-len(keys) // COLUMNS)
    figure = Figure(figsize=(8.8, 0.6 + 2.6 * rows))
    done = [stored for stored in found.tried if stored.status == "done"]
    for place, axis in enumerate(keys):
        axes = figure.add_subplot(rows, COLUMNS, place + 1)
        _draw_key(axes, axis, done, found.picks)
        if place % COLUMNS == 0:
            axes.set_ylabel("margin [dB]")
    figure.subplots_adjust(0.075, 0.5 / (0.6 + 2.6 * rows), 0.985, 1.0 - 0.45 / (0.6 + 2.6 * rows), 0.22, 0.42)
    title = _where_they_lie(found, keys)
    figure.suptitle(title, x=0.075, ha="left", fontsize=10.5, fontweight="bold")
    return figure, title


def _draw_tries(axes: Axes, done: Sequence[StoredDesign]) -> None:
    for passed, face, text in ((False, "white", "misses a requirement"), (True, HUE, "meets all requirements")):
        points = [(aims(one).power, max(aims(one).margin, LEAST_DRAWN)) for one in done if one.passed is passed]
        if points:
            axes.plot(*zip(*points, strict=True), "o", ms=5.5, mfc=face, mec=HUE, mew=1.1, ls="none", label=text)
    if done:
        axes.legend(loc="upper left", ncols=2, frameon=False, fontsize=8.5, handletextpad=0.2)


def _name_pick(axes: Axes, stored: StoredDesign, above: bool) -> None:
    """Names stand above and below the front in turn, on a ground of their own: picks may lie close together."""
    at = aims(stored).power, max(aims(stored).margin, LEAST_DRAWN)
    axes.plot(*at, "o", ms=11, mfc="none", mec=INK, mew=1.3, zorder=5)
    axes.annotate(
        stored.design, at, xytext=(0, 13 if above else -15), textcoords="offset points", ha="center", va="center",
        fontsize=8.5, fontweight="bold", zorder=6,
        bbox={"boxstyle": "round,pad=0.12", "fc": "white", "ec": "none", "alpha": 0.85},
    )  # fmt: skip


def _draw_key(axes: Axes, axis: SweptAxis, done: Sequence[StoredDesign], picks: Sequence[StoredDesign]) -> None:
    at = np.arange(len(axis.texts), dtype=float) if axis.numbers is None else np.array(axis.numbers)
    chosen = {one.index for one in picks}
    kinds = (
        ([one for one in done if not one.passed], "white", HUE),
        ([one for one in done if one.passed], HUE, HUE),
        ([one for one in done if one.index in chosen], INK, INK),
    )
    for some, face, edge in kinds:
        axes.plot(
            [at[axis.place(one)] for one in some], [max(aims(one).margin, LEAST_DRAWN) for one in some], "o", ms=4.2,
            mfc=face, mec=edge, mew=0.9, ls="none",
        )  # fmt: skip
    axes.set_xlabel(axis.title)
    if axis.numbers is None:
        axes.set_xticks(at, axis.texts, fontsize=8.0)
        axes.set_xlim(-0.5, len(at) - 0.5)
    _open(axes)


def _open(axes: Axes) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _finding(found: Picked) -> str:
    passing = [stored for stored in found.run.designs if stored.passed]
    if not passing:
        return f"None of {len(found.tried)} candidates tried meets the requirements"
    least = min(passing, key=lambda stored: number(stored, "input_power_W") or 0.0)
    if least is passing[0]:
        return f"One pick has the most margin and the least power: {figures(least)}"
    return f"From {figures(passing[0])} down to {figures(least)}"


def _where_they_lie(found: Picked, keys: Sequence[SweptAxis]) -> str:
    said = []
    for axis in keys:
        places = sorted({axis.place(one) for one in found.picks})
        if not places:
            continue
        first, last = axis.texts[places[0]], axis.texts[places[-1]]
        if axis.numbers is None:
            said.append(f"{axis.name} {' or '.join(axis.texts[place] for place in places)}")
        else:
            said.append(f"{axis.name} {first}" + ("" if first == last else f" to {last}"))
    whose = "Picks" if any(stored.passed for stored in found.picks) else "The nearest"
    return f"{whose}: {', '.join(said[:3])}" if said else "Nothing could be computed"
