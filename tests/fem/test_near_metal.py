"""What metal and ferrite near the tag do to it, against two-coil solves and image laws."""

from dataclasses import replace
from functools import cache
from math import pi

import numpy as np
import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.near_metal import (
    MOST_HEIGHTS,
    SPACING,
    AxisProblem,
    NearMetal,
    missed_share,
    near_metal,
    nearest_surface,
    section_linkages,
    two_coil_mutual_inductance,
)
from fem.plane_layers import layered_coil_impedance_change
from fem.refinement import refined
from fem.tag_map import axis_mutual_inductance
from fem.tag_over_stack import TagPlace, room_for, solved_on
from fem.tag_solution import tag_solution
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import axis_plan
from geometries.section import WindingSection
from geometries.stack import Layer, Stack
from tests.fem.cases import AIR_TAG, ALUMINIUM, COIL, DRUM_TAG, FREQUENCY, plate_stack, ribbon_stack, sheet_stack

TOP = -0.010
SHEET = plate_stack(ALUMINIUM, TOP, 1e-3, 0.08)
"""Aluminium under the coil, five skin depths thick; a drum 8 mm above it sits lower than the coil's own top."""


def problem(lowest, highest=None, stack=SHEET, tag=DRUM_TAG, coil=COIL, accuracy=1e-3):
    return AxisProblem(stack, coil, tag, FREQUENCY, accuracy, lowest, highest or lowest)


@cache
def whole_truth(distance, tag=DRUM_TAG):
    """M with everything meshed, every element split once, the boundary twice as far off as usual."""
    plan = axis_plan(SHEET, COIL, tag, TOP + distance, FREQUENCY)
    mesh = refined(section_mesh(replace(plan, outer_radius=2.0 * plan.outer_radius)), 1)
    return two_coil_mutual_inductance(mesh, problem(TOP + distance, tag=tag))


@cache
def mapped(distance):
    """M from the base field and the tag's moments alone."""
    base = base_solution(BaseProblem(SHEET, COIL, FREQUENCY, 1e-4, ()))
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-4).moments
    return axis_mutual_inductance(base.sources, moments, np.array([TOP + distance]))[0]


@pytest.mark.slow
def test_drum_8_mm_over_aluminium():
    # Without its own image the core's M is about 3 % high; the correction brings it to the whole truth.
    true = whole_truth(0.008)
    assert 0.01 < abs(mapped(0.008)) / abs(true) - 1.0 < 0.05
    ratio = near_metal(problem(TOP + 0.008)).map_ratio(np.array([TOP + 0.008]))[0]
    assert mapped(0.008) * ratio == pytest.approx(true, rel=1e-3, abs=0.0)


@pytest.mark.slow
@pytest.mark.parametrize("distance", [0.007, 0.011, 0.018])
def test_between_the_solved_heights(distance):
    found = near_metal(problem(TOP + 0.006, TOP + 0.03))
    assert distance not in found.distances
    ratio = found.map_ratio(np.array([TOP + distance]))[0]
    assert mapped(distance) * ratio == pytest.approx(whole_truth(distance), rel=1e-3, abs=0.0)


def test_error_of_the_map_falls_like_the_core_s_image():
    # DESIGN 4.3: about α/(2π(2h)³) for the core's polarisability α at a distance h, so long as h is not too small.
    alpha = tag_solution(DRUM_TAG, FREQUENCY, 1e-3).polarisability.real
    for distance in (0.016, 0.024):
        found = near_metal(problem(TOP + distance))
        change = found.map_ratio(np.array([TOP + distance]))[0].real - 1.0
        assert change == pytest.approx(-alpha / (2.0 * pi * (2.0 * distance) ** 3), rel=0.25, abs=0.0)


def test_air_cored_tag_over_a_plate_loses_what_plane_layers_say():
    # C. V. Dodd, W. E. Deeds, J. Appl. Phys. 39, 1968, 2829: the tag coil itself over the aluminium.
    tag = replace(AIR_TAG, section=WindingSection(0.0012, 0.0026, -0.001, 0.001))
    found = near_metal(problem(TOP + 0.003, tag=tag, accuracy=1e-4))
    layers = [(ALUMINIUM.conductivity(20.0), 1.0, 1e-3)]
    impedance = layered_coil_impedance_change(tag.section.raised(0.003), 1.0, FREQUENCY, layers)
    expected = impedance / (2j * pi * FREQUENCY)
    change = found.linkage_change(np.array([TOP + 0.003]))[0]
    assert change.real == pytest.approx(expected.real, rel=5e-3, abs=0.0)
    assert change.imag == pytest.approx(expected.imag, rel=2e-2, abs=0.0)
    assert np.all(found.map_changes == 0.0)


def test_signs_over_metal_and_over_ferrite():
    over_metal = near_metal(problem(TOP + 0.008))
    ferrite = plate_stack(Material("ferrite", relative_permeability=900.0), TOP, 2e-3, 0.03)
    over_ferrite = near_metal(problem(TOP + 0.008, stack=ferrite))
    assert over_metal.linkage_changes[0].real < 0.0 < over_ferrite.linkage_changes[0].real
    assert over_metal.map_changes[0].real < 0.0 < over_ferrite.map_changes[0].real
    assert over_metal.linkage_changes[0].imag < 0.0  # reflected resistance is positive


@pytest.mark.slow
def test_resistive_foil_reflects_more_than_aluminium():
    foil = near_metal(problem(0.006, stack=sheet_stack(200.0, 0.0, 0.06)))
    metal = near_metal(problem(0.006, stack=plate_stack(ALUMINIUM, 0.0, 1e-3, 0.06)))
    assert foil.linkage_changes[0].imag < 3.0 * metal.linkage_changes[0].imag < 0.0


def test_nothing_near_changes_nothing():
    found = near_metal(problem(0.01, 0.03, stack=Stack((Layer("gap", "gap", None, 0.0, 1e-3, 0.08),))))
    heights = np.array([0.01, 0.02])
    assert np.all(found.linkage_change(heights) == 0.0)
    assert np.all(found.map_ratio(heights) == 1.0)
    assert found.distances.size == 0


@pytest.mark.slow
def test_heights_are_solved_only_while_they_matter():
    found = near_metal(problem(TOP + 0.008, TOP + 0.06))
    assert 2 <= found.distances.size <= MOST_HEIGHTS
    assert found.distances[1] / found.distances[0] == pytest.approx(SPACING, rel=1e-12, abs=0.0)
    open_ribbon = near_metal(problem(0.012, 0.06, stack=ribbon_stack(-0.003, 0.06), accuracy=1e-2))
    assert open_ribbon.distances.size == 1


def test_changes_scale_with_the_cube_of_the_distance_between_heights():
    distances = np.array([0.01, 0.016, 0.0256])
    steady = NearMetal(distances, -0.01, 2e-9 / distances**3 + 0j, -1e-9j / distances**3, 0.0)
    heights = np.array([0.0, 0.003, 0.01, 0.05])
    assert steady.linkage_change(heights) == pytest.approx(2e-9 / (heights + 0.01) ** 3 + 0j, rel=1e-9, abs=0.0)
    assert steady.map_ratio(heights) == pytest.approx(1.0 - 1e-9j / (heights + 0.01) ** 3, rel=1e-9, abs=0.0)
    single = NearMetal(distances[:1], -0.01, np.array([2e-3 + 0j]), np.array([0j]), 0.0)
    assert single.linkage_change(np.array([0.01]))[0] == pytest.approx(2e-3 / 8.0, rel=1e-12, abs=0.0)


def test_nearest_surface_is_the_highest_thing_that_acts():
    glass = Layer("plate", "solid", Material("glass"), 0.0, 4e-3, 0.09)
    heater = ribbon_stack(-0.004, 0.07).layers[0]
    stack = Stack((glass, heater), SHEET.solids)
    assert nearest_surface(stack, FREQUENCY) == pytest.approx(heater.mid_height, rel=1e-12, abs=0.0)
    assert nearest_surface(SHEET, FREQUENCY) == TOP
    assert nearest_surface(Stack((glass,)), FREQUENCY) is None


@pytest.mark.slow
def test_the_two_orders_differ_by_no_more_than_is_said():
    chosen = problem(TOP + 0.008)
    found = near_metal(chosen)
    mesh = section_mesh(axis_plan(SHEET, COIL, DRUM_TAG, TOP + 0.008, FREQUENCY, 0.02))
    solved = solved_on(mesh, TagPlace(SHEET, DRUM_TAG, FREQUENCY, TOP + 0.008, room_for(COIL)), order=3)
    ratio = missed_share(solved, section_linkages(COIL))
    assert abs(solved.linkage_change - found.linkage_changes[0]) <= found.uncertainty * abs(solved.linkage)
    assert abs(ratio - found.map_changes[0]) <= found.uncertainty
    assert 0.0 < found.uncertainty < 1e-3
