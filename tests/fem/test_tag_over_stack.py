"""A tag over its surroundings seen from the base coil's side: reciprocity with coils that are meshed and with rings."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.closed_forms import winding_mutual_inductance
from fem.near_metal import AxisProblem, missed_share, section_linkages, two_coil_mutual_inductance
from fem.refinement import refined
from fem.tag_map import axis_mutual_inductance
from fem.tag_over_stack import TagOverStack, TagPlace, room_for, solved_on, tag_over_stack
from fem.tag_solution import tag_solution
from geometries.meshing import section_mesh
from geometries.plan import axis_plan
from geometries.section import WindingSection
from geometries.stack import Stack
from tests.fem.cases import (
    AIR_TAG,
    ALUMINIUM,
    COIL,
    DRUM_TAG,
    FERRITE,
    FREQUENCY,
    plate_stack,
    ribbon_stack,
    sheet_stack,
)

HEIGHT = 0.006
STACKS = {
    "aluminium below": plate_stack(ALUMINIUM, -0.010, 2e-3, 0.06),
    "foil between": sheet_stack(1200.0, -0.002, 0.05),
    "ferrite below, ribbon between": Stack(
        ribbon_stack(-0.002, 0.06, 2e-4).layers, plate_stack(FERRITE, -0.010, 2e-3, 0.03).solids
    ),
}


def over(name: str, tag=DRUM_TAG, order: int = 3) -> TagOverStack:
    return tag_over_stack(TagPlace(STACKS[name], tag, FREQUENCY, HEIGHT, room_for(COIL)), order)


FLUX_ERROR = 0.01
"""The mesh is coarse where coils lie: fluxes are half a per cent off, which cancels in their ratio."""


@cache
def meshed(name: str) -> complex:
    """M with base and tag on one fine mesh, everything present, the base's own winding as its load."""
    problem = AxisProblem(STACKS[name], COIL, DRUM_TAG, FREQUENCY, 1e-4, HEIGHT, HEIGHT)
    plan = axis_plan(STACKS[name], COIL, DRUM_TAG, HEIGHT, FREQUENCY)
    mesh = refined(section_mesh(replace(plan, outer_radius=2.0 * plan.outer_radius)), 1)
    return two_coil_mutual_inductance(mesh, problem)


@cache
def by_the_map(name: str) -> complex:
    """M from the base field and the tag's moments alone."""
    base = base_solution(BaseProblem(STACKS[name], COIL, FREQUENCY, 1e-4, (HEIGHT,)))
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-4).moments
    return complex(axis_mutual_inductance(base.sources, moments, np.array([HEIGHT]))[0])


@pytest.mark.slow
@pytest.mark.parametrize("name", STACKS)
def test_share_that_the_map_misses_is_that_of_two_meshed_coils(name):
    share = missed_share(over(name), section_linkages(COIL))
    expected = abs(meshed(name)) / abs(by_the_map(name)) - 1.0
    assert abs(1.0 + share) - 1.0 == pytest.approx(expected, rel=0.0, abs=1.5e-4)
    assert abs(expected) > 5e-4


@pytest.mark.slow
@pytest.mark.parametrize("name", STACKS)
def test_fluxes_through_the_coil_are_those_of_the_map_and_of_the_whole_truth(name):
    mapped, missed = section_linkages(COIL)(over(name))
    assert abs(mapped - by_the_map(name)) <= FLUX_ERROR * abs(by_the_map(name))
    assert abs(mapped + missed - meshed(name)) <= FLUX_ERROR * abs(meshed(name))


def test_a_tag_without_core_or_shield_is_mapped_whole():
    found = over("foil between", AIR_TAG)
    assert not found.missed.any()
    assert missed_share(found, section_linkages(COIL)) == 0.0


def test_far_above_all_the_flux_is_that_in_air():
    # 50 mm over a small plate: the plate adds next to nothing, and the closed form tells the rest.
    stack = plate_stack(ALUMINIUM, -0.010, 2e-3, 0.004)
    place = TagPlace(stack, AIR_TAG, FREQUENCY, 0.05, room_for(COIL))
    mapped, _ = section_linkages(COIL)(tag_over_stack(place))
    expected = winding_mutual_inductance(AIR_TAG.section.raised(0.05), 1.0, COIL, 1.0)
    assert mapped == pytest.approx(expected, rel=FLUX_ERROR, abs=0.0)


def test_turns_and_signs():
    metal, ferrite = over("aluminium below"), over("ferrite below, ribbon between")
    assert metal.linkage_change.real < 0.0 < ferrite.linkage_change.real
    assert metal.linkage_change.imag < 0.0
    assert metal.linkage.real > 0.0
    assert missed_share(metal, section_linkages(COIL)).real < 0.0 < missed_share(ferrite, section_linkages(COIL)).real


def test_rings_of_a_section_are_weighted_to_one_turn():
    # A slim section links what a ring at its middle does.
    slim = WindingSection(0.02199, 0.02201, -0.00651, -0.00649)
    found = over("aluminium below")
    mapped, missed = found.through_rings(np.array([0.022]), np.array([-0.0065]))
    assert section_linkages(slim)(found) == pytest.approx((mapped[0], missed[0]), rel=1e-5, abs=0.0)


def test_the_room_is_a_power_of_two_that_holds_the_section():
    assert room_for(COIL) == (0.032, 0.008)
    assert room_for(replace(COIL, outer_radius=0.0321)) == (0.064, 0.008)
    assert room_for(replace(COIL, bottom=-0.0081)) == (0.032, 0.016)
    assert room_for(WindingSection(0.01, 0.012, 0.001, 0.002)) == (0.016, 0.001)


def test_one_solve_serves_every_coil_of_a_room():
    place = TagPlace(STACKS["foil between"], AIR_TAG, FREQUENCY, HEIGHT, room_for(COIL))
    other = replace(place, room=room_for(WindingSection(0.017, 0.020, -0.007, -0.005)))
    assert tag_over_stack(place) is tag_over_stack(other)


def test_solved_on_a_given_mesh_it_is_the_same():
    found = over("foil between", AIR_TAG)
    place = TagPlace(STACKS["foil between"], AIR_TAG, FREQUENCY, HEIGHT, room_for(COIL))
    again = solved_on(found.mesh, place, 3)
    assert again.linkage_change == found.linkage_change
    assert np.array_equal(again.mapped, found.mapped)
