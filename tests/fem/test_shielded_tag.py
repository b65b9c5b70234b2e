"""A tag in a can: against a shorted ring as a circuit, two coils with everything meshed, and the volume integral."""

from dataclasses import replace
from functools import cache
from math import log, pi

import numpy as np
import pytest

from fem.air_field import AirSpace, air_field
from fem.base_solution import BaseProblem, base_solution
from fem.closed_forms import winding_mutual_inductance
from fem.model import joined, stack_model, tag_model
from fem.near_metal import AxisProblem, near_metal
from fem.near_places import LUMPING_ERROR, near_tag, volume_over_leans
from fem.refinement import Goal, solved_to_accuracy
from fem.tag_map import axis_mutual_inductance, mutual_inductance_at
from fem.tag_solution import tag_solution
from fem.volume_integral import volume_mutual_inductance
from geometries.constants import MAGNETIC_CONSTANT
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, TAG_WINDING, axis_plan
from geometries.section import WindingSection
from geometries.stack import Stack
from geometries.tag import ShieldCan
from tests.fem.cases import AIR_TAG, ALUMINIUM, COIL, DRUM_TAG, FERRITE, FREQUENCY, plate_stack

COPPER = Material("copper", resistivity_20=1.7241e-8)
STEEL = Material("a steel", resistivity_20=1e-6, relative_permeability=100.0, relative_permeability_loss=10.0)
MATERIALS = {"copper": COPPER, "ferrite": FERRITE, "steel": STEEL}


def canned(material, tag=DRUM_TAG):
    """The drum in a can that is open at the top."""
    can = ShieldCan(material, 5e-3, 0.5e-3, -4e-3, 4.5e-3, closed_bottom=True)
    return replace(tag, turns=1.0, shield=can)


@cache
def sources():
    return base_solution(BaseProblem(Stack(), COIL, FREQUENCY, 1e-4, ())).sources


# -- a sleeve thin and short against its skin depth is a shorted turn ------------------------------------------------

RING = WindingSection(5e-3, 5.1e-3, -0.2e-3, 0.2e-3)
ALLOY = Material("an alloy", resistivity_20=2e-7)
"""Its skin depth, 0.6 mm, is above both sides of the sleeve, so that the current is spread evenly."""

SLEEVE = ShieldCan(ALLOY, RING.inner_radius, RING.radial_build, RING.bottom, RING.top)
OMEGA = 2.0 * pi * FREQUENCY


def ring_impedance():
    """R + jωL of the sleeve: R from its middle turn, L by Rosa's formula for a thin coil, g.m.d. 0.2235 (b + c)."""
    radius, section = RING.mean_radius, RING.area
    resistance = 2.0 * pi * radius * 2e-7 / section
    inductance = MAGNETIC_CONSTANT * radius * (log(8.0 * radius / (0.2235 * (RING.radial_build + 0.4e-3))) - 2.0)
    return resistance + 1j * OMEGA * inductance


def test_a_short_sleeve_takes_from_inductance_and_moment_what_a_shorted_turn_takes():
    bare, tag = (tag_solution(replace(AIR_TAG, turns=1.0, shield=can), FREQUENCY, 1e-4) for can in (None, SLEEVE))
    through = winding_mutual_inductance(RING, 1.0, AIR_TAG.section, 1.0)
    expected = -1j * OMEGA * through**2 / ring_impedance()
    assert abs((tag.flux_linkage - bare.flux_linkage) / expected - 1.0) < 1e-2
    moment = -1j * OMEGA * through / ring_impedance() * pi * RING.mean_radius**2
    assert abs((tag.moments.moments[0] - bare.moments.moments[0]) / moment - 1.0) < 1e-2


def test_polarisability_of_a_short_sleeve_is_its_current_s_moment():
    tag = tag_solution(replace(AIR_TAG, turns=1.0, shield=SLEEVE), FREQUENCY, 1e-4)
    area = pi * RING.mean_radius**2
    expected = -1j * OMEGA * MAGNETIC_CONSTANT * area**2 / ring_impedance()
    assert abs(tag.polarisability / expected - 1.0) < 1e-2


# -- everything meshed ----------------------------------------------------------------------------------------------


def two_coils(tag, stack, height, coil=COIL):
    """M per turn² from one mesh of both coils, core and can, refined for itself."""
    mesh = section_mesh(axis_plan(stack, coil, tag, height, FREQUENCY))
    model = joined(stack_model(stack, FREQUENCY), tag_model(tag, FREQUENCY))

    def loads(system):
        base = system.winding_load(BASE_WINDING, coil.area)
        return np.stack([base, system.winding_load(TAG_WINDING, tag.section.area)], axis=1)

    def mutual(system, potentials):
        return system.flux_linkage(potentials[:, 0], TAG_WINDING, tag.section.area)

    solved = solved_to_accuracy(mesh, model, loads, (Goal(0, 1, 4e-4, mutual),))
    return mutual(solved.system, solved.potentials)


@pytest.mark.slow
@pytest.mark.parametrize("name", MATERIALS)
def test_on_the_axis_two_coils_all_meshed_agree(name):
    tag = canned(MATERIALS[name])
    found = axis_mutual_inductance(sources(), tag_solution(tag, FREQUENCY, 5e-4).moments, np.array([0.025]))[0]
    assert abs(found / two_coils(tag, Stack(), 0.025) - 1.0) < 1e-3


@pytest.mark.slow
def test_over_metal_the_axis_correction_carries_the_can_along():
    tag, height = canned(COPPER), 0.01
    stack = plate_stack(ALUMINIUM, -0.010, 1e-3, 0.08)
    base = base_solution(BaseProblem(stack, COIL, FREQUENCY, 1e-4, (height,)))
    mapped = axis_mutual_inductance(base.sources, tag_solution(tag, FREQUENCY, 2e-4).moments, np.array([height]))[0]
    near = near_metal(AxisProblem(stack, COIL, tag, FREQUENCY, 1e-3, height, height))
    ratio = near.map_ratio(np.array([height]))[0]
    true = two_coils(tag, stack, height)
    assert abs(mapped / true - 1.0) > 2e-3
    assert abs(mapped * ratio / true - 1.0) < 1e-3


@pytest.mark.slow
@pytest.mark.parametrize("name", ["copper", "ferrite"])
def test_off_the_axis_moments_agree_with_the_volume_integral(name):
    tag = tag_solution(canned(MATERIALS[name]), FREQUENCY, 5e-3)
    space = AirSpace(0.03, 0.005, 0.045)
    field = air_field(list(sources()), space, 1e-8)
    for height, offset, tilt in ((0.025, 0.01, 0.3), (0.02, 0.015, -0.4)):
        whole = volume_mutual_inductance(sources(), tag, height, offset, tilt)
        place = np.array([height]), np.array([offset]), np.array([tilt])
        assert abs(mutual_inductance_at(field, tag.moments, *place)[0] / whole - 1.0) < 1e-5
        lumped = volume_over_leans(field, near_tag(tag, 1.0, 0.0), *place[:2], tilt, np.zeros(1))[0, 0, 0]
        assert abs(lumped / whole - 1.0) < LUMPING_ERROR


def test_a_copper_can_takes_inductance_and_adds_loss_and_a_ferrite_one_adds_inductance():
    bare = tag_solution(replace(DRUM_TAG, turns=1.0), FREQUENCY, 1e-3)
    copper, ferrite = (tag_solution(canned(MATERIALS[n]), FREQUENCY, 1e-3) for n in ("copper", "ferrite"))
    assert copper.flux_linkage.real < bare.flux_linkage.real < ferrite.flux_linkage.real
    assert copper.flux_linkage.imag < 0.0 == ferrite.flux_linkage.imag
    assert abs(copper.moments.moments[0]) < abs(bare.moments.moments[0])
    assert copper.moments.scale == pytest.approx(np.hypot(5.5e-3, 4.5e-3), rel=1e-12, abs=0.0)
