"""The moving part that carries the tag: how it lies in a vessel, how far it gets, and whether it comes in at all."""

from dataclasses import dataclass
from math import asin, cos, hypot, pi, sin, sqrt
from typing import Literal

from geometries.vessels import Vessel

PuckShape = Literal["bar", "disc"]
RIM_POINTS = 72
SIDE_POINTS, TURNS = 201, 181
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
    if vessel.shape in ("round", "flask"):
        half, ball = puck.reach, vessel.inner_radius
        if half >= vessel.floor_radius:
            return half < ball and 0.5 * puck.thickness < sqrt(ball * ball - half * half)
        return _top_corner(puck, vessel) < ball
    corner = puck.reach if puck.shape == "disc" else hypot(puck.reach, 0.5 * puck.thickness)
    return corner < vessel.inner_radius - vessel.wall_lean * puck.thickness


def brought_back(puck: Puck, vessel: Vessel) -> bool:
    """Whether the bottom brings the puck back to the middle: a round one does, a flask's that is narrower than it."""
    return vessel.shape == "round" or (vessel.shape == "flask" and puck.reach >= vessel.floor_radius)


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
    as `fits` sees to. In a flask either end may be on the floor and either on the ball above it (`_leaning`).
    """
    if vessel.shape == "flask":
        return _leaning(puck, vessel, offset)[0]
    if vessel.shape != "round":
        return 0.0
    arm = _arm(puck, vessel)
    return vessel.inner_radius - sqrt(max(arm * arm - offset * offset, 0.0))


def slope(puck: Puck, vessel: Vessel, offset: float) -> float:
    """How far the puck leans where the middle of its underside is ``offset`` off the axis [rad]; inward at its top."""
    if vessel.shape == "flask":
        return _leaning(puck, vessel, offset)[1]
    if vessel.shape != "round":
        return 0.0
    return asin(min(1.0, offset / _arm(puck, vessel)))


def tag_heights(puck: Puck, vessel: Vessel, offset: float = 0.0) -> tuple[float, float]:
    """Least and greatest height of the tag's centre above the plate's top [m]; ``offset`` [m] as in `lift`.

    Where the puck leans, a tag that is set along it rises and sinks as the puck turns: it is on its higher side, on its
    lower one, and between.
    """
    lean = slope(puck, vessel, offset)
    middle = vessel.floor + lift(puck, vessel, offset) + puck.tag_height * cos(lean)
    along = abs(puck.tag_offset) * sin(lean)
    return middle - along, middle + along


def wall_distances(puck: Puck, vessel: Vessel) -> tuple[float, float]:
    """Distances of the puck's middle from the vessel's axis with the puck at the wall, least and greatest [m].

    A bar touches it first with a corner, turned so that the corner leads; along the wall or end on it gets further out.
    Of a wall that leans inward the height of the puck's top counts. In a flask it is at the wall where it leaves the
    level floor, on which it slides.
    """
    if vessel.shape == "flask" and puck.reach < vessel.floor_radius:
        return _floor_distances(puck, vessel)
    inside = vessel.inner_radius - vessel.wall_lean * puck.thickness
    if puck.shape == "disc":
        return inside - puck.reach, inside - puck.reach
    return _bar_distances(puck, [0.5 * puck.thickness], [inside])


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


def _top_corner(puck: Puck, vessel: Vessel) -> float:
    """Distance of the puck's furthest points from the ball's centre as it lies in the middle of a level floor [m]."""
    centre, thick = vessel.ball_height, puck.thickness
    if puck.shape == "disc":
        return hypot(puck.reach, max(centre, thick - centre))
    # a bar's ends are rings: z(d − z) + (z − h)² is linear in z
    return sqrt(puck.reach**2 + max(centre**2, (thick - centre) ** 2))


def _floor_distances(puck: Puck, vessel: Vessel) -> tuple[float, float]:
    """`wall_distances` on the level floor of a flask, where a bar meets the floor's end or the ball above it."""
    first = vessel.floor_radius - puck.reach
    if puck.shape == "disc":
        return first, first
    heights = [puck.thickness * step / (SIDE_POINTS - 1) for step in range(SIDE_POINTS)]
    aside = [sqrt(max(height * (puck.thickness - height), 0.0)) for height in heights]
    ball = [vessel.inner_radius**2 - (vessel.ball_height - height) ** 2 for height in heights]
    return _bar_distances(puck, aside, [sqrt(max(square, 0.0)) for square in ball])


def _bar_distances(puck: Puck, aside: list[float], inside: list[float]) -> tuple[float, float]:
    """How far a bar's middle gets before it touches, least and greatest over all the ways that it may be turned [m].

    Parameters
    ----------
    aside, inside : list of float
        Half the bar's width and the radius of the wall at some heights [m].

    Notes
    -----
    A corner a from the middle and turned by γ from outward touches at √(R² − a² sin² γ) − a cos γ, least at γ = 0.
    """
    import numpy as np  # nothing else here needs it, and a study is read without it

    half, wall = np.array(aside), np.array(inside)
    turned = np.linspace(0.0, 0.5 * pi, TURNS)[:, None]
    c, s = np.cos(turned), np.sin(turned)
    distances = [
        np.sqrt(np.maximum(wall**2 - (puck.reach * s - side * c) ** 2, 0.0)) - (puck.reach * c + side * s)
        for side in (half, -half)
    ]
    first = float((wall - np.hypot(puck.reach, half)).min())
    return first, float(np.min(distances, axis=(0, 2)).max())


def _leaning(puck: Puck, vessel: Vessel, offset: float) -> tuple[float, float]:
    """Height of the middle of the underside above the floor [m] and lean [rad], ``offset`` off the axis in a flask.

    ``offset`` no further than where a level puck's end would touch the ball's equator.

    Both ends touch the line of floor and ball: the lean φ is where z(x + a cos φ) − z(x − a cos φ) = 2 a sin φ. The rim
    of a disc touches where its plane's steepest line does, for its distance from the ball's centre is greatest there.
    """
    a = puck.reach

    def ends(lean: float) -> tuple[float, float]:
        return _line(vessel, offset + a * cos(lean)), _line(vessel, offset - a * cos(lean))

    low, high = 0.0, 0.5 * pi
    for _ in range(60):
        lean = 0.5 * (low + high)
        outer, inner = ends(lean)
        low, high = (lean, high) if outer - inner > 2.0 * a * sin(lean) else (low, lean)
    return 0.5 * sum(ends(low)), low


def _line(vessel: Vessel, x: float) -> float:
    """Height of a flask's inside above its floor, x off the axis [m]; past the ball's equator it is as high as that."""
    if abs(x) <= vessel.floor_radius:
        return 0.0
    return vessel.ball_height - sqrt(max(vessel.inner_radius**2 - x * x, 0.0))


def _arm(puck: Puck, vessel: Vessel) -> float:
    """Distance of the middle of the puck's underside from the centre of a round bottom's ball [m]."""
    ball = vessel.inner_radius
    return sqrt(max(ball * ball - puck.reach * puck.reach, _TOUCHING**2))
