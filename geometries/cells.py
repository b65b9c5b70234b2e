"""Cells: room under a stack that many windings share, the same whoever asks (a winding's cell hangs on it alone)."""

from dataclasses import dataclass
from math import ceil, floor, hypot, inf, log2

from geometries.overlap import edge_distance
from geometries.plan import stack_regions, stack_sheets
from geometries.section import WindingSection
from geometries.stack import Stack

SMALLEST = 1e-3
"""A cell's outer radius and its height are this length times a power of 2 [m]."""

INNER_SHARE = 0.25
"""Inner over outer radius of a cell; windings that reach further in take a cell down to ``AXIS_SHARE`` of it."""

AXIS_SHARE = 1.0 / 64.0

CLOSEST = 0.45
"""A cell keeps at least this share of its winding's own distance from what acts on the field."""

TOUCHING_SHARE = 1e-3
"""A winding nearer than this share of ``SMALLEST`` to what acts has no cell."""

LAST_DIGITS, ROUNDING = 1e-11, 1e-12
"""Rounding that does not push a size to the next power of 2 [1]; a winding sticks out of its cell by no more [m]."""

Segment = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Cell:
    """Room for windings: any within ``section`` is served by it."""

    section: WindingSection

    def holds(self, winding: WindingSection) -> bool:
        """Whether a winding lies within."""
        own = self.section
        return (
            max(
                own.inner_radius - winding.inner_radius,
                winding.outer_radius - own.outer_radius,
                own.bottom - winding.bottom,
                winding.top - own.top,
            )
            <= ROUNDING
        )


def cell_of(stack: Stack, winding: WindingSection, frequency: float) -> Cell | None:
    """The cell of a winding; None where none keeps clear of what acts on the field, or nothing does.

    Notes
    -----
    Outer radius and height are powers of 2, and so is its share of the room to what lies above and below: windings of
    a sweep fall into few cells, and the same ones whatever else is swept.
    """
    segments = acting_segments(stack, frequency)
    own = min((segment_distance(winding, one) for one in segments), default=0.0)
    if own < SMALLEST * TOUCHING_SHARE:  # nothing acts, or it touches the winding
        return None
    outer = _power_above(winding.outer_radius)
    inner = INNER_SHARE * outer if winding.inner_radius >= INNER_SHARE * outer else AXIS_SHARE * outer
    if winding.inner_radius < inner:
        return None
    above, below = _room(segments, winding, inner, outer)
    top = above - _power_below(above - winding.top) if above < inf else _level_above(winding.top)
    bottom = top - _power_above(top - winding.bottom)
    if below > -inf:
        bottom = max(bottom, below + _power_below(winding.bottom - below))
    cell = Cell(WindingSection(inner, outer, bottom, top))
    clear = min(segment_distance(cell.section, one) for one in segments)
    return cell if cell.holds(winding) and clear >= CLOSEST * own else None


def acting_segments(stack: Stack, frequency: float) -> tuple[Segment, ...]:
    """Edges, off the axis, of all that acts on the field: outlines of bodies, and thin layers as lines."""
    found: list[Segment] = []
    for region in stack_regions(stack, frequency):
        corners = region.outline
        edges = zip(corners, (*corners[1:], corners[0]), strict=True)
        found += [(a, b) for a, b in edges if not (a[0] == 0.0 and b[0] == 0.0)]
    found += [((s.inner_radius, s.height), (s.outer_radius, s.height)) for s in stack_sheets(stack, frequency)]
    return tuple(found)


def point_distance(section: WindingSection, point: tuple[float, float]) -> float:
    """Distance of a place in the half plane from a section [m]."""
    r, z = point
    beside = max(section.inner_radius - r, r - section.outer_radius, 0.0)
    return hypot(beside, max(section.bottom - z, z - section.top, 0.0))


def segment_distance(section: WindingSection, segment: Segment) -> float:
    """Distance of a straight line from a section [m]; 0 where it reaches in, or lies within."""
    if point_distance(section, segment[0]) == 0.0:
        return 0.0
    corners = section.corners
    edges = zip(corners, (*corners[1:], corners[0]), strict=True)
    return min(edge_distance(edge, segment) for edge in edges)


def _room(segments: tuple[Segment, ...], winding: WindingSection, inner: float, outer: float) -> tuple[float, float]:
    """Heights of the nearest things above and below the winding within the cell's radii [m]; ±inf where none is."""
    above, below = inf, -inf
    for (r1, z1), (r2, z2) in segments:
        if max(r1, r2) < inner or min(r1, r2) > outer:
            continue
        if min(z1, z2) >= winding.top:
            above = min(above, z1, z2)
        if max(z1, z2) <= winding.bottom:
            below = max(below, z1, z2)
    return above, below


def _power_below(length: float) -> float:
    """The power of 2 times ``SMALLEST`` at or below ``length`` [m]; rounding does not take a power for less."""
    return SMALLEST * 2.0 ** floor(log2(length / SMALLEST) + LAST_DIGITS)


def _power_above(length: float) -> float:
    """That at or above ``length`` [m]; rounding does not take a power for more."""
    return SMALLEST * 2.0 ** ceil(log2(length / SMALLEST) - LAST_DIGITS)


def _level_above(height: float) -> float:
    """Next of the levels 0, ±``SMALLEST`` … at or above ``height`` [m]."""
    return SMALLEST * ceil(height / SMALLEST - LAST_DIGITS)
