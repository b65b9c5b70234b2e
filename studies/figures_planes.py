"""Reading height over diameter × input power of two designs beside each other, and their difference."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator
from scipy.interpolate import RegularGridInterpolator

from fem.arrays import Array, BooleanArray
from studies.figures_plane import bound_text
from studies.figures_style import DASHES, DEPTH, HUE, INK, WIDTH, Drawn, plain_ticks, titled, watts
from studies.reach_plane import Plane

Named = tuple[str, Plane]

POINTS = 121
"""Of the common part, either way."""

LEAST_SHOWN = 5e-5
"""A difference that would be printed as 0.0 mm [m]."""


def planes_beside(reference: Named, other: Named, error: float = 0.0) -> Drawn | str:
    """Both planes on one scale, and by how much the other is read higher; where they have no common part, why.

    Parameters
    ----------
    reference, other : (str, Plane)
        With the letter each is called by.
    error : float
        Estimated relative error of M in both together [1]; what it makes of a height is hatched.
    """
    planes = (reference[1], other[1])
    if any(plane.diameters.size < 2 for plane in planes):
        return "no other diameter can be built in the place of one of them"
    low = [max(float(one[0]) for one in axis) for axis in _axes(planes)]
    high = [min(float(one[-1]) for one in axis) for axis in _axes(planes)]
    if not (low[0] < high[0] and low[1] < high[1]):
        return "they have no diameter and power in common"
    diameters, powers = (np.geomspace(a, b, POINTS) for a, b in zip(low, high, strict=True))
    heights = [heights_at(plane, diameters, powers) for plane in planes]
    change = heights[1] - heights[0]
    if not np.isfinite(change).any():
        return "there is no diameter and power at which both are read"
    hidden = ~(np.abs(change) > np.maximum(height_error(heights[0], powers, error), LEAST_SHOWN))
    quantities = dict.fromkeys(bound.quantity for plane in planes for bound in plane.bounds)
    pens = dict(zip(quantities, DASHES * 3, strict=False))
    figure = Figure(figsize=(WIDTH, 7.2))
    shown = np.concatenate([one[np.isfinite(one)] for one in heights]) * 1e3
    levels = np.asarray(MaxNLocator(9, steps=[1, 2, 5, 10]).tick_values(float(shown.min()), float(shown.max())))
    for number, ((letter, plane), values) in enumerate(zip((reference, other), heights, strict=True)):
        axes = figure.add_axes((0.105 + 0.46 * number, 0.565, 0.4, 0.32))
        _draw(axes, diameters, powers, values, levels)
        _draw_bounds(axes, plane, pens)
        _finish(axes, diameters, powers, number == 0)
        axes.set_title(f"read height of {letter} [mm]", fontsize=9.5, fontweight="normal", pad=5)
        _mark(axes, plane, "")
    if pens:
        _name_bounds(figure, planes, pens)
    below = figure.add_axes((0.105, 0.075, 0.86, 0.32))
    _draw_change(below, diameters, powers, change, hidden)
    for letter, plane in (reference, other):
        _mark(below, plane, letter)
    _finish(below, diameters, powers, True)
    below.set_xlabel("mean diameter of the base coil [mm]")
    below.set_title(f"{other[0]} read higher than {reference[0]} by [mm]", fontsize=9.5, fontweight="normal", pad=5)
    return titled(figure, planes_finding(reference, other, change, hidden))


def _axes(planes: tuple[Plane, Plane]) -> tuple[list[Array], list[Array]]:
    return [plane.diameters for plane in planes], [plane.powers for plane in planes]


def heights_at(plane: Plane, diameters: Array, powers: Array) -> Array:
    """Reading heights (n_power, n_diameter) [m], linear in the logarithms; nan where one of the nodes about is."""
    between = RegularGridInterpolator((np.log(plane.powers), np.log(plane.diameters)), plane.heights)
    ends = [np.clip(np.log(one), np.log(axis[0]), np.log(axis[-1])) for one, axis in (
        (powers, plane.powers), (diameters, plane.diameters))]  # fmt: skip
    return np.asarray(between(np.stack(np.meshgrid(*ends, indexing="ij"), axis=-1)), dtype=np.float64)


def height_error(heights: Array, powers: Array, error: float) -> Array:
    """What a relative ``error`` of M makes of reading heights (n_power, n_diameter) [m]; nan where they have no slope.

    Where the tag is just read M √P is the same: dh/d ln M = −2 dh/d ln P, taken from the heights themselves.
    """
    return np.asarray(2.0 * error * np.abs(np.gradient(heights, np.log(powers), axis=0)))


def _draw(axes: Axes, diameters: Array, powers: Array, heights: Array, levels: Array) -> None:
    values = np.ma.masked_invalid(heights * 1e3)
    axes.contourf(diameters * 1e3, powers, values, levels=levels, cmap=DEPTH, alpha=0.55)
    lines = axes.contour(diameters * 1e3, powers, values, levels=levels, colors=INK, linewidths=0.7)
    axes.clabel(lines, fmt=lambda level: f"{level:g}", fontsize=8.0)


def _draw_bounds(axes: Axes, plane: Plane, pens: dict[str, tuple[float, ...]]) -> None:
    for bound, used in zip(plane.bounds, plane.used, strict=True):
        if used.min() < 1.0 < used.max():
            axes.contour(
                plane.diameters * 1e3, plane.powers, used, levels=[1.0], colors=HUE, linewidths=2.0,
                linestyles=[(0, pens[bound.quantity] or (1, 0))],
            )  # fmt: skip


def _name_bounds(figure: Figure, planes: tuple[Plane, Plane], pens: dict[str, tuple[float, ...]]) -> None:
    """One legend for both: a limit that differs is told twice."""
    handles = []
    for quantity, dashes in pens.items():
        bounds = dict.fromkeys(bound_text(one) for plane in planes for one in plane.bounds if one.quantity == quantity)
        handles.append(Line2D([], [], color=HUE, lw=2.0, dashes=dashes or (1, 0), label=" / ".join(bounds)))
    figure.legend(handles=handles, loc="center", bbox_to_anchor=(0.53, 0.47), ncols=2, frameon=False, fontsize=8.5)


def _draw_change(axes: Axes, diameters: Array, powers: Array, change: Array, hidden: BooleanArray) -> None:
    from studies.figures_compare import CHANGE

    values = np.ma.masked_array(change * 1e3, hidden | ~np.isfinite(change))
    x, y = diameters * 1e3, powers
    if values.count():
        most = float(np.abs(values).max())
        levels = np.asarray(MaxNLocator(16, steps=[1, 2, 5, 10], symmetric=True).tick_values(-most, most))
        axes.pcolormesh(
            x, y, values, cmap=CHANGE, norm=BoundaryNorm(levels.tolist(), CHANGE.N), shading="nearest", rasterized=True
        )
        lines = axes.contour(x, y, values, levels=levels, colors=[INK], linewidths=0.7)
        axes.clabel(lines, fmt=lambda level: f"{level:+g}".replace("-", "−") if level else "0", fontsize=8.5)
    within = hidden & np.isfinite(change)
    if within.any():
        axes.contourf(x, y, within.astype(float), levels=[0.5, 1.5], colors=["#ffffff"], hatches=["////"])


def _mark(axes: Axes, plane: Plane, letter: str) -> None:
    at = plane.diameter * 1e3, plane.power
    axes.plot([at[0]], [at[1]], "o", color=INK, markersize=6, markerfacecolor="white", zorder=6)
    if letter:
        left = letter == "A"
        axes.annotate(letter, at, (-7 if left else 7, 0), textcoords="offset points", fontweight="bold", va="center",
                      ha="right" if left else "left", zorder=7)  # fmt: skip


def _finish(axes: Axes, diameters: Array, powers: Array, named: bool) -> None:
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlim(diameters[0] * 1e3, diameters[-1] * 1e3)
    axes.set_ylim(powers[0], powers[-1])
    plain_ticks(axes.xaxis, diameters * 1e3)
    axes.yaxis.set_major_formatter(FuncFormatter(watts))
    if named:
        axes.set_ylabel("input power, no tag there")
    else:
        axes.set_yticklabels([])


def planes_finding(reference: Named, other: Named, change: Array, hidden: BooleanArray) -> str:
    """Between what the heights differ over the common part, and how high each is read within its limits."""
    told = np.isfinite(change) & ~hidden
    if not told.any():
        first = f"At the same diameter and power {other[0]} and {reference[0]} are read equally high, within the errors"
    else:
        least, most = float(change[told].min()) * 1e3, float(change[told].max()) * 1e3
        first = (
            f"At the same diameter and power {other[0]} is read {least:+.1f} to {most:+.1f} mm against {reference[0]}"
        )
    within = [f"{letter} {_most(plane)}" for letter, plane in (reference, other)]
    return f"{first};\nhighest within all limits: {', '.join(within)}".replace("-", "−")


def _most(plane: Plane) -> str:
    if not plane.bounds:
        return "has none"
    best = plane.best
    if best is None:
        return "nowhere"
    return f"{plane.most_height[best] * 1e3:.0f} mm ({plane.diameters[best] * 1e3:.0f} mm coil)"
