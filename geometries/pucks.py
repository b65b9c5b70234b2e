"""The moving part that carries the tag: how it lies in a vessel, how far it gets, and whether it comes in at all."""

from dataclasses import dataclass
from math import asin, cos, hypot, pi, sin, sqrt
from typing import Literal

from geometries.vessels import Vessel

PuckShape = Literal["bar", "disc"]
RIM_POINTS = 72
_TOUCHING = 1e-9


@dataclass(frozen=True, slots=True)
class Puck:
    """A straight bar or a flat disc with its cover, and the tag in it; lengths in [m], angles in [rad].

    Parameters
    ----------
    shape : PuckShape
        A bar is a cylinder that lies, a disc one that stands.
    width : float
        The bar's length, or the disc's diameter.
    thickness : float
        The bar's diameter, or the disc's height.
    tag_height : float
        Of the tag's centre above the puck's underside.
    tag_offset : float
        Of the tag's centre from the puck's middle, along the bar.
    tag_tilt : float
        Between the tag's axis and the puck's upright, along the bar.
    spindle_offset : float
        From the base coil's axis to that of the drive, about which the puck turns.
    wander : float
        How far from the drive's axis its middle strays while it is held.
    """

    shape: PuckShape
    width: float
    thickness: float
    tag_height: float
    tag_offset: float = 0.0
    tag_tilt: float = 0.0
    spindle_offset: float = 0.0
    wander: float = 0.0

    @property
    def reach(self) -> float:
        """Half its width: what it sweeps as it turns [m]."""
        return 0.5 * self.width


def needed_bore(puck: Puck) -> float:
    """Least bore that the puck goes through [m].

    Notes
    -----
    A bar goes end first. Whichever way a disc is held, some diameter of it lies across the bore, so that its diameter
    is the least it needs: flat. On edge it needs √(D² + h²).
    """
    return puck.thickness if puck.shape == "bar" else puck.width


def bore_on_edge(puck: Puck) -> float:
    """Bore that a disc needs on its edge, or a bar sideways [m]."""
    return hypot(puck.width, puck.thickness)


def passes_neck(puck: Puck, vessel: Vessel) -> bool:
    """Whether the puck goes through the vessel's neck with any clearance."""
    return needed_bore(puck) < vessel.bore


def fits(puck: Puck, vessel: Vessel) -> bool:
    """Whether the puck can lie on the vessel's bottom."""
    if vessel.shape == "round":
        half, ball = puck.reach, vessel.inner_radius
        return half < ball and 0.5 * puck.thickness < sqrt(ball * ball - half * half)
    corner = puck.reach if puck.shape == "disc" else hypot(puck.reach, 0.5 * puck.thickness)
    return corner < vessel.inner_radius - vessel.wall_lean * puck.thickness


def lift(puck: Puck, vessel: Vessel, offset: float = 0.0) -> float:
    """Height of the middle of the puck's underside above the lowest point inside [m].

    Parameters
    ----------
    offset : float
        Of that middle from the vessel's axis [m].

    Notes
    -----
    On a ball of radius R a bar of length l stands on its two ends and a disc of that diameter on its rim: the middle of
    the underside then is √(R² − (l/2)²) from the ball's centre, R − √(R² − (l/2)²) above the bottom on the axis. Off it
    the middle keeps that distance from the centre. It holds while the puck's own axis lies below the ball's centre,
    as `fits` sees to.
    """
    if vessel.shape != "round":
        return 0.0
    arm = _arm(puck, vessel)
    return vessel.inner_radius - sqrt(max(arm * arm - offset * offset, 0.0))


def slope(puck: Puck, vessel: Vessel, offset: float) -> float:
    """How far the puck leans where the middle of its underside is ``offset`` off the axis [rad]; outward at its top."""
    if vessel.shape != "round":
        return 0.0
    return asin(min(1.0, offset / _arm(puck, vessel)))


def tag_height(puck: Puck, vessel: Vessel, offset: float = 0.0) -> float:
    """Height of the tag's centre above the plate's top [m]; ``offset`` [m] as in `lift`."""
    return vessel.floor + lift(puck, vessel, offset) + puck.tag_height * cos(slope(puck, vessel, offset))


def wall_distances(puck: Puck, vessel: Vessel) -> tuple[float, float]:
    """Distances of the puck's middle from the vessel's axis with the puck at the wall, least and greatest [m].

    A bar's end touches it first, with its corners; along the wall it gets further out. Of a wall that leans inward the
    height of the puck's top counts.
    """
    inside = vessel.inner_radius - vessel.wall_lean * puck.thickness
    if puck.shape == "disc":
        return inside - puck.reach, inside - puck.reach
    half = 0.5 * puck.thickness
    first = sqrt(max(inside * inside - half * half, 0.0)) - puck.reach
    along = sqrt(max(inside * inside - puck.reach * puck.reach, 0.0)) - half
    return min(first, along), max(first, along)


def tag_sticks_out(puck: Puck, radius: float, half_height: float) -> float:
    """How far a tag of this extent reaches out of the puck [m]; 0 or less where it is all inside.

    Parameters
    ----------
    radius, half_height : float
        Of the tag, a cylinder about its own axis [m].
    """
    c, s = cos(puck.tag_tilt), sin(puck.tag_tilt)
    out = -float("inf")
    for end in (-half_height, half_height):
        for step in range(RIM_POINTS):
            angle = 2.0 * pi * step / RIM_POINTS
            across, aside = radius * cos(angle), radius * sin(angle)
            x = puck.tag_offset + across * c + end * s
            z = puck.tag_height - across * s + end * c
            out = max(out, _outside(puck, x, aside, z))
    return out


def _outside(puck: Puck, x: float, y: float, z: float) -> float:
    """How far a point is outside the puck, x along the bar and z up from its underside [m]."""
    half = 0.5 * puck.thickness
    if puck.shape == "disc":
        return max(hypot(x, y) - puck.reach, abs(z - half) - half)
    return max(abs(x) - puck.reach, hypot(y, z - half) - half)


def _arm(puck: Puck, vessel: Vessel) -> float:
    """Distance of the middle of the puck's underside from the centre of a round bottom's ball [m]."""
    ball = vessel.inner_radius
    return sqrt(max(ball * ball - puck.reach * puck.reach, _TOUCHING**2))
