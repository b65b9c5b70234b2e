"""Solids that a study file gives by the name of their shape."""

from geometries.shapes import Well, bath_outline, block_outline, disc_outline, pan_outline
from geometries.tag import Outline
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import SolidTable


def shape_outline(table: SolidTable, notes: Notes) -> Outline:
    """Corners of a solid's half section [m].

    Raises
    ------
    GeometryError
        Where its sizes make no body; the key is the size's own name, without the solid's.
    """
    if table.shape == "disc":
        return disc_outline(
            _given(table.diameter), _given(table.thickness), _given(table.top), table.inner_diameter or 0.0
        )
    if table.shape == "pan":
        bottom = _given(table.bottom)
        return pan_outline(_given(table.outer_diameter), _given(table.height), _given(table.wall_thickness), bottom)
    key = f"solids.{table.name}.bottom"
    bottom = notes.chosen(table.bottom, 0.0, key, quantity_text(0.0, "length"), "it stands on the plate")
    height, well = _given(table.height), _well(table, notes)
    if table.shape == "heat block":
        return block_outline(_given(table.outer_diameter), height, bottom, well, table.hole_diameter or 0.0)
    return bath_outline(_given(table.diameter), height, bottom, table.round_bottom or False, well)


def _well(table: SolidTable, notes: Notes) -> Well | None:
    if table.well_diameter is None:
        return None
    key, half = f"solids.{table.name}.well_depth", 0.5 * table.well_diameter
    depth = notes.chosen(table.well_depth, half, key, quantity_text(half, "length"), "a hemisphere")
    return Well(table.well_diameter, depth)


def _given(value: float | None) -> float:
    if value is None:
        raise AssertionError("studies.rules lets no solid pass without the sizes of its shape")
    return value
