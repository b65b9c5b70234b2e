"""Where a vessel that is let down on the axis comes to stand: on the plate, in a block's well, or on the well's rim."""

from collections.abc import Iterable
from math import sqrt

from geometries.tag import Outline
from geometries.vessels import Vessel

PLATE = 0.0
"""Height of the plate's top [m]."""


def standing_height(vessel: Vessel, outlines: Iterable[Outline]) -> float:
    """Height of the vessel's lowest point once it stands [m].

    Parameters
    ----------
    vessel : Vessel
        Of which shape and outer diameter count.
    outlines : iterable of Outline
        Half sections of the bodies it may stand in, beside the plate [m].

    Returns
    -------
    float
        Let down from above along the axis, it stands on whatever it meets first.

    Notes
    -----
    A straight edge z = z0 + m r meets a ball of radius R where the ball has its slope, at r = m R/√(1 + m²), or at an
    end of what lies under the ball.
    """
    lifts = [PLATE]
    for outline in outlines:
        for start, end in zip(outline, (*outline[1:], outline[0]), strict=True):
            lifts += _lifts(vessel, start, end)
    return max(lifts)


def has_well(outline: Outline) -> bool:
    """Whether a body is lower on its axis than somewhere beside it, or not there at all."""
    top = max(z for _, z in outline)
    return surface_at(outline, 0.0) < top - 1e-9


def surface_at(outline: Outline, radius: float) -> float:
    """Greatest height of a body at a distance from its axis [m]; minus infinity where it is not."""
    found = [float("-inf")]
    for (r0, z0), (r1, z1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        low, high = min(r0, r1), max(r0, r1)
        if low <= radius <= high:
            found.append(max(z0, z1) if r0 == r1 else z0 + (z1 - z0) * (radius - r0) / (r1 - r0))
    return max(found)


def _lifts(vessel: Vessel, start: tuple[float, float], end: tuple[float, float]) -> list[float]:
    """How high an edge holds the vessel's lowest point, at each place where it may touch."""
    (r0, z0), (r1, z1) = sorted((start, end))
    widest = vessel.outer_radius
    if r0 >= widest:
        return []
    if r0 == r1:
        return [max(z0, z1) - _underside(vessel, r0)]
    slope = (z1 - z0) / (r1 - r0)
    places = [r0, min(r1, widest)]
    if vessel.shape in ("round", "flask"):
        foot = 0.5 * vessel.flat
        places += [foot] if r0 < foot < places[1] else []
        touching = widest * slope / sqrt(1.0 + slope * slope)
        places += [touching] if max(r0, foot) < touching < places[1] else []
    return [z0 + slope * (r - r0) - _underside(vessel, r) for r in places]


def _underside(vessel: Vessel, radius: float) -> float:
    """Height of the vessel's outside above its lowest point, ``radius`` off its axis [m]."""
    if vessel.shape not in ("round", "flask") or radius <= 0.5 * vessel.flat:
        return 0.0
    ball = vessel.outer_radius
    return ball - vessel.cut - sqrt(max(ball * ball - radius * radius, 0.0))
