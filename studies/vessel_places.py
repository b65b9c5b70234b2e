"""Where the tag comes to be in each vessel: while the drive holds the puck, and once it is thrown to the wall."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import sqrt

from geometries.pucks import (
    Puck,
    brought_back,
    fits,
    lift,
    needed_bore,
    passes_neck,
    slope,
    tag_heights,
    wall_distances,
)
from geometries.vessels import Vessel
from studies.specification import Candidate, Place

TURN_POINTS = 9
"""Offsets looked at over one revolution, its ends among them."""

OUTWARD_POINTS = 33
"""Offsets at which it is looked how far out the tag reads."""


@dataclass(frozen=True, slots=True)
class InVessel:
    """A vessel with the puck in it.

    Parameters
    ----------
    vessel : Vessel
        As it stands.
    held : tuple of Place
        Of the tag over one revolution while the drive holds the puck; none where the puck does not get in.
    wall : tuple of Place
        Of the tag with the puck at the wall, anywhere round it; none where the bottom brings it back to the middle.
    outward : tuple of Place
        From the base coil's axis out to the furthest of all these, at the tag's height.
    wall_distance : float or None
        Of the puck's middle from the drive's axis when it first touches the wall [m].
    """

    vessel: Vessel
    held: tuple[Place, ...] = ()
    wall: tuple[Place, ...] = ()
    outward: tuple[Place, ...] = ()
    wall_distance: float | None = None

    @property
    def places(self) -> tuple[Place, ...]:
        """All of them."""
        return (*self.held, *self.wall, *self.outward)


def in_vessels(candidate: Candidate) -> tuple[InVessel, ...]:
    """Every vessel of a candidate with its puck; none where it has no puck."""
    puck = candidate.puck
    return () if puck is None else tuple(in_vessel(puck, vessel) for vessel in candidate.vessels)


def in_vessel(puck: Puck, vessel: Vessel) -> InVessel:
    """Where the tag comes to be in one vessel.

    Notes
    -----
    The vessel stands with its axis on the drive's, the spindle's offset e from the base coil's axis. The tag, r from
    the puck's middle, runs round it: while the middle strays by s, it is |e − r| less s to e + r + s off the coil's
    axis. On a round bottom the puck rises and leans as it strays, and so it does in a flask on whose floor it has no
    room, the tag that is set along it on its higher or its lower side; its offsets are then bounds, of which the lean
    itself takes a little. At the wall the middle is anywhere round the vessel, and the puck turned anyhow.
    """
    if refusal(puck, vessel):
        return InVessel(vessel)
    first, last = wall_distances(puck, vessel)
    strays = min(puck.wander, first)
    held = _ring(_offsets(puck, 0.0, strays), _lying(puck, vessel, (0.0, strays)))
    if brought_back(puck, vessel):
        furthest = max(max(place.offset for place in held), _inside_at(vessel, held[0].height) - puck.thickness)
        return InVessel(vessel, held, (), _outward(held[0], furthest), None)
    wall = _ring(_offsets(puck, first, last), _lying(puck, vessel, (first,)))
    return InVessel(vessel, held, wall, _outward(held[0], max(place.offset for place in wall)), first)


def vessel_heights(candidate: Candidate) -> tuple[float, ...]:
    """Heights of the tag in all vessels [m]."""
    return tuple(place.height for one in in_vessels(candidate) for place in one.held)


def refusal(puck: Puck, vessel: Vessel) -> str:
    """Why the puck is not in the vessel, in words; empty where it is."""
    if not passes_neck(puck, vessel):
        way = "end first" if puck.shape == "bar" else "flat"
        return (
            f"the puck does not pass the neck: {way} it is {_mm(needed_bore(puck))} across, the bore {_mm(vessel.bore)}"
        )
    if not fits(puck, vessel):
        return f"the puck, {_mm(puck.width)} long, is too large for the inside, {_mm(2.0 * vessel.inner_radius)} wide"
    top, deep = lift(puck, vessel) + puck.thickness, vessel.height - vessel.floor_thickness
    if top > deep:
        return f"the puck stands out of the vessel: its top is {_mm(top)} above the floor, the inside {_mm(deep)} deep"
    return ""


def held_closer(puck: Puck, vessel: Vessel) -> str:
    """That the vessel which the puck is in leaves it less room than it is said to stray, in words; else empty."""
    room = wall_distances(puck, vessel)[0]
    if puck.wander <= room + 1e-9:
        return ""
    return f"the puck strays {_mm(room)} at most, not the {_mm(puck.wander)} of puck.wander: there the wall is"


def beyond_the_map(candidate: Candidate, vessel: Vessel) -> str:
    """That a vessel is wider than the candidate's map, and by how much; empty where it is not."""
    mapped, widest = max(candidate.grid.offsets), vessel.inner_radius
    if widest <= mapped + 1e-9:
        return ""
    return (
        f"wider than the map, which ends {_mm(mapped)} off the axis, its inside at {_mm(widest)}; computed all the same"
    )


def _offsets(puck: Puck, least: float, most: float) -> tuple[float, ...]:
    """Distances of the tag from the coil's axis while the puck's middle is ``least`` to ``most`` from the drive's."""
    e, r = puck.spindle_offset, abs(puck.tag_offset)
    near, far = _apart(e, least, most)
    near, far = _apart(r, near, far)
    if far - near < 1e-12:
        return (near,)
    return tuple(near + (far - near) * step / (TURN_POINTS - 1) for step in range(TURN_POINTS))


def _apart(radius: float, least: float, most: float) -> tuple[float, float]:
    """Least and greatest distance of a point on a circle from one that is ``least`` to ``most`` off its centre."""
    near = 0.0 if least <= radius <= most else min(abs(radius - least), abs(radius - most))
    return near, radius + most


def _lying(puck: Puck, vessel: Vessel, strays: Iterable[float]) -> tuple[tuple[float, float], ...]:
    """Heights and tilts of the tag as the puck lies; on a slope its lean adds to the tag's own or takes from it."""
    own = abs(puck.tag_tilt)
    found = []
    for stray in strays:
        lean = slope(puck, vessel, stray)
        found += [
            (height, tilt) for height in tag_heights(puck, vessel, stray) for tilt in (own + lean, abs(own - lean))
        ]
    return tuple(dict.fromkeys(found))


def _ring(offsets: tuple[float, ...], lying: tuple[tuple[float, float], ...]) -> tuple[Place, ...]:
    return tuple(Place(height, offset, tilt) for height, tilt in lying for offset in offsets)


def _outward(held: Place, furthest: float) -> tuple[Place, ...]:
    steps = range(OUTWARD_POINTS)
    return tuple(replace(held, offset=furthest * step / (OUTWARD_POINTS - 1)) for step in steps)


def _inside_at(vessel: Vessel, height: float) -> float:
    """Radius of the inside of a round vessel or a flask at a height above the plate [m]."""
    ball, centre = vessel.inner_radius, vessel.ball_height
    up = min(max(height - vessel.floor, 0.0), centre + ball)
    return sqrt(max(ball * ball - (centre - up) ** 2, 0.0))


def _mm(length: float) -> str:
    return f"{length * 1e3:.3g} mm"
