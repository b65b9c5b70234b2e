"""Half sections of bodies that designers name by their shape: discs, pans, heat blocks with a well, baths.

Each function gives corners (r, z) [m], counter-clockwise, as `geometries.stack.Solid` takes them. Round walls become
chords whose inner corners lie a little outside the true arc, so that the body's volume is kept exactly.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import acos, cos, pi, sin, sqrt

from geometries.errors import GeometryError
from geometries.tag import Outline

CHORDS = 24
"""Chords of a quarter circle: they leave the true arc by 2.7e-4 of its radius at most, inward and outward alike."""


@dataclass(frozen=True, slots=True)
class Well:
    """A round-bottomed hole from the top of a body, on its axis.

    Parameters
    ----------
    diameter : float
        [m].
    depth : float
        From the body's top to the lowest point, half the diameter or more: the bottom is a hemisphere [m].
    """

    diameter: float
    depth: float

    @property
    def radius(self) -> float:
        """[m]."""
        return 0.5 * self.diameter


def disc_outline(diameter: float, thickness: float, top: float, inner_diameter: float = 0.0) -> Outline:
    """A flat disc or ring with its upper face at the height ``top``; lengths in [m].

    Raises
    ------
    GeometryError
        Where a size is not above 0 or the hole is not smaller than the disc; the key is the size's own name.
    """
    _above_zero(("diameter", diameter), ("thickness", thickness))
    _smaller("inner_diameter", inner_diameter, "diameter", diameter)
    a, b, low = 0.5 * inner_diameter, 0.5 * diameter, top - thickness
    return ((a, low), (b, low), (b, top), (a, top))


def pan_outline(outer_diameter: float, height: float, wall_thickness: float, bottom: float) -> Outline:
    """An open pan, floor and wall of one thickness, whose floor's under side lies at ``bottom``; lengths in [m].

    Raises
    ------
    GeometryError
        Where a size is not above 0, or the walls leave no inside.
    """
    _above_zero(("outer_diameter", outer_diameter), ("height", height), ("wall_thickness", wall_thickness))
    _smaller("wall_thickness", wall_thickness, "height", height)
    _smaller("wall_thickness", 2.0 * wall_thickness, "outer_diameter", outer_diameter, "twice the wall")
    outer, inner = 0.5 * outer_diameter, 0.5 * outer_diameter - wall_thickness
    floor, rim = bottom + wall_thickness, bottom + height
    return ((0.0, bottom), (outer, bottom), (outer, rim), (inner, rim), (inner, floor), (0.0, floor))


def block_outline(
    outer_diameter: float, height: float, bottom: float, well: Well | None = None, hole_diameter: float = 0.0
) -> Outline:
    """A cylinder that stands at ``bottom``, with a well from its top and a hole right through; lengths in [m].

    Raises
    ------
    GeometryError
        Where a size is not above 0, the well is deeper or wider than the block, or the hole is wider than the well.
    """
    _check_block(outer_diameter, height, well, hole_diameter)
    outer, hole, top = 0.5 * outer_diameter, 0.5 * hole_diameter, bottom + height
    return ((hole, bottom), (outer, bottom), (outer, top), *_inside(top, well, hole))


def bath_outline(
    diameter: float, height: float, bottom: float, round_bottom: bool = False, well: Well | None = None
) -> Outline:
    """A body of liquid or molten metal, flat or round below; a ``well`` is a tube that dips into it; lengths in [m].

    Raises
    ------
    GeometryError
        As for `block_outline`; besides, where a round bottom is higher than the bath.
    """
    _check_block(diameter, height, well, 0.0, "diameter")
    radius, top = 0.5 * diameter, bottom + height
    if not round_bottom:
        return ((0.0, bottom), (radius, bottom), (radius, top), *_inside(top, well, 0.0))
    if height < radius:
        raise GeometryError(
            "height", f"{_mm(height)} was given; a round bottom alone is half the diameter high, {_mm(radius)}"
        )
    arc = _arc(radius, bottom + radius, 0.0)
    wall = ((radius, top),) if top > arc[-1][1] else ()
    return (*arc, *wall, *_inside(top, well, 0.0))


def revolved_volume(outline: Outline) -> float:
    """Volume of the body that an outline makes when it turns round the axis [m³]; counter-clockwise is positive."""
    total = 0.0
    for (r0, z0), (r1, z1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        total += (z1 - z0) * (r0 * r0 + r0 * r1 + r1 * r1)
    return total * pi / 3.0


def _check_block(
    outer: float, height: float, well: Well | None, hole: float, outer_name: str = "outer_diameter"
) -> None:
    _above_zero((outer_name, outer), ("height", height))
    if hole:
        _smaller("hole_diameter", hole, outer_name, outer)
    if well is None:
        return
    _above_zero(("well_diameter", well.diameter), ("well_depth", well.depth))
    _smaller("well_diameter", well.diameter, outer_name, outer)
    if hole:
        _smaller("hole_diameter", hole, "well_diameter", well.diameter)
    if not well.depth < height:
        raise GeometryError("well_depth", f"{_mm(well.depth)} was given; it must be below the height of {_mm(height)}")
    if well.depth < well.radius * (1.0 - 1e-12):
        raise GeometryError(
            "well_depth",
            f"{_mm(well.depth)} was given; a hemispherical bottom alone is half the well's diameter deep, "
            f"{_mm(well.radius)}",
        )


def _inside(top: float, well: Well | None, hole: float) -> Outline:
    """From the rim back to the axis or the hole, well and all."""
    if well is None:
        return ((hole, top),)
    arc = _arc(well.radius, top - well.depth + well.radius, hole)
    wall = ((well.radius, top),) if well.depth > well.radius * (1.0 + 1e-12) else ()
    return (*wall, *reversed(arc))


@lru_cache(maxsize=64)
def _arc(radius: float, centre: float, inner: float) -> Outline:
    """A lower quarter circle about (0, ``centre``), from the radius ``inner`` outward, its volume kept."""
    first = -acos(inner / radius)
    angles = [first * (1.0 - k / CHORDS) for k in range(CHORDS + 1)]
    depth = radius * radius - inner * inner
    true = (
        2.0 / 3.0 * pi * depth * sqrt(depth)
    )  # what lies between arc and centre's height, outside the radius ``inner``

    def drawn(stretch: float) -> Outline:
        ends = {0: inner, CHORDS: radius}
        return tuple(
            (ends.get(k, radius * stretch * cos(a)), centre + radius * (1.0 if k in ends else stretch) * sin(a))
            for k, a in enumerate(angles)
        )

    def excess(stretch: float) -> float:
        return revolved_volume((*drawn(stretch), (inner, centre))) - true

    return drawn(_root(excess, 1.0, 1.01))


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function is zero, by halving."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if function(middle) < 0.0 else (low, middle)
    return 0.5 * (low + high)


def _above_zero(*sizes: tuple[str, float]) -> None:
    for name, size in sizes:
        if not size > 0.0:
            raise GeometryError(name, f"{_mm(size)} was given; it must be above 0")


def _smaller(name: str, size: float, other: str, bound: float, words: str = "") -> None:
    if not size < bound:
        what = f"{words}, {_mm(size)}," if words else f"{_mm(size)} was given; it"
        raise GeometryError(name, f"{what} must be below the {other.replace('_', ' ')} of {_mm(bound)}")


def _mm(length: float) -> str:
    return f"{length * 1e3:.6g} mm"
