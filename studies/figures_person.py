"""The field a person may meet, on the section: where it is above the public reference level, and above that at work."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.gathered_loops import Loops
from fem.level_reach import Reach
from links.limits import reference_level_occupational, reference_level_public
from studies.drawing import MILLIMETRE, PLOT_WIDTH, TALLEST, Scene, View, draw_section, section_figure, view_of
from studies.figures_style import INK
from studies.person_field import FieldPicture, bench_of, field_picture, reaches

FIELD = "#8a4b10"
FIELD_TINTS = ("#f6ead9", "#e9cfa9")
"""Above the public level, above that at work."""

ROOM = 1.12
"""What is seen over what the contour needs."""

PAPER = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.2}


def reach_of_field(scene: Scene, loops: Loops | None, ampere_turns: float) -> tuple[Figure, str] | None:
    """Section with the contours of both reference levels, and its finding.

    None where no level is known at the frequency, no field was stored, or none reaches out of the bench.
    """
    frequency = scene.candidate.frequency
    public, at_work = reference_level_public(frequency), reference_level_occupational(frequency)
    if loops is None or public is None or at_work is None:
        return None
    bench = bench_of(scene.candidate.stack, scene.section)
    reach, _ = reaches(loops, scene.section, bench, ampere_turns, (public, at_work))
    if reach.height is None or reach.radius is None:
        return None
    view = _view(scene, reach)
    figure, axes = section_figure(view)
    field = field_picture(loops, bench, ampere_turns, (view.half_width, view.bottom, view.top))
    draw_section(axes, scene, view)
    for side in (-1.0, 1.0):
        _draw(axes, field, side, (public, at_work))
    _label(axes, field, view, (public, at_work))
    _measure(axes, reach, view)
    title = (
        f"{public * 1e6:.0f} µT rms, the public reference level: up to {_mm(reach.height)} above the plate, "
        f"{_mm(reach.radius)} from the axis"
    )
    axes.set_title(title, loc="left", fontsize=9.5)
    return figure, title


def _mm(length: float) -> str:
    return f"{length * MILLIMETRE:.3g} mm"


def _view(scene: Scene, reach: Reach) -> View:
    """The section's own view, wider and higher where the contour needs it."""
    own = view_of(scene)
    assert reach.height is not None, "only a level that is reached is drawn"
    assert reach.radius is not None, "only a level that is reached is drawn"
    half_width, top = max(own.half_width, ROOM * reach.radius), max(own.top, ROOM * reach.height)
    return View(half_width, own.bottom, top, max(2.0 * half_width / PLOT_WIDTH, (top - own.bottom) / TALLEST))


def _draw(axes: Axes, field: FieldPicture, side: float, levels: tuple[float, float]) -> None:
    r, z = side * field.r * MILLIMETRE, field.z * MILLIMETRE
    size = np.ma.masked_invalid(field.size)
    axes.contourf(r, z, size, levels=(*levels, 1e6), colors=FIELD_TINTS, zorder=0.5)
    for level, width, dashes in zip(levels, (2.2, 1.3), ((0, None), (0, (6, 2))), strict=True):
        if float(size.min()) < level < float(size.max()):
            drawn = axes.contour(r, z, size, levels=[level], colors=[FIELD], linewidths=width, zorder=2.2)
            drawn.set(linestyle=[dashes])


def _label(axes: Axes, field: FieldPicture, view: View, levels: tuple[float, float]) -> None:
    """Each contour's name where it is highest on the left."""
    step = view.scale * MILLIMETRE / 72.0
    for level, who in zip(levels, ("public", "at work"), strict=True):
        above = np.nan_to_num(field.size) >= level
        rows = np.flatnonzero(above[field.z > 0.0].any(axis=1))
        if not rows.size:
            continue
        heights = field.z[field.z > 0.0]
        height = heights[rows[-1]] * (0.7 if rows[-1] else 1.0)
        row = above[field.z > 0.0][np.argmin(np.abs(heights - height))]
        edge = field.r[np.flatnonzero(row)[-1]] if row.any() else 0.0
        axes.text(
            -edge * MILLIMETRE - 4.0 * step, height * MILLIMETRE, f"{level * 1e6:.0f} µT\n{who}", color=FIELD,
            fontsize=8.5, fontweight="bold", ha="right", va="center", bbox=PAPER, zorder=4.5,
        )  # fmt: skip


def _measure(axes: Axes, reach: Reach, view: View) -> None:
    """The public contour's height above the plate, as an arrow beside the axis."""
    if not reach.height:
        return
    at, step = 0.06 * view.half_width * MILLIMETRE, view.scale * MILLIMETRE / 72.0
    height = reach.height * MILLIMETRE
    arrow = {"arrowstyle": "<->", "color": INK, "lw": 0.9, "shrinkA": 0.0, "shrinkB": 0.0}
    axes.annotate("", (at, 0.0), (at, height), arrowprops=arrow, zorder=4.6)
    axes.text(
        at + 3.0 * step, 0.86 * height, f"{height:.3g} mm", fontsize=8.5, color=INK, va="center", bbox=PAPER, zorder=4.6
    )
