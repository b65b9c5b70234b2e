"""Where a candidate's coupling is asked for: places, heights, the lines of its pictures, and the air they lie in."""

from math import cos, sin, sqrt

import numpy as np

from fem.air_field import AirSpace
from fem.near_places import clear_height
from geometries.tag import Tag
from studies.specification import Candidate, Place
from studies.vessel_places import vessel_heights

CEILING = 2.5
"""Reading heights are looked for up to this many mean diameters of the base coil, or the top of the map if higher."""

LEAST_CEILING = 2.0
"""Times the lowest place: even above one single place there are heights to look at."""


def reference_places(candidate: Candidate) -> tuple[Place, ...]:
    """The required places; where none is, on the axis at the required read height or at the middle of the map.

    A read height below the map is met at the map's lowest place already.
    """
    if candidate.require.places:
        return candidate.require.places
    wanted = [limit.value for limit in candidate.require.at_least if limit.quantity == "read_height"]
    heights = candidate.grid.heights
    return (Place(max(*wanted, heights[0]) if wanted else heights[len(heights) // 2], 0.0, 0.0),)


def height_range(candidate: Candidate) -> tuple[float, float]:
    """Lowest and highest height at which the tag is asked for [m]."""
    heights = [*candidate.grid.heights, *(place.height for place in reference_places(candidate))]
    return min(heights), max(heights)


def solved_heights(candidate: Candidate) -> tuple[float, float]:
    """Lowest and highest height at which the tag is solved near what surrounds it, in its vessels too [m]."""
    heights = (*height_range(candidate), *vessel_heights(candidate))
    return min(heights), max(heights)


def probe_heights(candidate: Candidate) -> tuple[float, ...]:
    """Heights on the axis at which the base field's error is estimated [m], rising."""
    lowest, highest = height_range(candidate)
    return tuple(sorted({lowest, sqrt(lowest * highest), highest}))


def lowest_point(candidate: Candidate, tag: Tag) -> float:
    """Height of the lowest point of the tag over all places and tilts that are asked for [m]."""
    places = [(min(candidate.grid.heights), tilt) for tilt in candidate.grid.tilts]
    places += [(place.height, place.tilt) for place in candidate.require.places]
    places.append((height_range(candidate)[0], worst_line(candidate)[1]))
    reach = [height - tag.half_height * abs(cos(tilt)) - tag.outer_radius * abs(sin(tilt)) for height, tilt in places]
    return min(reach)


def worst_line(candidate: Candidate) -> tuple[float, float]:
    """Largest offset [m] and tilt [rad] that are required; where none is, an eighth of the diameter and 20°."""
    places = candidate.require.places
    if not places:
        largest = max(candidate.grid.offsets)
        return min(candidate.coil.mean_diameter / 8.0, largest), float(np.radians(20.0))
    return max(place.offset for place in places), max(abs(place.tilt) for place in places)


def ceiling_for(candidate: Candidate, diameter: float) -> float:
    """Highest place that may be asked for with a coil of a mean diameter [m]."""
    lowest, _ = height_range(candidate)
    _, highest = solved_heights(candidate)
    return max(highest, CEILING * diameter, LEAST_CEILING * lowest)


def open_air(candidate: Candidate, tag: Tag, top: float, ceiling: float) -> AirSpace | None:
    """The air that a tag moves in above sources up to ``top`` [m]; None where it reaches down among them."""
    lowest, scale = height_range(candidate)[0], tag.sphere_radius
    clear = clear_height(tag, top)
    floor = lowest - scale
    if lowest < clear:  # places from there on sample the axis of the sphere, those below the tag itself
        floor = min(lowest_point(candidate, tag), clear - scale)
    if floor <= top:
        return None
    offsets = [*candidate.grid.offsets, *(place.offset for place in candidate.require.places)]
    return AirSpace(max(offsets) + 1.01 * scale, floor, ceiling + scale)
