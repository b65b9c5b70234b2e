"""The coupling map: k over offset and height, a panel for each tilt."""

from collections.abc import Sequence
from itertools import pairwise
from math import degrees, log10

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import Bbox

from fem.arrays import Array
from studies.drawing import MILLIMETRE
from studies.figures_style import DEPTH, INK
from studies.one_state import MapValues
from studies.specification import MapGrid

PANELS = 3
DECADES = 1.7
"""Deepest that the scale goes below the largest k; what is less is drawn as the least."""

STEPS = (1.0, 1.5, 2.0, 3.0, 5.0, 7.0)
PERCENT = 100.0
EDGE = 0.09
"""Share of a panel's width along its edges that is kept free of labels."""


def coupling_map(grid: MapGrid, values: MapValues) -> tuple[Figure, str] | None:
    """The map and its finding; None where the map is a single line or place, or nothing couples.

    Parameters
    ----------
    grid : MapGrid
        Places of the map.
    values : MapValues
        Of the candidate; k has its lean outward.
    """
    percent = PERCENT * np.nan_to_num(values.coupling_coefficient)
    if len(grid.heights) < 2 or len(grid.offsets) < 2 or not percent.max() > 0.0:
        return None
    levels = map_levels(percent)
    chosen = range(min(PANELS, len(grid.tilts)))
    figure = Figure(figsize=(8.8, 4.0))
    left, width = 0.075, 0.785 / len(chosen)
    norm = BoundaryNorm(levels, DEPTH.N)
    for number in chosen:
        axes = figure.add_axes((left + number * width, 0.135, width - 0.03, 0.68))
        draw_panel(axes, grid.heights, grid.offsets, percent[:, :, number], levels, norm)
        axes.set_title(_tilt(grid.tilts[number]), fontsize=9.5, fontweight="normal", pad=5)
        axes.set_xlabel("offset [mm]")
        # The last label of a panel would run into the first of the next.
        axes.xaxis.set_major_locator(MaxNLocator(5, prune="upper" if number + 1 < len(chosen) else None))
        axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
        if number == 0:
            axes.set_ylabel("height above the plate's top [mm]")
        else:
            axes.set_yticklabels([])
    draw_scale(figure, levels, norm, (0.872, 0.135, 0.02, 0.68))
    title = _finding(grid, percent)
    figure.text(left, 0.955, title, fontsize=10.5, fontweight="bold", va="center")
    return figure, title


def map_levels(percent: Array) -> list[float]:
    """Levels 1, 1.5, 2, 3, 5, 7, 10 … [%] that hold the whole map, at most `DECADES` deep."""
    largest = float(percent.max())
    least = max(float(percent[percent > 0.0].min()), largest / 10.0**DECADES)
    powers = range(int(np.floor(log10(least))) - 1, int(np.ceil(log10(largest))) + 1)
    steps = [round(step * 10.0**power, 12) for power in powers for step in STEPS]
    below = max(level for level in steps if level <= least)
    above = min(level for level in steps if level >= largest)
    return [level for level in steps if below <= level <= max(above, 2.0 * below)]


def draw_panel(
    axes: Axes,
    at_heights: Sequence[float],
    at_offsets: Sequence[float],
    percent: Array,
    levels: list[float],
    norm: BoundaryNorm,
) -> None:
    """k [%] of shape (n_height, n_offset) over heights and offsets [m], filled and with labelled contours."""
    offsets, heights = np.array(at_offsets) * MILLIMETRE, np.array(at_heights) * MILLIMETRE
    held = np.clip(percent, levels[0], levels[-1])
    axes.contourf(offsets, heights, held, levels=levels, cmap=DEPTH, norm=norm)
    seen = [level for level in levels if held.min() < level < held.max()]
    if not seen:
        return
    taken: list[Bbox] = []
    drawn = axes.contour(offsets, heights, held, levels=seen, colors=[INK], linewidths=0.6)
    for text in axes.clabel(drawn, fmt=lambda level: f"{level:g} %", fontsize=8, colors=[INK], inline=False):
        text.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85})
        box = text.get_window_extent().padded(1.0)
        if _near_edge(text.get_position(), offsets, heights) or any(box.overlaps(other) for other in taken):
            text.remove()
        else:
            taken.append(box)


def _near_edge(position: tuple[float, float], offsets: Array, heights: Array) -> bool:
    """Whether a label would be cut off by the panel's edge; the scale names its contour anyway."""
    x = (position[0] - offsets[0]) / (offsets[-1] - offsets[0])
    y = (position[1] - heights[0]) / (heights[-1] - heights[0])
    return not (EDGE < x < 1.0 - EDGE and 0.5 * EDGE < y < 1.0 - 0.5 * EDGE)


def draw_scale(
    figure: Figure, levels: list[float], norm: BoundaryNorm, room: tuple[float, float, float, float]
) -> None:
    """The scale of k in a part of the figure."""
    axes = figure.add_axes(room)
    places = np.arange(len(levels), dtype=float)
    colours = [DEPTH(norm(np.sqrt(low * high))) for low, high in pairwise(levels)]
    axes.bar(0.5, 1.0, 1.0, bottom=places[:-1], color=colours)
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(0.0, places[-1])
    axes.set_xticks([])
    axes.yaxis.tick_right()
    axes.yaxis.set_label_position("right")
    axes.set_yticks(places, [f"{level:g} %" for level in levels], fontsize=8.5)
    axes.set_ylabel("coupling coefficient k")


def _tilt(tilt: float) -> str:
    return f"leaning {degrees(tilt):.3g}° outward" if tilt else "upright"


def _finding(grid: MapGrid, percent: Array) -> str:
    low, high = percent[0, 0, 0], percent[-1, 0, 0]
    first, last = grid.heights[0] * MILLIMETRE, grid.heights[-1] * MILLIMETRE
    verb = "falls" if low >= high else "rises"
    return (
        f"On the axis, {_tilt(grid.tilts[0])}, k {verb} from {low:.2g} % at {first:.3g} mm to {high:.2g} % "
        f"at {last:.3g} mm"
    )
