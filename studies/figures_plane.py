"""Reading height over diameter × input power, with what stops it: the picture and its finding."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import FuncFormatter, MaxNLocator

from fem.arrays import Array
from studies.engineering import engineering
from studies.figures_style import DASHES, DEPTH, HUE, INK, QUIET, WIDTH, Drawn, plain_ticks, titled, watts
from studies.reach_plane import Bound, Plane
from studies.verdict import QUANTITIES


def plane_picture(plane: Plane) -> Drawn | str:
    """Contours of reading height over diameter × input power at one inductance, with what stops it.

    Where there is nothing to draw, why.
    """
    if plane.diameters.size < 2:
        return "no other diameter can be built in its place"
    if not np.isfinite(plane.heights).any():
        return "the tag is read at no diameter and power looked at"
    figure = Figure(figsize=(WIDTH, 5.4))
    axes = figure.add_axes((0.105, 0.11, 0.86, 0.76))
    x, y, heights = plane.diameters * 1e3, plane.powers, np.ma.masked_invalid(plane.heights * 1e3)
    levels = MaxNLocator(14, steps=[1, 2, 5, 10]).tick_values(float(heights.min()), float(heights.max()))
    axes.contourf(x, y, heights, levels=levels, cmap=DEPTH, alpha=0.55)
    lines = axes.contour(x, y, heights, levels=levels, colors=INK, linewidths=0.7)
    levels_named = axes.clabel(lines, fmt=lambda level: f"{level:g} mm", fontsize=8.5)
    for bound, used, dashes in zip(plane.bounds, plane.used, DASHES[1:] * 3, strict=False):
        _draw_bound(axes, plane, bound, used, dashes)
    _draw_room(axes, plane)
    axes.plot([plane.diameter * 1e3], [plane.power], "o", color=INK, markersize=7, markerfacecolor="white", zorder=6)
    here = (plane.diameter * 1e3, plane.power)
    axes.annotate("as designed", here, (8, -12), textcoords="offset points", fontsize=9.0)
    best = plane.best
    if best is not None and y[0] < plane.most_power[best] < y[-1]:
        axes.plot([x[best]], [plane.most_power[best]], "D", color=HUE, markersize=8, markeredgecolor="white", zorder=8)
        place = (x[best], float(plane.most_power[best]))
        axes.annotate(
            f"highest, {plane.most_height[best] * 1e3:.0f} mm", place, (-8, -14), textcoords="offset points",
            ha="right", fontsize=9.0, fontweight="bold",
        )  # fmt: skip
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(y[0], y[-1])
    plain_ticks(axes.xaxis, x)
    axes.yaxis.set_major_formatter(FuncFormatter(watts))
    axes.set_xlabel("mean diameter of the base coil [mm]")
    axes.set_ylabel("input power, no tag there")
    _drop_hidden(figure, axes, levels_named)
    return titled(figure, plane_finding(plane))


def _drop_hidden(figure: Figure, axes: Axes, levels_named: Sequence[Text]) -> None:
    """Take away names of contours that reach out of the axes, or lie under another text."""
    renderer = FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]
    room = axes.get_window_extent(renderer)
    others = [text.get_window_extent(renderer) for text in axes.texts if text not in levels_named]
    for text in levels_named:
        box = text.get_window_extent(renderer)
        inside = room.x0 < box.x0 and box.x1 < room.x1 and room.y0 < box.y0 and box.y1 < room.y1
        text.set_visible(inside and not any(box.overlaps(other) for other in others))


def _draw_bound(axes: Axes, plane: Plane, bound: Bound, used: Array, dashes: tuple[float, ...]) -> None:
    if not used.min() < 1.0 < used.max():
        return
    axes.contour(
        plane.diameters * 1e3, plane.powers, used, levels=[1.0], colors=HUE, linewidths=2.0, linestyles=[(0, dashes)]
    )
    last = plane.diameters.size - 1
    columns = [last - back for back in (2, 4, 6, 8, 11) if back < last and last - back != plane.best]
    column = next((one for one in columns if used[0, one] < 1.0 < used[-1, one]), 0)
    at = float(np.exp(np.interp(0.0, np.log(used[:, column]), np.log(plane.powers))))
    axes.text(
        plane.diameters[column] * 1e3, at, bound_text(bound), ha="right" if column else "left", va="center",
        fontsize=9.0, color=HUE, zorder=7, bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.85},
    )  # fmt: skip


def bound_text(bound: Bound) -> str:
    """A limit in words: ``coil voltage 150 V``."""
    shown = QUANTITIES[bound.quantity]
    return f"{shown.label} {bound.value * shown.factor:.3g} {shown.unit}"


def _draw_room(axes: Axes, plane: Plane) -> None:
    """Diameters at which the turns do not fit the section."""
    full = plane.diameters[plane.room > 1.0]
    if full.size == 0:
        return
    edge = (
        float(np.interp(0.0, np.log(plane.room[::-1]), plane.diameters[::-1])) if plane.room.min() < 1.0 else full[-1]
    )
    axes.axvspan(plane.diameters[0] * 1e3, edge * 1e3, facecolor="none", edgecolor=QUIET, hatch="//", linewidth=0.0)
    axes.text(edge * 1e3, plane.powers[-1], " turns do not fit", rotation=90, ha="right", va="top", fontsize=9.0)


def plane_finding(plane: Plane) -> str:
    """The picture in a sentence: the highest reach within all limits, and what stops it there."""
    at = engineering(plane.inductance, "H", 3)
    if not plane.bounds:
        return f"Reading height at {at}: nothing in the study limits what the coil may take"
    best = plane.best
    if best is None:
        return f"At {at} nothing looked at is both read and within all limits"
    power = engineering(float(plane.most_power[best]), "W", 3)
    return (
        f"At {at} the tag is read up to {plane.most_height[best] * 1e3:.0f} mm within all limits: a coil of "
        f"{plane.diameters[best] * 1e3:.0f} mm on {power}, where {bound_text(plane.stopping(best))} stops it"
    )
