"""The places of the coupling map and those a good design must read, none of them inside the plate."""

from math import ceil, cos, pi, sin

from studies.assembly_tag import Extent
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import AtLeastTable, AtMostTable, MapTable, PlaceTable, RequireTable
from studies.specification import Limit, MapGrid, Place, Requirement

DEFAULT_HEIGHTS = tuple(height * 1e-3 for height in range(5, 61))
DEFAULT_OFFSETS = tuple(offset * 1e-3 for offset in range(31))
DEFAULT_TILTS = (0.0, pi / 9.0, pi / 2.0)
_TOUCHING = 1e-9


def lowest_height(extent: Extent, tilt: float) -> float:
    """Least height [m] of the centre at which a cylinder of this extent, tilted by ``tilt`` [rad], clears the plate."""
    return extent.half_height * abs(cos(tilt)) + extent.radius * abs(sin(tilt))


def map_grid(table: MapTable, extent: Extent, notes: Notes) -> MapGrid:
    """The map's heights, offsets and tilts.

    Parameters
    ----------
    table : MapTable
        As the file gives it.
    extent : Extent
        Of the largest tag in the sweep: default heights are raised until it clears the plate at every tilt.
    notes : Notes
        Takes the assumptions.
    """
    tilts = tuple(notes.chosen(table.tilt, list(DEFAULT_TILTS), "map.tilt", "0, 20, 90 deg", "upright, crooked, lying"))
    text, reason = "0 to 30 mm in steps of 1 mm", "as far as a tag on a plate will stray"
    offsets = notes.chosen(table.offset, list(DEFAULT_OFFSETS), "map.offset", text, reason)
    heights = table.height
    if heights is None:
        heights = _default_heights(max(lowest_height(extent, tilt) for tilt in tilts))
        text = f"{quantity_text(heights[0], 'length')} to {quantity_text(heights[-1], 'length')} in steps of 1 mm"
        notes.chosen(None, heights, "map.height", text, "from where the tag clears the plate to where vessels end")
    return MapGrid(tuple(heights), tuple(offsets), tilts)


def _default_heights(lowest: float) -> list[float]:
    clear = [height for height in DEFAULT_HEIGHTS if height >= lowest - _TOUCHING]
    first = ceil(lowest * 1e3 - 1e-6)
    return clear if len(clear) > 1 else [height * 1e-3 for height in range(first, first + len(DEFAULT_HEIGHTS))]


def check_map(grid: MapGrid, extent: Extent, notes: Notes) -> None:
    """Note a map that enters the plate."""
    tilt = max(grid.tilts, key=lambda angle: lowest_height(extent, angle))
    lowest = lowest_height(extent, tilt)
    if grid.heights[0] < lowest - _TOUCHING:
        allowed = f"heights from {_up(lowest)} for this tag and this tilt"
        notes.impossible("map.height", _inside(grid.heights[0], tilt), allowed)


def requirement(table: RequireTable, extent: Extent | None, notes: Notes) -> Requirement:
    """What a good design must do; a place where the tag would enter the plate is noted, if its ``extent`` is known."""
    places = tuple(_place(i, place, extent, notes) for i, place in enumerate(table.places))
    return Requirement(places, _limits(table.at_least), _limits(table.at_most))


def _place(index: int, table: PlaceTable, extent: Extent | None, notes: Notes) -> Place:
    lowest = 0.0 if extent is None else lowest_height(extent, table.tilt)
    if table.height < lowest - _TOUCHING:
        allowed = f"a height from {_up(lowest)} for this tag and this tilt"
        notes.impossible(f"require.places.{index}.height", _inside(table.height, table.tilt), allowed)
    return Place(table.height, table.offset, table.tilt)


def _limits(table: AtLeastTable | AtMostTable) -> tuple[Limit, ...]:
    return tuple(Limit(name, value) for name, value in table if value is not None)


def _inside(height: float, tilt: float) -> str:
    place = f"a height of {quantity_text(height, 'length')}"
    return f"{place} with a tilt of {quantity_text(tilt, 'angle')} puts the tag into the plate"


def _up(length: float) -> str:
    """A length rounded up, so that taking the advice is enough."""
    return quantity_text(ceil(length * 1e5 - 1e-6) * 1e-5, "length")
