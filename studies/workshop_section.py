"""The section of a design for the workshop: closed outlines to scale in millimetres, as SVG or as DXF."""

import re
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from geometries.stack import Layer, Solid
from geometries.tag import Outline
from geometries.vessels import Vessel
from studies.drawing import MILLIMETRE, Scene, placed, vessel_line, whole_outline
from studies.engineering import place_text
from studies.extras import needed
from studies.plain_text import plain

MARGIN, TEXT, LEADING, LETTER = 5.0, 3.0, 4.5, 0.62
"""Edge round the drawing, height of letters, of lines [mm], and a letter's width over its height at the widest."""

ON_AXIS = 1e-12
"""A radius no larger than this [m] is none."""

LONGEST_LAYER = 80

COLOURS = {"stack": ("#e9e4da", 8), "solid": ("#b9c0c4", 9), "coil": ("#b5652a", 30), "tag": ("#3b4348", 250),
           "vessel": ("none", 140)}  # fmt: skip
"""Fill in the SVG, and colour number of the DXF's layer, by kind of part."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part with its closed outlines, both sides of the axis [mm]; ``words`` are what the workshop reads of it."""

    name: str
    kind: str
    outlines: tuple[Outline, ...]
    words: str

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest x, then y [mm]."""
        xs, ys = zip(*(corner for outline in self.outlines for corner in outline), strict=True)
        return min(xs), max(xs), min(ys), max(ys)


def workshop_parts(scene: Scene) -> tuple[Part, ...]:
    """Every part of a scene in its place, nothing drawn thicker than it is; the tag at the scene's place."""
    stack, section, tag, place = scene.candidate.stack, scene.section, scene.tag, scene.place
    found = [
        _part(layer.name, "stack", _layer(layer), _ribbons(layer))
        for layer in stack.layers
        if layer.thickness > 0.0 and layer.kind != "gap"
    ]
    found += [_part(solid.name, "solid", _both_sides(solid), solid.material.name) for solid in stack.solids]
    found += [_part(vessel.name, "vessel", [_wall(vessel)], "vessel") for vessel in scene.vessels]
    found.append(_part("base coil", "coil", _mirrored(section.corners), scene.turns))
    likely = ", as likely inside" if scene.candidate.tag.construction is None else ""
    likely += ", measured as it leans" if place.tilt else ""
    if tag.core is not None:
        found.append(_part("tag core", "tag", [placed(whole_outline(tag.core.outline), place)], f"ferrite{likely}"))
    if tag.shield is not None:
        found.append(_part("tag can", "tag", [placed(one, place) for one in _mirrored(tag.shield.outline)], ""))
    winding = [placed(one, place) for one in _mirrored(tag.section.corners)]
    found.append(_part("tag coil", "tag", winding, f"at {place_text(place)}{likely}"))
    return tuple(found)


def _part(name: str, kind: str, outlines: Iterable[Outline], more: str) -> Part:
    closed = tuple(tuple((r * MILLIMETRE, z * MILLIMETRE) for r, z in outline) for outline in outlines)
    bare = Part(name, kind, closed, "")
    left, right, bottom, top = bare.box
    words = f"{name}: {right - left:.6g} mm wide, from {bottom:.6g} mm to {top:.6g} mm"
    return replace(bare, words=f"{words}; {more}" if more else words)


def _layer(layer: Layer) -> tuple[Outline, ...]:
    """The room that a layer takes; where the ribbons of a heater run, no study says."""
    return (whole_outline(layer.outline),) if layer.inner_radius <= ON_AXIS else _mirrored(layer.outline)


def _ribbons(layer: Layer) -> str:
    if layer.ribbon_width is None or layer.pitch is None:
        return "" if layer.material is None else layer.material.name
    width, pitch = layer.ribbon_width * MILLIMETRE, layer.pitch * MILLIMETRE
    return f"{layer.kind} of ribbons {width:.4g} mm wide at a pitch of {pitch:.4g} mm, its whole room drawn"


def _mirrored(outline: Outline) -> tuple[Outline, ...]:
    return outline, tuple((-r, z) for r, z in reversed(outline))


def _both_sides(solid: Solid) -> tuple[Outline, ...]:
    """The solid's outline and its mirror image, as one where a single edge of it lies on the axis."""
    outline, count = solid.outline, len(solid.outline)
    on_axis = [i for i, (r, _) in enumerate(outline) if r <= ON_AXIS]
    for at in on_axis:
        if len(on_axis) == 2 and (at + 1) % count in on_axis:
            return (whole_outline((*outline[at + 1 :], *outline[: at + 1])),)
    return _mirrored(outline)


def _wall(vessel: Vessel) -> Outline:
    """Wall and bottom of a vessel: its outside from rim to rim, then its inside back."""
    wall = vessel.wall_thickness
    inner = replace(vessel, outer_diameter=vessel.outer_diameter - 2.0 * wall)
    outer = vessel if vessel.neck_diameter is None else replace(vessel, neck_diameter=vessel.neck_diameter + 2.0 * wall)
    inside = vessel_line(inner, vessel.standing + vessel.floor_thickness)
    return (*vessel_line(outer, vessel.standing), *reversed(inside))


def notes_of(scene: Scene, parts: Iterable[Part], cautions: Iterable[str]) -> Iterator[str]:
    """What is written beside the drawing."""
    yield "Section through the axis, 1:1, all lengths in mm, heights from the plate's top surface."
    yield from (part.words for part in parts)
    if scene.candidate.magnets or scene.candidate.drive_magnets:
        yield "Magnets are not round about the axis and are not drawn."
    yield from (f"CAUTION: {text}" for text in cautions)


# -- SVG ------------------------------------------------------------------------------------------------------------


def section_svg(title: str, scene: Scene, cautions: Iterable[str]) -> str:
    """The section as SVG at scale 1:1: one unit of the drawing is a millimetre, each part a group of closed paths.

    Parameters
    ----------
    title : str
        Study and design.
    scene : Scene
        With the winding as solved.
    cautions : iterable of str
        To be read beside the drawing.
    """
    parts = workshop_parts(scene)
    left, right, bottom, top = _box(parts)
    width = max(right - left, 140.0)
    across = int(width / (TEXT * LETTER))
    lines = [line for text in notes_of(scene, parts, cautions) for line in textwrap.wrap(_shown(text), across)]
    height = top - bottom + LEADING * (len(lines) + 2)
    view = (0.5 * (left + right - width) - MARGIN, -top - MARGIN, width + 2.0 * MARGIN, height + 2.0 * MARGIN)
    svg = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{view[2]:.6f}mm",
            "height": f"{view[3]:.6f}mm",
            "viewBox": " ".join(f"{value:.6f}" for value in view),
        },
    )
    ElementTree.SubElement(svg, "title").text = _shown(title)
    for part in parts:
        _svg_part(svg, part)
    axis = {"id": "axis", "x1": "0", "x2": "0", "y1": f"{-top - 2.0:.6f}", "y2": f"{-bottom + 2.0:.6f}"}
    ElementTree.SubElement(svg, "line", {**axis, "stroke": "#5d6a70", "stroke-width": "0.1", "stroke-dasharray": "4 1"})
    for number, line in enumerate((_shown(title), *lines), 1):
        place = {"x": f"{view[0] + MARGIN:.6f}", "y": f"{-bottom + MARGIN + LEADING * number:.6f}"}
        look = {"font-family": "sans-serif", "font-size": f"{TEXT:g}", "fill": "#1c2529"}
        ElementTree.SubElement(svg, "text", {**place, **look}).text = line
    ElementTree.indent(svg)
    return ElementTree.tostring(svg, encoding="unicode", xml_declaration=False) + "\n"


def _svg_part(svg: ElementTree.Element, part: Part) -> None:
    look = {"fill": COLOURS[part.kind][0], "stroke": "#1c2529", "stroke-width": "0.1"}
    group = ElementTree.SubElement(svg, "g", {"class": part.kind, "data-part": _shown(part.name), **look})
    ElementTree.SubElement(group, "title").text = _shown(part.words)
    for outline in part.outlines:
        corners = " L ".join(f"{x:.6f} {-y:.6f}" for x, y in outline)
        ElementTree.SubElement(group, "path", {"d": f"M {corners} Z"})


def _shown(text: str) -> str:
    """``text`` on one line without what XML has no place for; the writer escapes the rest."""
    return "".join(sign for sign in " ".join(text.split()) if sign.isprintable())


def _box(parts: Iterable[Part]) -> tuple[float, float, float, float]:
    lefts, rights, bottoms, tops = zip(*(part.box for part in parts), strict=True)
    return min(lefts), max(rights), min(bottoms), max(tops)


# -- DXF ------------------------------------------------------------------------------------------------------------


def write_section_dxf(path: Path, title: str, scene: Scene, cautions: Iterable[str]) -> None:
    """Write the section as DXF in millimetres: a layer a part, each outline a closed polyline.

    Raises
    ------
    RunError
        Where the package that writes it is not installed.
    """
    ezdxf = needed("ezdxf", "dxf")
    parts = workshop_parts(scene)
    left, _, bottom, top = _box(parts)
    document: Any = ezdxf.new("R2010", units=4)  # 4 is the millimetre, in $INSUNITS
    document.header["$MEASUREMENT"] = 1  # metric
    space, taken = document.modelspace(), {"0", "axis", "notes", "defpoints"}
    for part in parts:
        layer = _layer_name(part.name, taken)
        document.layers.add(layer, color=COLOURS[part.kind][1]).description = plain(part.words)
        for outline in part.outlines:
            space.add_lwpolyline(outline, close=True, dxfattribs={"layer": layer})
    document.layers.add("axis", color=8)
    space.add_line((0.0, bottom - 2.0), (0.0, top + 2.0), dxfattribs={"layer": "axis"})
    document.layers.add("notes", color=7)
    texts = [line for text in (title, *notes_of(scene, parts, cautions)) for line in textwrap.wrap(plain(text), 100)]
    for number, line in enumerate(texts, 1):
        look = {"layer": "notes", "height": TEXT, "insert": (left, bottom - MARGIN - LEADING * number)}
        space.add_text(line.replace("%%", "% %"), dxfattribs=look)  # "%%" begins a code in a DXF's text
    document.saveas(path)


def _layer_name(name: str, taken: set[str]) -> str:
    """A name that a DXF's layer may have, told from all others whatever their case; ``taken`` learns it."""
    safe = re.sub(r"[^A-Za-z0-9 _-]", "_", plain(name)).strip()[:LONGEST_LAYER] or "part"
    found, number = safe, 1
    while found.lower() in taken:
        number += 1
        found = f"{safe}-{number}"
    taken.add(found.lower())
    return found
