"""Coils of a family against the total field of each by itself, within what both state; and each for itself alone."""

from functools import cache
from math import pi

import numpy as np
import pytest

from fem.air_field import AirSpace
from fem.base_solution import BaseProblem, BaseSolution, base_solution
from fem.coil_family import (
    PLATE_REACH,
    CoilFamily,
    FamilyCoil,
    FamilyProblem,
    coil_family,
    typical_windings,
)
from fem.near_metal import AxisProblem, near_metal, near_metal_of
from fem.skeleton import misfit, skeleton
from geometries.cells import Cell, acting_segments, cell_of
from geometries.section import WindingSection
from geometries.stack import Layer, Solid, Stack
from tests.fem.cases import ALUMINIUM, DRUM_TAG, FERRITE, FREQUENCY, LOSSY_FERRITE, NICKEL_CHROMIUM, ribbon_stack

PAN = Solid("pan", ALUMINIUM, ((0.0, -0.040), (0.08, -0.040), (0.08, -0.038), (0.0, -0.038)))
DISC = Solid("disc", LOSSY_FERRITE, ((0.0, -0.020), (0.04, -0.020), (0.04, -0.017), (0.0, -0.017)))
FOIL = Layer("foil", "foil", ALUMINIUM, -0.004, 2e-5, 0.05, inner_radius=0.01)
BENCH = Stack(ribbon_stack(-0.004, 0.075).layers, (PAN,))
STACKS = {
    "meander over a pan": BENCH,
    "foil above, ferrite below": Stack((FOIL,), (DISC,)),
    "joined spiral": Stack(
        (Layer("heater", "shorted spiral", NICKEL_CHROMIUM, -0.004, 2e-4, 0.06, inner_radius=0.01,
               ribbon_width=2.5e-3, pitch=4e-3),)
    ),
    "ferrite block above, nothing below": Stack((Layer("disc", "solid", FERRITE, -0.004, 1e-3, 0.03),)),
}  # fmt: skip
COILS = {
    "usual": WindingSection(0.0205, 0.0235, -0.0085, -0.0056),
    "slim": WindingSection(0.0175, 0.0178, -0.0100, -0.0056),
    "flat": WindingSection(0.0200, 0.0300, -0.0062, -0.0056),
    "thick": WindingSection(0.0110, 0.0300, -0.0120, -0.0062),
    "near the axis": WindingSection(0.0020, 0.0100, -0.0090, -0.0056),
}
PROBES = (0.006, 0.02, 0.06)
ACCURACY = 5e-4
QUICK = {("meander over a pan", "usual"), ("foil above, ferrite below", "slim"), ("joined spiral", "flat")}
CASES = [
    pytest.param(stack, coil, marks=() if (stack, coil) in QUICK else pytest.mark.slow)
    for stack in STACKS
    for coil in (COILS if stack == "meander over a pan" else ("slim", "flat"))
]


def problem(stack: Stack, coil: WindingSection) -> FamilyProblem:
    cell = cell_of(stack, coil, FREQUENCY)
    assert isinstance(cell, Cell)
    reach = PLATE_REACH * cell.section.outer_radius
    return FamilyProblem(stack, cell.section, FREQUENCY, ACCURACY, PROBES, (max(reach, 0.034), 0.18))


@cache
def both(stack: str, coil: str) -> tuple[FamilyCoil, BaseSolution]:
    section = COILS[coil]
    found = coil_family(problem(STACKS[stack], section)).coil(section)
    return found, base_solution(BaseProblem(STACKS[stack], section, FREQUENCY, 1e-4, PROBES))


@pytest.mark.parametrize(("stack", "coil"), CASES)
def test_inductance_and_resistance_are_those_of_the_total_field(stack, coil):
    found, total = both(stack, coil)
    size = total.flux_linkage.real
    off = abs(found.flux_linkage.real - size)
    assert off <= found.inductance_error * size + total.inductance_error * size
    assert off <= ACCURACY * size
    assert abs(found.flux_linkage.imag - total.flux_linkage.imag) <= found.resistance_error + total.resistance_error
    assert found.flux_linkage.imag < 0.0 or stack == "ferrite block above, nothing below"
    assert found.inductance_error < 0.01


@pytest.mark.parametrize(("stack", "coil"), CASES)
def test_field_on_the_axis_and_in_the_air_is_that_of_the_total_field(stack, coil):
    found, total = both(stack, coil)
    heights = np.array(PROBES)
    fields = sum(rings.axial_flux_density(heights) for rings in total.sources)
    own = found.weights @ found.family.axial_fields
    assert np.all(np.abs(own - fields) <= (np.array(found.field_errors) + total.field_errors) * np.abs(fields))
    space = AirSpace(0.03, 0.003, 0.11)
    one, other = found.air_field(space, 1e-6), total.air_field(space, 1e-6)
    r, z = np.array([0.0, 0.008, 0.029]), np.array([0.004, 0.02, 0.06, 0.1])
    errors = max(found.field_errors) + max(total.field_errors) + 2e-6
    for a, b in zip(one.flux_density(r, z), other.flux_density(r, z), strict=True):
        # Each height by its own largest: the field falls a hundredfold.
        assert np.all(np.abs(a - b).max(axis=0) <= errors * np.abs(b).max(axis=0))
    assert one.flux_density(np.zeros(1), heights)[1][0] == pytest.approx(own, rel=3e-6, abs=0.0)


@pytest.mark.parametrize(("stack", "coil"), CASES)
def test_mean_square_of_the_winding_s_own_field_is_that_of_the_total_field(stack, coil):
    found, total = both(stack, coil)
    off = abs(found.field_square_length / total.field_square_length - 1.0)
    assert off <= found.field_square_error + total.field_square_error
    assert found.field_square_error < 5e-3


@pytest.mark.parametrize(("stack", "coil"), CASES)
def test_moment_and_greatest_field_on_the_plate_are_those_of_the_total_field(stack, coil):
    found, total = both(stack, coil)
    # No error is stated of either: the moment is what the field far off follows, the greatest lies between places.
    assert found.moment == pytest.approx(total.moment, rel=5e-3, abs=0.0)
    outer = found.family.problem.cell.outer_radius  # both look as far out
    assert found.greatest_on_plate(outer) == pytest.approx(total.greatest_on_plate(outer), rel=3e-3, abs=0.0)


@pytest.mark.parametrize(
    ("stack", "coil"),
    [("meander over a pan", "usual"), pytest.param("foil above, ferrite below", "slim", marks=pytest.mark.slow)],
)
def test_near_metal_by_the_family_s_rings_is_that_by_the_winding(stack, coil):
    found, _ = both(stack, coil)
    axis = AxisProblem(STACKS[stack], COILS[coil], DRUM_TAG, FREQUENCY, 1e-3, 0.005, 0.005)
    by_rings, by_winding = near_metal_of(axis, found.linkages), near_metal(axis)
    assert np.array_equal(by_rings.linkage_changes, by_winding.linkage_changes)
    assert abs(by_winding.map_changes[0]) > 1e-6
    assert by_rings.map_changes == pytest.approx(by_winding.map_changes, rel=2e-3, abs=1e-7)


@pytest.fixture(scope="module")
def bench() -> CoilFamily:
    return coil_family(problem(BENCH, COILS["usual"]))


OTHERS = (WindingSection(0.0180, 0.0210, -0.0080, -0.0058), WindingSection(0.0280, 0.0310, -0.0090, -0.0058))


def told(coil: FamilyCoil) -> tuple[object, ...]:
    """All that is told of a coil, its field at places included."""
    air = coil.air_field(AirSpace(0.03, 0.003, 0.11), 1e-6)
    return (
        coil.flux_linkage, coil.moment, coil.field_square_length, coil.inductance_error, coil.resistance_error,
        coil.field_square_error, coil.field_errors, coil.greatest_on_plate(0.03), coil.top, coil.triangles,
        air.coefficients.tobytes(), coil.weights.tobytes(),
    )  # fmt: skip


def test_a_coil_is_the_same_bit_for_bit_whatever_was_asked_before(bench):
    first = told(bench.coil(COILS["usual"]))
    afresh = coil_family.__wrapped__(bench.problem)
    assert afresh is not bench
    for other in OTHERS:
        told(afresh.coil(other))
    assert told(afresh.coil(COILS["usual"])) == first


def test_coils_of_one_cell_share_a_family_and_those_of_another_do_not(bench):
    for other in OTHERS:
        assert coil_family(problem(BENCH, other)) is bench
    assert coil_family(problem(BENCH, COILS["near the axis"])) is not bench


def test_two_coils_of_a_family_add_up(bench):
    # A flat coil and the one right below it make one of both: fields add, and linkages with what is between them.
    upper, lower = WindingSection(0.02, 0.024, -0.007, -0.0058), WindingSection(0.02, 0.024, -0.0082, -0.007)
    whole = WindingSection(0.02, 0.024, -0.0082, -0.0058)
    one, two, both_of_them = (bench.coil(section) for section in (upper, lower, whole))
    assert 0.5 * (one.moment + two.moment) == pytest.approx(both_of_them.moment, rel=1e-6, abs=0.0)
    halves = 0.5 * (one.weights + two.weights)
    added = halves @ bench.added @ halves
    assert added == pytest.approx(both_of_them.weights @ bench.added @ both_of_them.weights, rel=1e-5, abs=0.0)


def test_reaction_of_every_two_rings_is_mutual_and_loses_power(bench):
    added = bench.added
    assert np.abs(added - added.T).max() < 1e-9 * np.abs(added).max()
    losses = np.linalg.eigvalsh(-0.5 * (added + added.T).imag)
    assert losses.min() >= -1e-9 * losses.max()


def test_moment_is_that_of_the_field_far_off(bench):
    # B = μ0 m/(2π z³) on the axis; quadrupole and pan are a few per cent at a metre.
    coil, height = bench.coil(COILS["usual"]), 3.0
    field = sum(rings.axial_flux_density(np.array([height]))[0] for rings in bench.sources) @ coil.weights
    assert 2.0 * pi * height**3 * field / (4e-7 * pi) == pytest.approx(coil.moment, rel=0.05, abs=0.0)


def test_typical_windings_lie_in_the_cell_and_touch_its_top():
    for cell in (WindingSection(0.008, 0.032, -0.013, -0.005), WindingSection(0.001, 0.064, -0.0055, -0.005)):
        typical = typical_windings(cell)
        assert all(Cell(cell).holds(one) and one.top == cell.top for one in typical)
        assert min(one.inner_radius for one in typical) == cell.inner_radius
        assert max(one.outer_radius for one in typical) == cell.outer_radius


def test_flat_cells_have_closer_rings_where_the_usual_ones_leave_too_much():
    # A flat cell under closed rings with a foil 10 mm below it: the usual rings leave more than the accuracy.
    heater = Layer(
        "heater", "rings", NICKEL_CHROMIUM, -0.004, 2e-4, 0.06, inner_radius=0.01, ribbon_width=2.5e-3, pitch=4e-3
    )
    stack = Stack((heater, Layer("below", "foil", NICKEL_CHROMIUM, -0.0165, 2e-4, 0.06)))
    asked = problem(stack, WindingSection(0.020, 0.023, -0.0061, -0.0056))
    windings = typical_windings(asked.cell)
    lines = (*acting_segments(stack, FREQUENCY), ((0.0, 0.0), (asked.box[0], 0.0)))
    assert misfit(skeleton(asked.cell, lines), windings) > 0.1 * ACCURACY
    assert coil_family(asked).misfit < 0.1 * ACCURACY
