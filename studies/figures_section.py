"""The section with the margin over it: where the tag is read, and with how much to spare."""

from math import degrees

import numpy as np
from matplotlib.axes import Axes
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from fem.arrays import Array
from studies.asked_places import worst_line
from studies.drawing import MILLIMETRE, Scene, draw_section, section_figure, view_of
from studies.figures_person import BaseSource, draw_public_level
from studies.figures_style import HUE, INK, TINTS
from studies.labels import Label, place_labels
from studies.one_state import MapValues
from studies.specification import Candidate, MapGrid
from studies.vessel_places import in_vessels

LEVELS = (0.0, 3.0, 6.0)
"""Contours of the margin [dB]."""

LINES: tuple[tuple[float, tuple[float, tuple[float, ...] | None]], ...] = (
    (2.2, (0, None)),
    (1.3, (0, (6, 2))),
    (1.3, (0, (1.5, 1.5))),
)
"""Width and dashes of each contour: told apart in grey."""

PAPER = {"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 1.0}
"""Ground of a text that lies on lines."""

FLOOR = -200.0
"""Stands for no coupling at all, so that contours can be drawn beside it [dB]."""


def section_with_margin(
    scene: Scene, values: MapValues | None, worst: str = "", source: BaseSource | None = None
) -> tuple[Figure, str]:
    """Section with margin contours, and its finding.

    Parameters
    ----------
    scene : Scene
        As solved.
    values : MapValues or None
        Map of the same candidate; None, or a map of one line only, leaves the section without contours.
    worst : str
        The worst place in words: the title's second line.
    source : BaseSource or None
        With it the public reference level's contour is drawn.

    Returns
    -------
    Figure
    str
        The title: what there is to see.
    """
    view = view_of(scene)
    figure, axes = section_figure(view, title_lines=2 if worst else 1)
    grid = scene.candidate.grid
    title, labels = "To scale; the map has too few places for contours of the margin", []
    if values is not None and len(grid.heights) > 1 and len(grid.offsets) > 1:
        number = shown_tilt(scene.candidate)
        margin = np.maximum(np.nan_to_num(values.worst_margin[:, :, number], nan=FLOOR, neginf=FLOOR), FLOOR)
        labels = _draw_contours(axes, grid, margin, view.scale * MILLIMETRE / 72.0)
        title = _finding(grid, margin, grid.tilts[number])
    draw_section(axes, scene, view)
    _mark_places(axes, scene)
    _mark_vessels(axes, scene)
    if source is not None:
        draw_public_level(axes, scene, source, view, [*labels, *_marked(scene)])
    title = f"{title};\n{worst}" if worst else title
    axes.set_title(title, loc="left")
    return figure, title


def shown_tilt(candidate: Candidate) -> int:
    """Which tilt of the map is shown: the least that is no less than what is required, else the largest."""
    wanted = worst_line(candidate)[1]
    tilts = np.abs(np.array(candidate.grid.tilts))
    enough = np.flatnonzero(tilts >= wanted - 1e-9)
    return int(enough[np.argmin(tilts[enough])]) if enough.size else int(np.argmax(tilts))


def _draw_contours(axes: Axes, grid: MapGrid, margin: Array, step: float) -> list[Label]:
    """Fill and lines, mirrored about the axis; labels on the left, ``step`` [mm] a point on paper; where they lie."""
    heights, offsets = np.array(grid.heights) * MILLIMETRE, np.array(grid.offsets) * MILLIMETRE
    labels: list[Label] = []
    for side in (-1.0, 1.0):
        axes.contourf(side * offsets, heights, margin, levels=(*LEVELS, 1e4), colors=TINTS, zorder=0.6)
        for level, (width, dashes) in zip(LEVELS, LINES, strict=True):
            if not margin.min() < level < margin.max():
                continue
            drawn = axes.contour(
                side * offsets, heights, margin, levels=[level], colors=[HUE], linewidths=width, zorder=2.2
            )
            drawn.set(linestyle=[dashes])
            if side < 0.0:
                labels.append(_contour_label(drawn, level, offsets[-1], heights[-1] - heights[0]))
    low, high, wide = heights[0], heights[-1], offsets[-1]
    axes.add_patch(Rectangle((-wide, low), 2 * wide, high - low, fill=False, edgecolor=HUE, lw=0.6, zorder=2.1))
    words = f"margin mapped: {2 * wide:.3g} × {high - low:.3g} mm"
    axes.text(-wide, high, words, fontsize=7.5, color=HUE, va="bottom", bbox=PAPER, zorder=2.1)
    return [*_label_contours(axes, labels, -wide, step), Label(words, -0.5 * wide, high)]


def _contour_label(drawn: QuadContourSet, level: float, wide: float, tall: float) -> Label:
    """A label at the contour's upper outer shoulder, so that those of nested contours lie above one another."""
    points = np.concatenate([path.vertices for path in drawn.get_paths()])
    x, y = points[np.argmax(-points[:, 0] / wide + points[:, 1] / tall)]
    return Label(f"{level:g} dB", float(x), float(y))


def _label_contours(axes: Axes, labels: list[Label], left: float, step: float) -> list[Label]:
    """The contours' labels in a column beside the map; ``step`` is one point on paper [mm]."""
    bottom, top = axes.get_ylim()
    column, set_at = left - 16.0 * step, []
    for label, height in place_labels(labels, bottom, top - 6.0 * step, 10.0 * step, 4.0 * step):
        axes.plot([column, label.x], [height, label.y], color=HUE, lw=0.7, zorder=2.3)
        axes.text(
            column, height, label.text, fontsize=8.5, fontweight="bold", ha="right", va="center", bbox=PAPER, zorder=2.4
        )  # fmt: skip
        set_at.append(Label(label.text, column - 12.0 * step, height))
    return set_at


def _mark_places(axes: Axes, scene: Scene) -> None:
    """A cross at each required place but the one where the tag is drawn."""
    for place in scene.candidate.require.places:
        if place != scene.place:
            at = place.offset * MILLIMETRE, place.height * MILLIMETRE
            axes.plot(*at, "+", ms=9, mew=1.6, color=INK, zorder=5)
            axes.annotate(
                f"{at[1]:.3g} mm up", at, xytext=(6, 0), textcoords="offset points", fontsize=8, va="center", zorder=5,
                bbox=PAPER,
            )  # fmt: skip


def _marked(scene: Scene) -> list[Label]:
    """Where the tag is drawn and where places are marked, on both sides of the axis."""
    places = [scene.place, *scene.candidate.require.places]
    return [Label("", side * p.offset * MILLIMETRE, p.height * MILLIMETRE) for p in places for side in (-1.0, 1.0)]


def _mark_vessels(axes: Axes, scene: Scene) -> None:
    """A ring where the tag is in each vessel: in the middle while it is held, and nearest to it at the wall."""
    for one in in_vessels(scene.candidate):
        for places in (one.held, one.wall):
            if places:
                at = places[0].offset * MILLIMETRE, places[0].height * MILLIMETRE
                axes.plot(*at, "o", ms=6, mew=1.4, mec=INK, mfc="none", zorder=5)


def _finding(grid: MapGrid, margin: Array, tilt: float) -> str:
    lean = f"leaning {degrees(abs(tilt)):.3g}° the worst way" if tilt else "upright"
    above = margin[:, 0] >= 0.0
    if not above.any():
        return f"Read nowhere on the axis, {lean}"
    if bool((margin >= 0.0).all()):
        return f"Read everywhere on the map, {lean}"
    top = int(np.flatnonzero(above)[-1])
    if top == len(grid.heights) - 1:
        return f"Read on the axis up to the map's top, less high off it, {lean}"
    share = margin[top, 0] / (margin[top, 0] - margin[top + 1, 0])
    height = grid.heights[top] + share * (grid.heights[top + 1] - grid.heights[top])
    return f"Read on the axis up to {height * MILLIMETRE:.3g} mm, {lean}"
