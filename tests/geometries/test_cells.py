"""Cells: whose winding it is plays no part, nothing that acts comes too near, and few serve a sweep."""

from dataclasses import replace
from math import hypot, log2

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from geometries.cells import (
    AXIS_SHARE,
    CLOSEST,
    INNER_SHARE,
    SMALLEST,
    acting_segments,
    cell_of,
    point_distance,
    segment_distance,
)
from geometries.materials import Material
from geometries.section import WindingSection
from geometries.stack import Layer, Solid, Stack

FREQUENCY = 134.2e3
FERRITE = Material("ferrite", relative_permeability=900.0)
ALUMINIUM = Material("aluminium", resistivity_20=2.8e-8)
NICKEL_CHROMIUM = Material("nickel-chromium", resistivity_20=1.09e-6)
GLASS = Layer("plate", "solid", Material("glass"), 0.0, 4e-3, 0.09)
HEATER = Layer("heater", "meander", NICKEL_CHROMIUM, -0.004, 2e-5, 0.075, ribbon_width=2.5e-3, pitch=4e-3)
PAN = Solid("pan", ALUMINIUM, ((0.0, -0.040), (0.08, -0.040), (0.08, -0.038), (0.0, -0.038)))
WALL = Solid("wall", ALUMINIUM, ((0.03, -0.030), (0.035, -0.030), (0.035, -0.0041), (0.03, -0.0041)))
BENCH = Stack((GLASS, HEATER), (PAN,))
FERRITE_ABOVE = Stack((Layer("disc", "solid", FERRITE, -0.004, 2e-3, 0.04),))
SHELF = Solid("shelf", ALUMINIUM, ((0.0, -0.014), (0.04, -0.014), (0.04, -0.013), (0.0, -0.013)))

MM = 1e-3
SECTION = WindingSection(20 * MM, 24 * MM, -9 * MM, -5 * MM)


def winding(mean: float, build: float, length: float, gap: float, under: float = -0.00401) -> WindingSection:
    """Sizes in mm."""
    top = under - gap * MM
    return WindingSection((mean - 0.5 * build) * MM, (mean + 0.5 * build) * MM, top - length * MM, top)


windings = st.builds(
    winding, st.floats(4.0, 60.0), st.floats(0.3, 4.0), st.floats(0.3, 20.0), st.floats(0.05, 10.0)
)  # fmt: skip


@given(windings)
def test_a_cell_holds_its_winding_and_keeps_clear_of_what_acts(one):
    cell = cell_of(BENCH, one, FREQUENCY)
    if cell is None:
        return
    assert cell.holds(one)
    segments = acting_segments(BENCH, FREQUENCY)
    own = min(segment_distance(one, segment) for segment in segments)
    assert min(segment_distance(cell.section, segment) for segment in segments) >= CLOSEST * own > 0.0


@given(windings)
def test_sizes_are_powers_of_two(one):
    cell = cell_of(BENCH, one, FREQUENCY)
    assert cell is not None
    outer, inner = cell.section.outer_radius, cell.section.inner_radius
    assert log2(outer / SMALLEST) == pytest.approx(round(log2(outer / SMALLEST)), rel=0.0, abs=1e-9)
    assert inner in (INNER_SHARE * outer, AXIS_SHARE * outer)
    above = log2((HEATER.mid_height - cell.section.top) / SMALLEST)
    assert above == pytest.approx(round(above), rel=0.0, abs=1e-6)


def test_windings_of_a_sweep_fall_into_few_cells_whatever_their_order():
    rng = np.random.default_rng(3)
    sizes = zip(rng.uniform(14, 37, 300), rng.uniform(2.6, 5, 300), rng.uniform(0.5, 1.5, 300), strict=True)
    swept = [winding(mean, build, 3.0, gap) for mean, build, gap in sizes]
    cells = [cell_of(BENCH, one, FREQUENCY) for one in swept]
    assert None not in cells
    assert len(set(cells)) <= 6
    assert [cell_of(BENCH, one, FREQUENCY) for one in reversed(swept)] == cells[::-1]


@pytest.mark.parametrize("gap", [0.25, 0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("mean", [14.0, 22.0, 30.0])
def test_round_dimensions_do_not_miss_their_cell_by_rounding(mean, gap):
    # The gap below the ferrite is a power of two itself, and sides may lie on the cell's.
    for build, length in ((4.0, 4.0), (3.0, 8.0), (2.0, 3.0), (1.0, 1.0)):
        one = winding(mean, build, length, gap, under=-0.006)
        cell = cell_of(FERRITE_ABOVE, one, FREQUENCY)
        assert cell is not None
        assert cell.section.top == pytest.approx(-0.006 - gap * MM, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_last_digits_of_a_height_do_not_decide(way):
    one = winding(22.0, 3.0, 4.0, 0.5, under=-0.006)
    for top, bottom in ((np.nextafter(one.top, way), one.bottom), (one.top, np.nextafter(one.bottom, way))):
        nudged = cell_of(FERRITE_ABOVE, replace(one, top=float(top), bottom=float(bottom)), FREQUENCY)
        assert nudged is not None
        assert nudged == cell_of(FERRITE_ABOVE, one, FREQUENCY)


def test_a_cell_does_not_hold_what_sticks_out():
    cell = cell_of(BENCH, SECTION, FREQUENCY)
    assert cell is not None
    own = cell.section
    assert cell.holds(own)
    assert not cell.holds(replace(own, inner_radius=own.inner_radius - 1e-9))
    assert not cell.holds(replace(own, outer_radius=own.outer_radius + 1e-9))
    assert not cell.holds(replace(own, bottom=own.bottom - 1e-9))
    assert not cell.holds(replace(own, top=own.top + 1e-9))


def test_a_winding_that_touches_what_acts_has_no_cell():
    assert cell_of(FERRITE_ABOVE, winding(20.0, 3.0, 3.0, 0.0, under=-0.006), FREQUENCY) is None
    assert cell_of(FERRITE_ABOVE, winding(20.0, 3.0, 3.0, 0.01, under=-0.006), FREQUENCY) is not None
    beside = WindingSection(0.027, 0.03, -0.012, -0.009)
    assert cell_of(Stack((HEATER,), (WALL,)), beside, FREQUENCY) is None


def test_a_winding_with_something_beside_it_that_would_come_into_its_cell_has_none():
    stack = Stack((HEATER,), (WALL,))
    assert cell_of(stack, WindingSection(0.024, 0.027, -0.012, -0.009), FREQUENCY) is None
    # Well inside the wall the cell ends before it.
    cell = cell_of(stack, WindingSection(0.010, 0.012, -0.012, -0.009), FREQUENCY)
    assert cell is not None
    assert cell.section.outer_radius < 0.03


def test_a_winding_whose_cell_would_have_a_body_wholly_inside_has_none():
    post = Solid("post", FERRITE, ((0.010, -0.010), (0.011, -0.010), (0.011, -0.0085), (0.010, -0.0085)))
    one = WindingSection(0.020, 0.023, -0.0115, -0.0055)
    assert cell_of(Stack((HEATER,)), one, FREQUENCY) is not None
    assert cell_of(Stack((HEATER,), (post,)), one, FREQUENCY) is None


def test_a_cell_ends_above_what_lies_below():
    deep = winding(20.0, 3.0, 5.0, 0.7)  # 3.29 mm above the shelf, of which the cell leaves 2 mm
    free, held = cell_of(BENCH, deep, FREQUENCY), cell_of(Stack((HEATER,), (SHELF,)), deep, FREQUENCY)
    assert free is not None
    assert held is not None
    assert free.section.bottom < -0.0120
    assert held.section.bottom == pytest.approx(-0.013 + 2e-3, rel=1e-12, abs=0.0)
    assert replace(held.section, bottom=0.0) == replace(free.section, bottom=0.0)


def test_coils_that_reach_the_axis_have_a_cell_of_their_own_and_those_beyond_none():
    outer = cell_of(BENCH, WindingSection(4.1 * MM, 15 * MM, -8 * MM, -5 * MM), FREQUENCY)
    inner = cell_of(BENCH, WindingSection(3.9 * MM, 15 * MM, -8 * MM, -5 * MM), FREQUENCY)
    assert outer is not None
    assert inner is not None
    assert outer.section.inner_radius == INNER_SHARE * outer.section.outer_radius
    assert inner.section.inner_radius == AXIS_SHARE * inner.section.outer_radius
    assert cell_of(BENCH, WindingSection(0.2 * MM, 15 * MM, -8 * MM, -5 * MM), FREQUENCY) is None


def test_nothing_acts_no_cell():
    assert cell_of(Stack((GLASS,)), SECTION, FREQUENCY) is None


def test_above_all_that_acts_a_cell_reaches_to_the_next_millimetre():
    one = WindingSection(0.020, 0.023, -0.0085, -0.0056)
    cell = cell_of(Stack((), (PAN,)), one, FREQUENCY)
    assert cell is not None
    assert cell.section.top == pytest.approx(-5e-3, rel=1e-12, abs=0.0)
    assert cell_of(Stack((), (PAN,)), replace(one, top=-0.0051), FREQUENCY) == cell


def test_what_acts_is_known_by_its_edges_but_for_those_on_the_axis():
    found = acting_segments(BENCH, FREQUENCY)
    assert ((0.0, HEATER.mid_height), (0.075, HEATER.mid_height)) in found
    assert len(found) == 4  # pan: bottom, rim, top
    assert all(a[0] > 0.0 or b[0] > 0.0 for a, b in found)
    assert len(acting_segments(Stack((), (WALL,)), FREQUENCY)) == 4


coordinates = st.floats(0.0, 40.0)


@given(coordinates, coordinates, coordinates, coordinates)
@example(21.0, 22.0, 23.0, 24.0)  # within
@example(10.0, 23.0, 40.0, 24.0)  # right through
@example(10.0, 23.0, 22.0, 24.0)
def test_distance_of_a_line_is_that_of_its_nearest_point(r1, z1, r2, z2):
    assume(hypot(r2 - r1, z2 - z1) > 0.1)
    line = ((r1 * MM, z1 * MM - 0.03), (r2 * MM, z2 * MM - 0.03))
    shares = np.linspace(0.0, 1.0, 401)
    (a, b), (c, d) = line
    sampled = min(point_distance(SECTION, (a + s * (c - a), b + s * (d - b))) for s in shares)
    step = hypot(c - a, d - b) / 400
    found = segment_distance(SECTION, line)
    assert sampled - 0.5 * step - 1e-12 <= found <= sampled + 1e-12


def test_distance_of_a_place():
    assert point_distance(SECTION, (0.022, -0.006)) == 0.0
    assert point_distance(SECTION, (0.027, -0.001)) == pytest.approx(5e-3, rel=1e-12, abs=0.0)  # 3, 4, 5
