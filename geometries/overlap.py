"""Closed outlines in the half plane (r, z): whether one is proper, and how much of two lies in both.

Everything is plain arithmetic on corners. Bodies may touch: what is thinner than `TOUCHING` counts as touching.
"""

from functools import lru_cache
from itertools import pairwise
from math import hypot

from geometries.tag import Outline

TOUCHING = 1e-12
"""Depth below which two bodies touch and do not overlap [m]; far above rounding, far below any part."""

Point = tuple[float, float]
Edge = tuple[Point, Point]
Interval = tuple[float, float, float]


@lru_cache(maxsize=256)  # a sweep asks for the same outlines with every candidate, several times
def outline_fault(outline: Outline) -> str | None:
    """What is wrong with an outline by itself.

    Parameters
    ----------
    outline : tuple of (r, z)
        Corners [m], in either sense of rotation, the last joined to the first.

    Returns
    -------
    str or None
        A phrase for the designer; None where the outline is that of a body round about the axis.
    """
    if len(outline) < 3:
        return f"{len(outline)} corners do not bound a body; at least 3 are needed"
    for r, z in outline:
        if not (abs(r) < float("inf") and abs(z) < float("inf")):
            return f"the corner {_text((r, z))} is not a place"
    crossing = next((corner for corner in outline if corner[0] < -TOUCHING), None)
    if crossing is not None:
        return f"the corner {_text(crossing)} lies across the axis; radii must not be negative"
    repeated = _repeated_corner(outline)
    if repeated is not None:
        return f"the corner {_text(repeated)} is given twice; the outline closes by itself"
    crossed = _crossed_edges(outline)
    if crossed is not None:
        first, second = crossed
        return f"the edge {_edge_text(first)} meets the edge {_edge_text(second)}; it must not cross or touch itself"
    if abs(signed_area(outline)) <= TOUCHING * _extent(outline):
        return "the outline has no area"
    return None


def signed_area(outline: Outline) -> float:
    """Area inside an outline [m²]; positive where its corners run counter-clockwise."""
    return 0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in _edges(outline))


@lru_cache(maxsize=256)
def outlines_overlap(first: Outline, second: Outline) -> bool:
    """Whether two proper outlines have some inside in common, more than a touch."""
    return any(_slices(first, second, TOUCHING))


def shared_area(first: Outline, second: Outline) -> float:
    """Area that lies inside both of two proper outlines [m²]."""
    return sum(_slices(first, second, 0.0))


def _slices(first: Outline, second: Outline, thinnest: float) -> list[float]:
    """Shared areas of two outlines, slice by slice in r.

    Between one radius where a corner or a crossing lies and the next, the edges keep their order and the
    shared height is a linear function of r: its value halfway, times the width, is the exact area.
    """
    if _apart(first, second, thinnest):
        return []
    edges = _edges(first), _edges(second)
    radii = sorted({corner[0] for corner in (*first, *second)} | set(_crossing_radii(*edges)))
    found = []
    for left, right in pairwise(radii):
        middle = 0.5 * (left + right)
        if right - left > thinnest and left < middle < right:
            height = _shared_height(_intervals(edges[0], middle), _intervals(edges[1], middle), thinnest)
            if height > 0.0:
                found.append(height * (right - left))
    return found


def _apart(first: Outline, second: Outline, thinnest: float) -> bool:
    return any(
        max(p[axis] for p in one) <= min(p[axis] for p in other) + thinnest
        for axis in (0, 1)
        for one, other in ((first, second), (second, first))
    )


def _crossing_radii(first: list[Edge], second: list[Edge]) -> list[float]:
    radii = []
    for a, b in first:
        for c, d in second:
            low = max(min(a[0], b[0]), min(c[0], d[0]))
            high = min(max(a[0], b[0]), max(c[0], d[0]))
            if low < high:  # both edges lean, so both heights are functions of r
                left, right = _height(a, b, low) - _height(c, d, low), _height(a, b, high) - _height(c, d, high)
                if left * right < 0.0:
                    radii.append(low + (high - low) * left / (left - right))
    return radii


def _intervals(edges: list[Edge], radius: float) -> list[Interval]:
    """Where the vertical line at ``radius`` runs inside: from, to, and the steepest slope of the two edges there."""
    cuts = sorted(
        (_height(a, b, radius), abs((b[1] - a[1]) / (b[0] - a[0])))
        for a, b in edges
        if min(a[0], b[0]) < radius < max(a[0], b[0])
    )
    return [(low[0], high[0], max(low[1], high[1])) for low, high in zip(cuts[::2], cuts[1::2], strict=True)]


def _shared_height(first: list[Interval], second: list[Interval], thinnest: float) -> float:
    """Height in both, leaving out what is thinner than ``thinnest`` measured across its (maybe steep) edges."""
    total = 0.0
    for low, high, slope in first:
        for other_low, other_high, other_slope in second:
            height = min(high, other_high) - max(low, other_low)
            if height > thinnest * hypot(1.0, max(slope, other_slope)):
                total += height
    return total


def _height(a: Point, b: Point, radius: float) -> float:
    share = (radius - a[0]) / (b[0] - a[0])
    return a[1] * (1.0 - share) + b[1] * share


def _edges(outline: Outline) -> list[Edge]:
    return list(zip(outline, (*outline[1:], outline[0]), strict=True))


def _repeated_corner(outline: Outline) -> Point | None:
    for i, corner in enumerate(outline):
        if any(hypot(corner[0] - other[0], corner[1] - other[1]) <= TOUCHING for other in outline[i + 1 :]):
            return corner
    return None


def _crossed_edges(outline: Outline) -> tuple[Edge, Edge] | None:
    edges = _edges(outline)
    for i, first in enumerate(edges):
        for j in range(i + 1, len(edges)):
            second = edges[j]
            neighbours = j == i + 1 or (i == 0 and j == len(edges) - 1)
            if _folded_back(first, second) if neighbours else edge_distance(first, second) <= TOUCHING:
                return first, second
    return None


def _folded_back(first: Edge, second: Edge) -> bool:
    """Whether two edges with a common corner run along each other from it."""
    ends = {first[0], first[1]} & {second[0], second[1]}
    corner = next(iter(ends))
    a = first[0] if first[1] == corner else first[1]
    b = second[0] if second[1] == corner else second[1]
    return min(_point_distance(a, (corner, b)), _point_distance(b, (corner, a))) <= TOUCHING


def edge_distance(first: Edge, second: Edge) -> float:
    """Distance of two straight lines [m]; 0 where they cross."""
    (a, b), (c, d) = first, second
    if _turn(a, b, c) * _turn(a, b, d) < 0.0 and _turn(c, d, a) * _turn(c, d, b) < 0.0:
        return 0.0
    return min(
        _point_distance(a, second), _point_distance(b, second), _point_distance(c, first), _point_distance(d, first)
    )


def _point_distance(point: Point, edge: Edge) -> float:
    (r0, z0), (r1, z1) = edge
    dr, dz = r1 - r0, z1 - z0
    along = ((point[0] - r0) * dr + (point[1] - z0) * dz) / (dr * dr + dz * dz)
    along = min(1.0, max(0.0, along))
    return hypot(point[0] - r0 - along * dr, point[1] - z0 - along * dz)


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _extent(outline: Outline) -> float:
    radii, heights = [r for r, _ in outline], [z for _, z in outline]
    return max(max(radii) - min(radii), max(heights) - min(heights))


def _text(corner: Point) -> str:
    return f"({corner[0] * 1e3:.6g} mm, {corner[1] * 1e3:.6g} mm)"


def _edge_text(edge: Edge) -> str:
    return f"{_text(edge[0])} to {_text(edge[1])}"
