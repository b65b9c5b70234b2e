"""Places of the whole-space check: chosen, read from the command line, and held against what the map covers."""

from math import hypot, pi

from fem.air_field import AirField, AirSpace
from geometries.errors import GeometryError
from geometries.magnet_checks import swept_section
from studies.asked_places import height_range
from studies.assembly_map import lowest_height
from studies.assembly_tag import Extent, tag_extent
from studies.coupling import SERIES_SHARE
from studies.engineering import millimetres, place_text, tilt_text
from studies.quantities import QuantityError, quantity_text, read_quantity
from studies.solving import SolvedCoils
from studies.specification import Candidate, Place

LEAST_PLACES = 5
SPREAD = ((0.25, 0.40, 35.0), (0.50, 0.70, 50.0), (0.15, 0.20, -20.0), (0.80, 0.90, 30.0), (0.35, 0.60, 70.0))
"""What makes up the number: shares of the map's range of heights and of offsets, and tilts in degrees."""

_ROOM = 1e-9


def carried_extent(candidate: Candidate) -> Extent:
    """How far the tag and everything fixed to it reach from its centre."""
    found = tag_extent(candidate.tag)
    for magnet in candidate.magnets:
        section = swept_section(magnet)
        found = found.joined(Extent(max(r for r, _ in section), max(abs(z) for _, z in section)))
    return found


def chosen_places(candidate: Candidate) -> tuple[Place, ...]:
    """The required places that are not upright on the axis, made up to five by places spread over the map."""
    required = [place for place in candidate.require.places if place.offset or place.tilt]
    heights, offsets = candidate.grid.heights, candidate.grid.offsets
    extent = carried_extent(candidate)
    found = list(required)
    for up, out, degrees in SPREAD[: max(0, LEAST_PLACES - len(required))]:
        tilt = degrees * pi / 180.0
        height = heights[0] + up * (heights[-1] - heights[0])
        found.append(Place(max(height, lowest_height(extent, tilt)), out * max(offsets), tilt))
    return tuple(found)


def read_place(text: str) -> Place:
    """A place as typed: height, offset, tilt with their units and commas between; offset and tilt may be left out.

    Raises
    ------
    GeometryError
        Under the key ``--place``, where it is none.
    """
    parts = text.split(",")
    allowed = 'height, offset and tilt as in "25 mm, 5 mm, 10 deg"'
    if len(parts) > 3:
        raise GeometryError("--place", f'"{text}" has {len(parts)} parts; {allowed}')
    try:
        values = [
            read_quantity(part.strip(), kind) for part, kind in zip(parts, ("length", "length", "angle"), strict=False)
        ]
    except QuantityError as fault:
        raise GeometryError("--place", f"{fault}; a place is {allowed}") from None
    height, offset, tilt = (*values, 0.0, 0.0)[:3]
    return Place(height, offset, tilt)


def check_places(candidate: Candidate, places: tuple[Place, ...]) -> None:
    """Refuse places that the map does not cover, or at which the tag would enter the plate.

    Raises
    ------
    GeometryError
    """
    low, high = height_range(candidate)
    widest = max([*candidate.grid.offsets, *(place.offset for place in candidate.require.places)])
    extent = carried_extent(candidate)
    for place in places:
        key = f"place {place_text(place)}"
        if not low * (1.0 - _ROOM) <= place.height <= high * (1.0 + _ROOM):
            raise GeometryError(key, f"the map's heights go from {millimetres(low)} to {millimetres(high)}")
        if not 0.0 <= place.offset <= widest * (1.0 + _ROOM):
            raise GeometryError(key, f"the map's offsets go from 0 mm to {millimetres(widest)}")
        if abs(place.tilt) > pi * (1.0 + _ROOM):
            raise GeometryError(key, f"a tilt lies between {tilt_text(-pi)} and {tilt_text(pi)}")
        lowest = lowest_height(extent, place.tilt)
        if place.height < lowest - _ROOM:
            allowed = quantity_text(lowest, "length")
            raise GeometryError(
                key,
                f"tag or magnets would enter the plate; with this tilt its height is {allowed} or more",
            )


def base_field_about(coils: SolvedCoils, places: tuple[Place, ...], extent: Extent, accuracy: float) -> AirField:
    """Base field per ampere in one turn, of a space that holds the tag at every place.

    Parameters
    ----------
    extent : Extent
        Of the tag and everything fixed to it.

    Raises
    ------
    GeometryError
        Where it would reach down to the field's sources.
    """
    top = coils.base.field.top
    floors = [place.height - lowest_height(extent, place.tilt) for place in places]
    for place, floor in zip(places, floors, strict=True):
        if floor <= top:
            raise GeometryError(
                f"place {place_text(place)}",
                f"what is fixed to the tag reaches down to {millimetres(floor)}, but a winding, conductor or ferrite "
                f"reaches up to {millimetres(top)}: fields are computed above all of them only",
            )
    reach = hypot(extent.radius, extent.half_height)
    highest = max(place.height for place in places) + reach
    space = AirSpace(max(place.offset for place in places) + reach, min(floors), highest)
    return coils.base.field.air_field(space, SERIES_SHARE * accuracy)
