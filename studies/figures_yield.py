"""Units as built: their margins beside what is required, and which spread moves them."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from fem.arrays import Array
from studies.figures_style import HUE, INK, QUIET, TINTS
from studies.verdict import QUANTITIES
from studies.yield_texts import costliest, percent, share_text
from studies.yields import LOWEST_MARGIN, Batch, Yields

BINS = 30
MOST_BARS = 12
HEADROOM = 1.3
"""Height of the axes over the highest bar's: names stand there."""


def spread_picture(found: Yields) -> tuple[Figure, str]:
    """A histogram of the telling quantity, as fitted and retuned."""
    quantity = found.fitted.telling or "margin"
    shown = QUANTITIES[quantity]
    figure = Figure(figsize=(8.8, 4.0))
    axes = figure.add_axes((0.075, 0.14, 0.9, 0.74))
    values = {name: _values(batch, quantity) for name, batch in _batches(found)}
    every = np.concatenate(list(values.values()))
    spread = every.size > 0 and np.ptp(every) > 0.0
    edges = [float(edge) for edge in np.histogram_bin_edges(every, BINS)] if spread else BINS
    for (name, some), face, edge in zip(values.items(), (TINTS[1], "none"), (HUE, INK), strict=True):
        axes.hist(some, edges, facecolor=face, edgecolor=edge, lw=1.1, label=name, histtype="stepfilled")
    required = next((c.required for one in found.fitted.units for c in one.checks if c.quantity == quantity), None)
    if required is not None:
        axes.axvline(required * shown.factor, color=INK, lw=1.2, ls=(0, (6, 2)))
        axes.annotate(
            "required", (required * shown.factor, 0.84), xycoords=("data", "axes fraction"), xytext=(4, 0),
            textcoords="offset points", va="top", fontsize=8.5, color=QUIET,
        )  # fmt: skip
    axes.set_ylim(top=HEADROOM * axes.get_ylim()[1])
    axes.legend(loc="upper right", ncols=2, frameon=False, fontsize=8.5)
    axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_xlabel(f"{shown.label}, the worst of all states [{shown.unit}]")
    axes.set_ylabel("units")
    _open(axes)
    title = f"As fitted {share_text(found.fitted.found)} pass, retuned {share_text(found.retuned.found)}"
    axes.set_title(title, loc="left")
    return figure, title


def shares_picture(found: Yields) -> tuple[Figure, str]:
    """Shares of variance of the telling quantity, a bar a spread."""
    batch = found.fitted
    shares = sorted(batch.shares.get(batch.telling, ()), key=lambda one: -one.first)[:MOST_BARS]
    tall = 1.2 + 0.36 * max(len(shares), 1)
    figure = Figure(figsize=(8.8, tall))
    axes = figure.add_axes((0.36, 0.55 / tall, 0.61, 1.0 - 1.05 / tall))
    places = np.arange(len(shares))[::-1]
    axes.barh(
        places, [max(one.first, 0.0) for one in shares], xerr=[one.error for one in shares], color=HUE, height=0.6,
        error_kw={"ecolor": INK, "lw": 1.1},
    )  # fmt: skip
    axes.set_yticks(places, [f"{one.spread.key} ± {one.spread.given}" for one in shares], fontsize=8.5)
    axes.set_xlim(0.0, 1.0)
    axes.xaxis.set_major_formatter(lambda value, _: f"{100.0 * value:.0f} %")
    quantity = QUANTITIES[batch.telling].label if batch.telling else "margin"
    axes.set_xlabel(f"share of the variance of the {quantity}")
    _open(axes)
    most = costliest(batch)
    title = "Too few units to tell" if most is None else f"{most.spread.key} moves it most: {percent(most.first)}"
    figure.suptitle(title, x=0.02, ha="left", fontsize=10.5, fontweight="bold")
    return figure, title


def _batches(found: Yields) -> tuple[tuple[str, Batch], ...]:
    return ("as fitted", found.fitted), ("base coil tuned on each unit", found.retuned)


def _values(batch: Batch, quantity: str) -> Array:
    got = [check.got for one in batch.units for check in one.checks if check.quantity == quantity]
    factor = QUANTITIES[quantity].factor
    return np.array([max(value, LOWEST_MARGIN) * factor for value in got if value is not None], dtype=float)


def _open(axes: Axes) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
