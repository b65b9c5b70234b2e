"""The vessels, each standing where it comes to stand, and the puck in them."""

from dataclasses import replace

from geometries.errors import GeometryError
from geometries.pucks import Puck, PuckShape, tag_sticks_out
from geometries.stack import Stack
from geometries.standing import has_well, standing_height
from geometries.vessels import GlassSize, Vessel, VesselShape, check_vessel, glass_size
from studies.assembly_tag import Extent
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import IN_A_SOLID, ON_THE_PLATE, PuckTable, VesselTable

DEFAULT_WALL = 2e-3
_TOUCHING = 1e-9


def vessels_of(tables: list[VesselTable], stack: Stack | None, looked_at: bool, notes: Notes) -> tuple[Vessel, ...]:
    """All vessels; what is assumed of their inside is noted only where a puck is ``looked_at`` in them."""
    found = []
    for table in tables:
        vessel = _standing(_vessel(table, looked_at, notes), table, stack, notes)
        try:
            check_vessel(vessel, f"vessels.{table.name}")
            found.append(vessel)
        except GeometryError as error:
            notes.refused(error)
    return tuple(found)


def puck_of(table: PuckTable, extent: Extent, notes: Notes) -> Puck:
    """The puck, with a tag of this ``extent`` in it."""
    shape: PuckShape = notes.chosen(
        table.shape, "bar", "puck.shape", "bar", "the usual moving part of a stirring drive"
    )
    width = table.length if shape == "bar" else table.diameter
    thickness = table.diameter if shape == "bar" else table.height
    if width is None or thickness is None:
        raise AssertionError("studies.vessel_rules lets no puck pass without its sizes")
    place, half = table.tag_place, 0.5 * thickness
    zero = quantity_text(0.0, "length")
    puck = Puck(
        shape,
        width,
        thickness,
        notes.chosen(
            place.height, half, "puck.tag_place.height", quantity_text(half, "length"), "half way up the puck"
        ),
        notes.chosen(place.along, 0.0, "puck.tag_place.along", zero, "in the middle of the puck"),
        notes.chosen(place.tilt, 0.0, "puck.tag_place.tilt", quantity_text(0.0, "angle"), "the tag stands upright"),
        notes.chosen(table.spindle_offset, 0.0, "puck.spindle_offset", zero, "coil and drive share one axis"),
        notes.chosen(table.wander, 0.0, "puck.wander", zero, "the drive holds it on its axis, on a round bottom too"),
    )
    if shape == "bar" and width < thickness:
        notes.impossible(
            "puck.length", f"a bar of {_mm(width)} is shorter than it is thick", f"{_mm(thickness)} or more"
        )
    out = tag_sticks_out(puck, extent.radius, extent.half_height)
    if out > _TOUCHING:
        size = f"{_mm(2.0 * extent.radius)} × {_mm(2.0 * extent.half_height)}"
        given = f"the tag, {size}, reaches {_mm(out)} out of the puck"
        notes.impossible("puck.tag_place", given, "a place where the tag is all inside, or a larger puck")
    return puck


def _vessel(table: VesselTable, looked_at: bool, notes: Notes) -> Vessel:
    key = f"vessels.{table.name}"
    if table.standard is not None and table.size is not None:
        size = glass_size(table.standard, table.size)
    else:
        shape: VesselShape = notes.chosen(table.shape, "flat", f"{key}.shape", "flat", "the commoner one")
        if table.outer_diameter is None or table.height is None:
            raise AssertionError("studies.vessel_rules lets no vessel pass without its dimensions")
        size = GlassSize(shape, table.outer_diameter, table.height, None, None, "")
    text = quantity_text(DEFAULT_WALL, "length")
    wall = table.wall_thickness or size.wall_thickness
    wall = notes.chosen(wall, DEFAULT_WALL, f"{key}.wall_thickness", text, "laboratory glass")
    bottom = table.bottom_thickness
    if looked_at:
        bottom = notes.chosen(bottom, wall, f"{key}.bottom_thickness", quantity_text(wall, "length"), "as the wall")
    neck = table.neck
    if neck is None and size.neck_outer_diameter is not None:
        neck = size.neck_outer_diameter - 2.0 * wall
    found = Vessel(table.name, size.shape, size.outer_diameter, size.height, wall, bottom, neck, table.flat or 0.0)
    return replace(found, height=size.height - found.cut) if table.standard is not None else found


def _standing(vessel: Vessel, table: VesselTable, stack: Stack | None, notes: Notes) -> Vessel:
    """The vessel where it comes to stand."""
    stands = table.stands or ON_THE_PLATE
    if stands == ON_THE_PLATE or stack is None:
        return vessel
    name = stands.removeprefix(IN_A_SOLID)
    outlines = [solid.outline for solid in stack.solids if solid.name == name]
    if outlines and not has_well(outlines[0]):
        notes.impossible(
            f"vessels.{table.name}.stands", f"solid {name} has no well", f'"{ON_THE_PLATE}", or a solid with one'
        )
        return vessel
    return replace(vessel, standing=standing_height(vessel, outlines), stands=stands)


def _mm(length: float) -> str:
    return quantity_text(length, "length")
