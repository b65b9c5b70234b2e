"""The field a person may meet, on the section: where it is above the public reference level, and above that at work."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.arrays import Array
from fem.bench import Bench
from fem.gathered_loops import Loops
from fem.level_reach import Reach
from links.limits import reference_level_occupational, reference_level_public
from studies.drawing import MILLIMETRE, PLOT_WIDTH, TALLEST, Scene, View, draw_section, section_figure, view_of
from studies.figures_style import INK
from studies.labels import Label, place_labels
from studies.person_field import FieldPicture, bench_of, field_picture, reaches

FIELD = "#8a4b10"
FIELD_TINTS = ("#f6ead9", "#e9cfa9")
"""Above the public level, above that at work."""

ROOM = 1.12
"""What is seen over what the contour needs."""

ROOM_ASIDE = 1.3
"""The same across: the contours' names stand at the left edge."""

PAPER = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.2}


@dataclass(frozen=True, slots=True, eq=False)
class BaseSource:
    """What makes the base field: loops for one ampere in one turn, and peak ampere-turns."""

    loops: Loops
    ampere_turns: float


@dataclass(frozen=True, slots=True, eq=False)
class FieldAsked:
    """What makes the field, where no one gets, and the level [T rms] that has to be in view."""

    loops: Loops
    bench: Bench
    ampere_turns: float
    level: float


def reach_of_field(scene: Scene, source: BaseSource) -> tuple[Figure, str] | None:
    """Section with the contours of both reference levels, and its finding.

    None where no level is known at the frequency, or none reaches out of the bench.
    """
    frequency = scene.candidate.frequency
    public, at_work = reference_level_public(frequency), reference_level_occupational(frequency)
    if public is None or at_work is None:
        return None
    loops, ampere_turns = source.loops, source.ampere_turns
    bench = bench_of(scene.candidate.stack, scene.section)
    reach, _ = reaches(loops, scene.section, bench, ampere_turns, (public, at_work))
    if reach.height is None or reach.radius is None:
        return None
    field, view = _seen(scene, reach, FieldAsked(loops, bench, ampere_turns, public))
    figure, axes = section_figure(view)
    draw_section(axes, scene, view)
    for side in (-1.0, 1.0):
        _draw(axes, field, side, (public, at_work))
    _name(axes, _labels(field, view, (public, at_work)), view)
    _measure(axes, reach, view)
    above = f"up to {_mm(reach.height)} above" if reach.height else "nowhere above"
    title = (
        f"{public * 1e6:.0f} µT rms, the public reference level: {above} the plate, {_mm(reach.radius)} from the axis"
    )
    axes.set_title(title, loc="left", fontsize=9.5)
    return figure, title


def draw_public_level(axes: Axes, scene: Scene, source: BaseSource, view: View, taken: Sequence[Label]) -> bool:
    """Draw the contour of the public reference level over a section, its name where it is far from what is ``taken``.

    Returns
    -------
    bool
        Whether any of it is in view.
    """
    level = reference_level_public(scene.candidate.frequency)
    if level is None:
        return False
    bench = bench_of(scene.candidate.stack, scene.section)
    field = field_picture(source.loops, bench, source.ampere_turns, (view.half_width, view.bottom, view.top))
    size = np.ma.masked_invalid(field.size)
    if size.count() == 0 or not float(size.min()) < level < float(size.max()):
        return False
    points: list[Array] = []
    for side in (-1.0, 1.0):
        r, z = side * field.r * MILLIMETRE, field.z * MILLIMETRE
        drawn = axes.contour(r, z, size, levels=[level], colors=[FIELD], linewidths=1.5, zorder=2.15)
        points = points or [np.asarray(path.vertices) for path in drawn.get_paths() if path.vertices is not None]
    _name_on_line(axes, np.concatenate(points), f"{level * 1e6:.0f} µT\npublic", view, taken)
    return True


def _name_on_line(axes: Axes, points: Array, words: str, view: View, taken: Sequence[Label]) -> None:
    """A name on a line, where it is farthest from the names there are and within the view."""
    step = view.scale * MILLIMETRE / 72.0
    wide, high = view.half_width * MILLIMETRE - 22.0 * step, view.top * MILLIMETRE - 14.0 * step
    inside = points[(points[:, 0] > -wide) & (points[:, 1] < high) & (points[:, 1] > 14.0 * step)]
    if not inside.size:
        inside = points
    away = np.array([[np.hypot(*(point - (one.x, one.y))) for one in taken] for point in inside])
    at = inside[int(np.argmax(away.min(axis=1)))] if taken else inside[len(inside) // 2]
    axes.text(
        at[0], at[1], words, color=FIELD, fontsize=8.0, fontweight="bold", ha="center", va="center", bbox=PAPER,
        zorder=4.5,
    )  # fmt: skip


def _mm(length: float) -> str:
    return f"{length * MILLIMETRE:.3g} mm"


def _seen(scene: Scene, reach: Reach, asked: FieldAsked) -> tuple[FieldPicture, View]:
    """The field, and the section's own view, wider, higher and deeper where the public contour needs it."""
    own, section = view_of(scene), scene.section
    assert reach.distance is not None, "only a level that is reached is drawn"
    assert reach.height is not None, "only a level that is reached is drawn"
    assert reach.radius is not None, "only a level that is reached is drawn"
    half_width, top = max(own.half_width, ROOM_ASIDE * reach.radius), max(own.top, ROOM * reach.height)
    deepest = min(own.bottom, section.bottom - ROOM * reach.distance)
    field = field_picture(asked.loops, asked.bench, asked.ampere_turns, (half_width, deepest, top))
    above = np.flatnonzero((np.nan_to_num(field.size) >= asked.level).any(axis=1))
    lowest = float(field.z[above[0]]) if above.size else own.bottom
    bottom = min(own.bottom, section.mid_height - ROOM * (section.mid_height - lowest))
    return field, View(half_width, bottom, top, max(2.0 * half_width / PLOT_WIDTH, (top - bottom) / TALLEST))


def _draw(axes: Axes, field: FieldPicture, side: float, levels: tuple[float, float]) -> None:
    r, z = side * field.r * MILLIMETRE, field.z * MILLIMETRE
    size = np.ma.masked_invalid(field.size)
    axes.contourf(r, z, size, levels=(*levels, 1e6), colors=FIELD_TINTS, zorder=0.5)
    for level, width, dashes in zip(levels, (2.2, 1.3), ((0, None), (0, (6, 2))), strict=True):
        if float(size.min()) < level < float(size.max()):
            drawn = axes.contour(r, z, size, levels=[level], colors=[FIELD], linewidths=width, zorder=2.2)
            drawn.set(linestyle=[dashes])


def _labels(field: FieldPicture, view: View, levels: tuple[float, float]) -> tuple[Label, ...]:
    """Each contour's name, and the place on it that the name belongs to."""
    found = []
    for level, who in zip(levels, ("public", "at work"), strict=True):
        above = (np.nan_to_num(field.size) >= level) & (field.z < view.top)[:, None] & (field.z > view.bottom)[:, None]
        over = above & (field.z > 0.0)[:, None]
        rows = np.flatnonzero((over if over.any() else above).any(axis=1))
        if rows.size:
            row = rows[int(0.6 * (rows.size - 1))]
            edge = float(field.r[np.flatnonzero(above[row])[-1]])
            found.append(Label(f"{level * 1e6:.0f} µT\n{who}", -edge * MILLIMETRE, float(field.z[row]) * MILLIMETRE))
    return tuple(found)


def _name(axes: Axes, labels: tuple[Label, ...], view: View) -> None:
    """Names at the left edge, where no vessel is, each with a line to its contour."""
    step, left = view.scale * MILLIMETRE / 72.0, -view.half_width * MILLIMETRE
    lowest = min((label.y for label in labels), default=0.0)
    bottom, top = (0.0 if lowest > 0.0 else view.bottom * MILLIMETRE), view.top * MILLIMETRE
    for label, height in place_labels(labels, bottom, top, 11.5 * step, 6.0 * step):
        axes.plot(
            [left + 42.0 * step, left + 50.0 * step, label.x], [height, label.y, label.y],
            color=FIELD, lw=0.7, zorder=4.4,
        )  # fmt: skip
        axes.plot([label.x], [label.y], "o", ms=2.4, color=FIELD, zorder=4.4)
        axes.text(
            left + 4.0 * step, height, label.text, color=FIELD, fontsize=8.5, fontweight="bold", ha="left",
            va="center", bbox=PAPER, zorder=4.5,
        )  # fmt: skip


def _measure(axes: Axes, reach: Reach, view: View) -> None:
    """The public contour's height above the plate, as an arrow on the side of the axis where the tag is not."""
    if not reach.height:
        return
    at, step = -0.06 * view.half_width * MILLIMETRE, view.scale * MILLIMETRE / 72.0
    height = reach.height * MILLIMETRE
    arrow = {"arrowstyle": "<->", "color": INK, "lw": 0.9, "shrinkA": 0.0, "shrinkB": 0.0}
    axes.annotate("", (at, 0.0), (at, height), arrowprops=arrow, zorder=4.6)
    axes.text(
        at + 3.0 * step, height + 4.0 * step, f"{height:.3g} mm", fontsize=8.5, color=INK, ha="right", va="bottom",
        bbox=PAPER, zorder=4.6,
    )  # fmt: skip
