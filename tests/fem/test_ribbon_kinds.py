"""Rings, an open and a joined spiral, each against its ribbons as ring-shaped circuits."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.closed_forms import winding_flux_density, winding_vector_potential
from fem.elements import Elements
from fem.model import crowding_inductance, ring_conductance, spiral_loop, stack_model
from fem.near_metal import two_coil_mutual_inductance
from fem.reaction_field import ReactionProblem, reaction_solution
from fem.refinement import both_orders
from fem.system import System
from fem.tag_map import axis_mutual_inductance
from fem.tag_solution import tag_solution
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, axis_plan, base_plan
from geometries.section import WindingSection
from geometries.stack import Layer, Stack
from tests.fem.cases import AIR_TAG, COIL, FREQUENCY, axis_problem
from tests.reference.ribbon_circuit import RibbonDisc, ribbon_coupling, ribbon_reflection

OMEGA = 2.0 * pi * FREQUENCY
PITCH, WIDTH, COUNT = 4e-3, 2.4e-3, 15
TOLERANCE = 5e-3
"""The layer is an even one: where its ribbons fall under the coil, 5 mm away, is worth (pitch/distance)² and less."""


def heater(kind, thickness=2e-5, resistivity=1.09e-6, inner_radius=0.0, count=COUNT, **more):
    """A ribbon layer at height 0, its covered area a whole number of pitches."""
    material = Material("ribbon", resistivity_20=resistivity)
    outer = inner_radius + count * PITCH
    return Layer(
        "heater", kind, material, 0.5 * thickness, thickness, outer, inner_radius,
        ribbon_width=WIDTH, pitch=PITCH, **more,
    )  # fmt: skip


def disc(layer, cells=12):
    """The same for the circuits."""
    count = round((layer.outer_radius - layer.inner_radius) / layer.pitch)
    termination = layer.termination_resistance + 1j * OMEGA * layer.termination_inductance
    return RibbonDisc(
        layer.kind, layer.inner_radius, count, PITCH, WIDTH, layer.mid_height,
        layer.conductivity * layer.thickness, FREQUENCY, termination, cells,
    )  # fmt: skip


def solved(stack, accuracy=1e-4):
    return base_solution(BaseProblem(stack, COIL, FREQUENCY, accuracy, (0.03,)))


LAYERS = {
    "rings": heater("rings"),
    "rings that conduct well": heater("rings", resistivity=1e-7),
    "rings with a hole": heater("rings", inner_radius=12e-3, count=12),
    "joined spiral": heater("shorted spiral"),
    "thick joined spiral": heater("shorted spiral", thickness=2e-4),
    "joined spiral with a hole": heater("shorted spiral", inner_radius=12e-3, count=12),
    "loaded spiral": heater("shorted spiral", termination_resistance=50.0, termination_inductance=20e-6),
}


@pytest.mark.parametrize("name", LAYERS)
def test_impedance_reflected_by_ribbons_that_carry_current_round(name):
    layer = LAYERS[name]
    change = 1j * OMEGA * (solved(Stack((layer,))).flux_linkage - solved(Stack()).flux_linkage)
    expected = ribbon_reflection(COIL, disc(layer))
    assert change.real == pytest.approx(expected.real, rel=TOLERANCE, abs=0.0)
    # The inductance is a small difference of two solves: to the accuracy of either.
    assert change.imag == pytest.approx(expected.imag, rel=TOLERANCE, abs=1e-4 * OMEGA * 1e-7)


def test_open_spiral_loses_what_its_ribbons_lose():
    layer = heater("open spiral", thickness=2e-4)
    found = -OMEGA * solved(Stack((layer,))).flux_linkage.imag
    coarse, fine = (ribbon_reflection(COIL, disc(layer, cells)).real for cells in (6, 12))
    expected = fine + (fine - coarse) / 3.0  # cells cost 1/n² of a ribbon's second moment
    assert found == pytest.approx(expected, rel=TOLERANCE, abs=0.0)


@pytest.mark.parametrize("name", ["rings", "rings that conduct well", "joined spiral", "loaded spiral"])
def test_coupling_through_ribbons_that_carry_current_round(name):
    layer, thin, radius, height = LAYERS[name], 2e-5, 0.004, 0.020
    probe = WindingSection(radius - thin, radius + thin, -thin, thin)
    moments = tag_solution(replace(AIR_TAG, section=probe), FREQUENCY, 1e-3).moments
    with_layer, without = (
        axis_mutual_inductance(solved(stack).sources, moments, np.array([height]))[0]
        for stack in (Stack((layer,)), Stack())
    )
    added = ribbon_coupling(COIL, probe.raised(height), disc(layer))
    assert abs(added) > 0.02 * abs(without)
    assert abs((with_layer - without) / added - 1.0) <= TOLERANCE


def test_joined_spiral_acts_on_the_coil_and_the_tag_alike():
    """The axis solve with everything meshed, whose matrix has the loop too, gives the same M as the sources."""
    stack = Stack((LAYERS["joined spiral"],))
    problem = axis_problem(stack, AIR_TAG, 0.02)
    mesh = section_mesh(axis_plan(stack, COIL, AIR_TAG, 0.02, FREQUENCY))
    moments = tag_solution(replace(AIR_TAG, turns=1.0), FREQUENCY, 1e-4).moments
    mapped = axis_mutual_inductance(solved(stack).sources, moments, np.array([0.02]))[0]
    assert two_coil_mutual_inductance(mesh, problem) == pytest.approx(mapped, rel=2e-4, abs=0.0)


def loop_system(layer):
    stack = Stack((layer,))
    mesh, model = section_mesh(base_plan(stack, COIL, FREQUENCY)), stack_model(stack, FREQUENCY)
    return mesh, model, System(Elements(mesh, 3), model)


def test_identity_contributions_add_up_with_a_loop():
    # A few turns just over the coil that conduct well: the loop's share of the difference is 1e-5, not rounding.
    mesh, model, _ = loop_system(heater("shorted spiral", resistivity=1e-8, inner_radius=16e-3, count=3))
    orders = both_orders(mesh, model, lambda s: s.winding_load(BASE_WINDING, COIL.area)[:, None].astype(complex))
    coarse, fine = (
        system.flux_linkage(potentials[:, 0], BASE_WINDING, COIL.area)
        for system, potentials in ((orders.quadratic, orders.coarse), (orders.cubic, orders.fine))
    )
    assert abs(orders.contributions(0, 0).sum() - (fine - coarse)) <= 1e-8 * abs(fine - coarse)
    assert abs(fine - coarse) > 1e-5 * abs(fine)


def test_loss_in_the_loop_is_the_reflected_resistance():
    """½|I|² Re Z and the eddies' loss in each ribbon against −½ω Im Λ."""
    _, model, system = loop_system(LAYERS["loaded spiral"])
    potential = system.solve(system.winding_load(BASE_WINDING, COIL.area)[:, None].astype(complex))[:, 0]
    (loop,) = system.loops
    terms = model.sheets["layer heater"]
    current = loop.sheet_current(potential) / loop.turn_density
    normal = np.einsum("bep,be->ep", loop.lines.normal_fields, potential[loop.lines.dofs])
    eddies = OMEGA * terms.magnetisation.imag * pi / (4e-7 * pi) * (np.abs(normal) ** 2 * loop.lines.weights).sum()
    loss = 0.5 * abs(current) ** 2 * terms.loop.impedance.real + eddies
    reflected = -0.5 * OMEGA * system.flux_linkage(potential, BASE_WINDING, COIL.area).imag
    assert loss == pytest.approx(reflected, rel=1e-9, abs=0.0)
    assert eddies < 0.5 * loss


def test_reaction_field_with_a_loop_is_that_of_the_total_field():
    _, model, system = loop_system(LAYERS["thick joined spiral"])
    load = system.winding_load(BASE_WINDING, COIL.area)

    def given(r, z):
        return winding_vector_potential(COIL, 1.0, r, z), *winding_flux_density(COIL, 1.0, r, z)

    answer = system.solve(system.reaction_load(given)[:, None])[:, 0]
    in_air = System(system.elements, model.without("layer heater")).solve(load[:, None])[:, 0]
    total = system.solve(load[:, None])[:, 0]
    assert load @ answer == pytest.approx(load @ (total - in_air), rel=1e-3, abs=0.0)


@pytest.mark.parametrize("name", ["rings", "joined spiral", "loaded spiral"])
def test_both_formulations_agree_on_layers_that_carry_current_round(name):
    stack = Stack((LAYERS[name],))
    total = solved(stack)
    reaction = reaction_solution(ReactionProblem(stack, (COIL,), FREQUENCY, 1e-4))
    assert reaction.flux_linkages[0].real == pytest.approx(total.flux_linkage.real, rel=1e-4, abs=0.0)
    assert reaction.flux_linkages[0].imag == pytest.approx(total.flux_linkage.imag, rel=2e-3, abs=0.0)


def test_open_ends_are_the_limit_of_a_large_termination():
    open_loss, joined_loss = (
        -solved(Stack((heater(kind, **more),))).flux_linkage.imag
        for kind, more in (("open spiral", {}), ("shorted spiral", {"termination_resistance": 1e9}))
    )
    assert joined_loss == pytest.approx(open_loss, rel=1e-4, abs=0.0)


def test_spiral_loop_has_the_ribbon_resistance_and_turns():
    layer = heater("shorted spiral", inner_radius=12e-3, count=12, termination_resistance=3.0)
    loop = spiral_loop(layer, FREQUENCY)
    length = sum(2.0 * pi * (12e-3 + (n + 0.5) * PITCH) for n in range(12))
    assert loop.turn_density * (layer.outer_radius - layer.inner_radius) == pytest.approx(12.0, rel=1e-12, abs=0.0)
    assert loop.impedance.real == pytest.approx(3.0 + 1.09e-6 * length / (WIDTH * 2e-5), rel=1e-12, abs=0.0)


def test_crowding_vanishes_for_ribbons_that_touch_and_is_a_thin_wires_for_narrow_ones():
    assert crowding_inductance(PITCH, PITCH) == pytest.approx(0.0, abs=1e-20)
    # A flat strip of an even current has the geometric mean distance w e^(−3/2); a grid of wires at distance p stores
    # (μ0/2π) ln(p/(2π·gmd)) more than a sheet (Maxwell, Treatise, art. 203 for the potential of a grating).
    narrow = PITCH / 40.0
    expected = 2e-7 * np.log(PITCH / (2.0 * pi * narrow * np.exp(-1.5)))
    assert crowding_inductance(narrow, PITCH) == pytest.approx(expected, rel=1e-3, abs=0.0)


def test_rings_that_touch_conduct_like_a_foil():
    layer = replace(heater("rings"), ribbon_width=PITCH)
    assert ring_conductance(layer, FREQUENCY) == pytest.approx(layer.conductivity * layer.thickness, rel=1e-9, abs=0.0)
