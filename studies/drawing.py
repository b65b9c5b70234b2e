"""The section through plate, heater, base coil and tag, drawn to scale in millimetres."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import asin, cos, pi, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geometries.section import WindingSection
from geometries.stack import RIBBON_KINDS, Layer, Solid
from geometries.tag import DrumCore, Outline, Tag
from geometries.vessels import NECK_LENGTH, Vessel
from studies.assembly_coil import probable_turns, winding_section
from studies.assembly_tag import drawn_tag
from studies.engineering import millimetres, place_text
from studies.labels import Label, place_labels
from studies.specification import Candidate, Place

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MILLIMETRE = 1e3
LEAST_THICKNESS = 1.5 / 72.0
"""A thinner layer is drawn this thick [inch on paper]."""

THICKER = ",\ndrawn thicker"

PLOT_WIDTH, TALLEST = 5.3, 5.4
"""Largest size of the section on paper [inch]."""

LEFT, RIGHT, BOTTOM, TOP = 0.75, 2.55, 0.58, 0.42
"""Room round the section for its axes, labels and title of one line [inch]."""

LINE, SPACE = 11.5, 5.0
"""Height of a line of a label, and least room between two labels [point]."""

BOTTOMS = {"flat": "flat-bottomed", "round": "round-bottomed", "conical": "conical", "flask": "flat-bottomed flask"}
"""What a vessel is called by its shape."""

TITLE_LINE = 0.18
"""Room for each further line of the title [inch]."""

INK, QUIET = "#1c2529", "#5d6a70"
COPPER, FERRITE, CERAMIC, METAL, RIBBON, GLASS = "#b5652a", "#3b4348", "#e9e4da", "#b9c0c4", "#7a4a3a", "#8aa0a8"


@dataclass(frozen=True, slots=True)
class Scene:
    """What a section shows.

    Parameters
    ----------
    candidate : Candidate
        Stack and words for the labels.
    section : WindingSection
        Of the base coil, in its place.
    turns : str
        Its turns in words; empty where they are not known yet.
    tag : Tag
        In its own axes.
    place : Place
        Where the tag sits.
    vessels : tuple of Vessel
        On the plate.
    reach : float
        Lowest offset [m] that has to be in view on either side.
    ceiling : float
        Lowest height [m] that has to be in view.
    """

    candidate: Candidate
    section: WindingSection
    turns: str
    tag: Tag
    place: Place
    vessels: tuple[Vessel, ...] = ()
    reach: float = 0.0
    ceiling: float = 0.0


@dataclass(frozen=True, slots=True)
class View:
    """The part of the plane that is drawn [m], and its scale [m to the inch on paper]."""

    half_width: float
    bottom: float
    top: float
    scale: float

    @property
    def size(self) -> tuple[float, float]:
        """Width and height on paper [inch]."""
        return 2.0 * self.half_width / self.scale, (self.top - self.bottom) / self.scale


def unsolved_scene(candidate: Candidate) -> Scene:
    """The scene as far as it is known before any field is solved: turns that follow from an inductance are guessed."""
    coil = candidate.coil
    turns = probable_turns(coil)
    words = f"{turns:g} turns" if coil.turns is not None else f"about {turns:.0f} turns"
    section = winding_section(coil, candidate.stack, turns)
    return scene_of(candidate, section, words)


def solved_scene(candidate: Candidate, turns: int, radial_build: float, winding_length: float) -> Scene:
    """The scene with the winding as solved; lengths in [m]."""
    coil = replace(candidate.coil, radial_build=radial_build, winding_length=winding_length)
    return scene_of(candidate, winding_section(coil, candidate.stack, turns), f"{turns} turns")


def scene_of(candidate: Candidate, section: WindingSection, turns: str) -> Scene:
    """The tag at its highest required place, or at the required read height; the map's places all in view."""
    grid, places = candidate.grid, candidate.require.places
    wanted = [limit.value for limit in candidate.require.at_least if limit.quantity == "read_height"]
    height = max(wanted, default=grid.heights[len(grid.heights) // 2])
    place = max(places, key=lambda p: (p.height, p.offset), default=Place(height, 0.0, 0.0))
    return Scene(
        candidate,
        section,
        turns,
        drawn_tag(candidate.tag),
        place,
        candidate.vessels,
        max([*grid.offsets, *(p.offset for p in places)]),
        max([*grid.heights, *(p.height for p in places)]),
    )


def view_of(scene: Scene) -> View:
    """What has to be seen: coil, tag, map, vessels in width, solids on the plate; wide plates, tall vessels cut off."""
    tag, place = scene.tag, scene.place
    around = [scene.section.outer_radius, scene.reach, place.offset + tag.sphere_radius]
    around += [0.5 * vessel.outer_diameter for vessel in scene.vessels]
    stack = scene.candidate.stack
    standing = [corner for solid in stack.solids if max(z for _, z in solid.outline) > 0.0 for corner in solid.outline]
    around += [r for r, _ in standing]
    bodies = [layer.outer_radius for layer in stack.layers if layer.kind != "gap"]
    bodies += [max(r for r, _ in solid.outline) for solid in stack.solids]
    half_width = 1.06 * max(max(around), min(max(bodies, default=0.0), 2.4 * max(around)))
    lowest = [scene.section.bottom, *(layer.bottom for layer in stack.layers)]
    lowest += [min(z for _, z in solid.outline) for solid in stack.solids]
    highest = max(scene.ceiling, place.height + tag.sphere_radius, *(z for _, z in standing), 0.0)
    height = highest - min(lowest)
    bottom, top = min(lowest) - 0.06 * height, highest + 0.06 * height
    scale = max(2.0 * half_width / PLOT_WIDTH, (top - bottom) / TALLEST)
    return View(half_width, bottom, max(top, bottom + scale * _labels_height(scene)), scale)


def _labels_height(scene: Scene) -> float:
    """Room on paper that the labels of all bodies take one above the other [inch]."""
    stack = scene.candidate.stack
    two_lines = len(scene.vessels) + len(stack.solids)
    three_lines = sum(layer.thickness > 0.0 for layer in stack.layers) + 2  # coil and tag
    return ((2 * two_lines + 3 * three_lines) * LINE + (two_lines + three_lines) * SPACE) / 72.0


def section_figure(view: View, title_lines: int = 1) -> tuple[Figure, Axes]:
    """An empty figure with axes of the view's exact scale, and room for a title."""
    from matplotlib.figure import Figure

    wide, high = view.size
    width, height = LEFT + wide + RIGHT, BOTTOM + high + TOP + TITLE_LINE * (title_lines - 1)
    figure = Figure(figsize=(width, height))
    axes = figure.add_axes((LEFT / width, BOTTOM / height, wide / width, high / height))
    axes.set_xlim(-view.half_width * MILLIMETRE, view.half_width * MILLIMETRE)
    axes.set_ylim(view.bottom * MILLIMETRE, view.top * MILLIMETRE)
    axes.set_xlabel("distance from the base coil's axis [mm]")
    axes.set_ylabel("height above the plate's top [mm]")
    axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")  # both sides are distances
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure, axes


def draw_section(axes: Axes, scene: Scene, view: View) -> None:
    """Draw a scene to scale, with a label on a leader for every body.

    Parameters
    ----------
    axes : Axes
        From `section_figure`, in millimetres.
    scene : Scene
        What to draw.
    view : View
        Of the axes; layers below `LEAST_THICKNESS` at its scale are drawn that thick.
    """
    axes.plot([0, 0], [view.bottom * MILLIMETRE, view.top * MILLIMETRE], color=QUIET, lw=0.6, dashes=(10, 3, 2, 3))
    axes.axhline(0.0, color=QUIET, lw=0.5, zorder=1)
    labels = [
        *(_draw_vessel(axes, vessel, view) for vessel in scene.vessels),
        *(_draw_layer(axes, layer, view) for layer in scene.candidate.stack.layers if layer.thickness > 0.0),
        *(_draw_solid(axes, solid, view) for solid in scene.candidate.stack.solids),
        _draw_coil(axes, scene),
        _draw_tag(axes, scene),
    ]
    draw_labels(axes, [label for label in labels if label is not None], view)


def save_section(candidate: Candidate, path: Path) -> None:
    """Draw a candidate's section, nothing solved, to ``path``: PNG where it ends so, else SVG."""
    from studies.figures_style import save_figure, styled

    with styled():
        scene = unsolved_scene(candidate)
        view = view_of(scene)
        figure, axes = section_figure(view)
        draw_section(axes, scene, view)
        axes.set_title(section_title(scene), loc="left")
        save_figure(figure, path)


def section_title(scene: Scene) -> str:
    """How far winding and tag are apart."""
    gap = (scene.place.height - scene.section.top) * MILLIMETRE
    return f"To scale: the tag coil's centre is {gap:.3g} mm above the winding's top"


# -- bodies ---------------------------------------------------------------------------------------------------------


def _draw_layer(axes: Axes, layer: Layer, view: View) -> Label | None:
    if layer.kind == "gap":
        return None
    drawn = max(layer.thickness, LEAST_THICKNESS * view.scale)
    thickened = drawn > layer.thickness
    colour, hatch = (RIBBON, "") if layer.kind in RIBBON_KINDS else _look(layer.conductivity)
    top = min(layer.top, layer.mid_height + 0.5 * drawn) if thickened else layer.top
    for low, high in layer_spans(layer):
        corners = ((low, top - drawn), (high, top - drawn), (high, top), (low, top))
        _fill(axes, corners, colour, hatch, edge=None if layer.kind in RIBBON_KINDS else INK)
    made_of = layer.kind if layer.kind in RIBBON_KINDS or layer.material is None else layer.material.name
    size = f"{millimetres(2.0 * layer.outer_radius)} wide, {millimetres(layer.thickness)} thick"
    return Label(
        f"{layer.name}: {made_of},\n{size}{THICKER if thickened else ''}",
        min(layer.outer_radius, view.half_width) * MILLIMETRE,
        (top - 0.5 * drawn) * MILLIMETRE,
    )


def layer_spans(layer: Layer) -> Iterator[tuple[float, float]]:
    """Radial extents of what is drawn, both sides of the axis: the whole layer, or each of its ribbons."""
    inner, outer = layer.inner_radius, layer.outer_radius
    if layer.kind not in RIBBON_KINDS or not layer.pitch or not layer.ribbon_width:
        yield from ((-outer, outer),) if inner <= 0.0 else ((-outer, -inner), (inner, outer))
        return
    count = max(1, int((outer - inner) / layer.pitch + 1e-6))
    for number in range(count):
        middle = inner + (number + 0.5) * layer.pitch
        for side in (-1.0, 1.0):
            yield side * middle - 0.5 * layer.ribbon_width, side * middle + 0.5 * layer.ribbon_width


def _draw_solid(axes: Axes, solid: Solid, view: View) -> Label:
    colour, hatch = _look(solid.conductivity)
    for side in (-1.0, 1.0):
        corners = tuple((side * r, z) for r, z in solid.outline)
        _fill(axes, corners, colour, hatch, edge=None)
        for (r, z), (s, y) in zip(corners, (*corners[1:], corners[0]), strict=True):
            if abs(r) > 0.0 or abs(s) > 0.0:  # no seam on the axis
                axes.plot([r * MILLIMETRE, s * MILLIMETRE], [z * MILLIMETRE, y * MILLIMETRE], color=INK, lw=0.7)
    widest = max(r for r, _ in solid.outline)
    heights = [z for r, z in solid.outline if r > widest - 1e-9]
    middle = 0.5 * (min(heights) + max(heights))
    words = f"{solid.name}: {solid.material.name},\n{millimetres(2.0 * widest)} wide"
    return Label(words, min(widest, view.half_width) * MILLIMETRE, middle * MILLIMETRE)


def _look(conductivity: float) -> tuple[str, str]:
    """Colour and hatching: metal is darker and hatched, so that a grey print tells it from ceramic."""
    return (METAL, "////") if conductivity > 0.0 else (CERAMIC, "")


def _draw_coil(axes: Axes, scene: Scene) -> Label:
    section = scene.section
    for side in (-1.0, 1.0):
        _fill(axes, tuple((side * r, z) for r, z in section.corners), COPPER, "xxxx")
    size = f"mean diameter {millimetres(2.0 * section.mean_radius)}"
    build = f"{millimetres(section.radial_build)} × {millimetres(section.winding_length)}"
    return Label(
        f"base coil: {scene.turns}\n{size},\nwinding {build}",
        section.outer_radius * MILLIMETRE,
        section.mid_height * MILLIMETRE,
    )


def _draw_tag(axes: Axes, scene: Scene) -> Label:
    tag, place = scene.tag, scene.place
    if tag.core is not None:
        _fill(axes, placed(whole_outline(tag.core.outline), place), FERRITE, "")
    shield = () if tag.shield is None else tag.shield.outline
    for side in (-1.0, 1.0) if shield else ():
        _fill(axes, placed(tuple((side * r, z) for r, z in shield), place), METAL, "")
    for side in (-1.0, 1.0):
        corners = tuple((side * r, z) for r, z in tag.section.corners)
        _fill(axes, placed(corners, place), COPPER, "")
    kind = "drum core" if isinstance(tag.core, DrumCore) else "rod core" if tag.core else "no core"
    stock = "\n(drawn as likely inside)" if scene.candidate.tag.construction is None else ""
    size = f"{millimetres(2.0 * tag.outer_radius)} × {millimetres(2.0 * tag.half_height)}"
    edge = max(r for r, _ in placed(tag.section.corners, place))
    return Label(f"tag: {kind}, {size}{stock}\n{place_text(place)}", edge * MILLIMETRE, place.height * MILLIMETRE)


def whole_outline(outline: Outline) -> Outline:
    """A half outline and its mirror image as one."""
    return (*outline, *((-r, z) for r, z in reversed(outline) if r > 0.0))


def placed(corners: Outline, place: Place) -> Outline:
    """Points of the tag's own axes in the plane of the offset; a positive tilt leans its top outward."""
    c, s = cos(place.tilt), sin(place.tilt)
    return tuple((place.offset + r * c + z * s, place.height - r * s + z * c) for r, z in corners)


def _draw_vessel(axes: Axes, vessel: Vessel, view: View) -> Label:
    wall, standing = vessel.wall_thickness, vessel.standing
    inside, floor = vessel.outer_diameter - 2.0 * wall, 2.0 * vessel.floor_radius
    inner = replace(vessel, outer_diameter=inside, flat=floor if vessel.shape == "flask" else 0.0)
    outer = vessel if vessel.neck_diameter is None else replace(vessel, neck_diameter=vessel.neck_diameter + 2.0 * wall)
    ball = vessel.shape in ("round", "flask")
    dashes = (5, 1.5) if ball else (None, None)
    outside = vessel_line(outer, standing)
    for points in (outside, vessel_line(inner, standing + vessel.floor_thickness)):
        xs, ys = zip(*((r * MILLIMETRE, z * MILLIMETRE) for r, z in points), strict=True)
        axes.plot(xs, ys, color=GLASS, lw=0.9, dashes=dashes, zorder=1.5)
    at = min(0.94 * view.top, standing + 0.97 * vessel.height)
    if ball:
        at = min(at, standing + vessel.outer_radius - vessel.cut)
    cut = ", cut off above" if standing + vessel.height > view.top else ""
    bottom = BOTTOMS[vessel.shape]
    words = f"{vessel.name}: {bottom},\n{millimetres(vessel.outer_diameter)} wide{cut}"
    return Label(words, _edge_at(outside, at) * MILLIMETRE, at * MILLIMETRE)


def vessel_line(vessel: Vessel, lift: float) -> Outline:
    """The vessel's line from rim to rim, its bottom ``lift`` [m] above the plate; without a neck where none is given.

    Where its neck begins is a likely guess, but for a round one.
    """
    radius, top = vessel.outer_radius, max(lift, vessel.standing + vessel.height)
    neck = None if vessel.neck_diameter is None else min(0.5 * vessel.neck_diameter, radius)
    if vessel.shape in ("round", "flask"):
        mouth, foot = 0.9 * pi if neck is None else pi - asin(neck / radius), asin(0.5 * vessel.flat / radius)
        rim, bottom = min(mouth, _angle_up_to(top - lift + vessel.cut, radius)), lift - vessel.cut
        angles = [foot + (rim - foot) * step / 60.0 for step in range(61)]
        half = tuple((radius * sin(angle), bottom + radius * (1.0 - cos(angle))) for angle in angles)
        ball = (*((-r, z) for r, z in reversed(half)), *half)
        if neck is None or ball[-1][1] >= top:
            return ball
        return ((-neck, top), *ball, (neck, top))
    if neck is None:
        return ((-radius, top), (-radius, lift), (radius, lift), (radius, top))
    foot = max(lift, top - 2.0 * NECK_LENGTH * neck)
    shoulder = foot if vessel.shape == "conical" else max(lift, foot - (radius - neck))
    half = ((radius, lift), (radius, shoulder), (neck, foot), (neck, top))
    if vessel.shape == "conical":
        half = ((radius, lift), (neck, foot), (neck, top), (neck, top))
    return (*((-r, z) for r, z in reversed(half)), *half)


def _edge_at(line: Outline, height: float) -> float:
    """Half width of a vessel's line at a height [m]; that of its rim where it ends below."""
    right = line[len(line) // 2 :]
    for (r0, z0), (r1, z1) in pairwise(right):
        if min(z0, z1) <= height <= max(z0, z1) and z0 != z1:
            return r0 + (r1 - r0) * (height - z0) / (z1 - z0)
    return right[-1][0]


def _angle_up_to(height: float, radius: float) -> float:
    """Angle from the bottom of a ball at which its wall has risen to ``height``."""
    from math import acos

    return acos(max(-1.0, min(1.0, 1.0 - height / radius)))


def _fill(axes: Axes, corners: Outline, colour: str, hatch: str, edge: str | None = INK) -> None:
    points = [(r * MILLIMETRE, z * MILLIMETRE) for r, z in corners]
    from matplotlib.patches import Polygon

    line: dict[str, Any] = {"edgecolor": edge or ("#00000055" if hatch else "none"), "linewidth": 0.7 if edge else 0.0}
    axes.add_patch(Polygon(points, closed=True, facecolor=colour, hatch=hatch, zorder=3, **line))


def draw_labels(axes: Axes, labels: list[Label], view: View) -> None:
    """Labels in a column on the right, in the order of their heights, none on another."""
    right = view.half_width * MILLIMETRE
    step = view.scale * MILLIMETRE / 72.0  # one point on paper [mm]
    for label, height in place_labels(
        labels, view.bottom * MILLIMETRE, view.top * MILLIMETRE, LINE * step, SPACE * step
    ):
        axes.plot(
            [label.x, right, right + 14.0 * step],
            [label.y, label.y, height],
            color=QUIET, lw=0.6, clip_on=False, zorder=2.5,
        )  # fmt: skip
        axes.plot([label.x], [label.y], "o", ms=2.0, color=QUIET, zorder=4, clip_on=False)
        axes.text(right + 16.0 * step, height, label.text, va="center", ha="left", fontsize=8.5, color=INK)
