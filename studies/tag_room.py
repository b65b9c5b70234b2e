"""Where the tag goes, as one cylinder about the base coil's axis, and what must not stand in it."""

from collections.abc import Iterable
from math import cos, sin

from geometries.liquids import is_liquid, largest_conductivity
from geometries.overlap import outline_fault, outlines_overlap
from geometries.plan import acts
from geometries.stack import Solid, Stack
from geometries.tag import Outline
from studies.assembly_map import lowest_height
from studies.assembly_tag import Extent
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.specification import MapGrid, Place, Requirement

UPWARD = 10.0
"""Reading heights are looked for far above the map: nothing may stand in the way up to here [m]."""

STEPS = 40


def places_of(grid: MapGrid, require: Requirement) -> list[Place]:
    """The outermost places at the lowest height of the map, at each tilt, and the required ones."""
    lowest, widest = grid.heights[0], grid.offsets[-1]
    return [*(Place(lowest, widest, tilt) for tilt in grid.tilts), *require.places]


def swept_outline(places: Iterable[Place], extent: Extent, largest_offset: float | None = None) -> Outline:
    """Half section of the cylinder that a tag of this extent keeps to at ``places`` and above them [m]."""
    reach, low = 0.0, UPWARD
    for place in places:
        c, s = abs(cos(place.tilt)), abs(sin(place.tilt))
        offset = place.offset if largest_offset is None else min(place.offset, largest_offset)
        reach = max(reach, offset + extent.radius * c + extent.half_height * s)
        low = min(low, place.height - lowest_height(extent, place.tilt))
    return ((0.0, low), (reach, low), (reach, UPWARD), (0.0, UPWARD))


def check_room(stack: Stack, places: list[Place], extent: Extent, frequency: float, notes: Notes) -> None:
    """Note every conductor or magnet that the tag would run into on its way, liquids apart."""
    swept = swept_outline(places, extent)
    for solid in stack.solids:
        if outline_fault(solid.outline) is None and _in_the_way(solid, swept, frequency):
            _refuse(solid, places, extent, frequency, notes)


def _in_the_way(solid: Solid, swept: Outline, frequency: float) -> bool:
    if not acts(solid.conductivity, solid.material.magnetic) or is_liquid(solid, frequency):
        return False
    return outlines_overlap(solid.outline, swept)


def _refuse(solid: Solid, places: list[Place], extent: Extent, frequency: float, notes: Notes) -> None:
    def free(offset: float) -> bool:
        return not outlines_overlap(solid.outline, swept_outline(places, extent, offset))

    widest = max(place.offset for place in places)
    if not free(0.0):
        bath = ""
        if solid.conductivity and not solid.material.magnetic:
            bound = quantity_text(largest_conductivity(solid, frequency), "conductivity")
            bath = f"; a liquid round the tag may conduct up to {bound} at this size"
        where = f"the tag would stand in solid {solid.name} or pass through it"
        notes.impossible("map.height", where, f"heights that keep clear of it, or a well in it{bath}")
        return
    low, high = 0.0, widest
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if free(middle) else (low, middle)
    given = f"{quantity_text(widest, 'length')} off the axis the tag runs into solid {solid.name}"
    notes.impossible("map.offset", given, f"offsets, required places' too, up to {quantity_text(_down(low), 'length')}")


def _down(length: float) -> float:
    """A length rounded down to 0.01 mm, so that taking the advice is enough."""
    return int(length * 1e5 + 1e-9) * 1e-5
