"""The outer half circle: what it sends back stays within what is said."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy.special import lpmv

from fem.boundary import _projection, returned_flux_linkage
from fem.closed_forms import winding_mutual_inductance, winding_self_inductance
from fem.elements import Elements
from fem.estimate import estimated_error
from fem.model import Model, stack_model
from fem.near_metal import two_coil_mutual_inductance
from fem.refinement import both_orders, refined
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, axis_plan, base_plan
from geometries.section import WindingSection
from geometries.stack import Stack
from tests.fem.cases import AIR_TAG, ALUMINIUM, COIL, FREQUENCY, axis_problem, plate_stack, sheet_stack
from tests.fem.discs import block_plan, interpolated

OMEGA = 2.0 * pi * FREQUENCY


def own_linkage(plan, stack, levels=1):
    """Flux linkage [H] with both orders' estimate and the bound of the boundary's echo."""
    mesh = refined(section_mesh(plan), levels)

    def loads(system):
        return system.winding_load(BASE_WINDING, COIL.area)[:, None].astype(complex)

    orders = both_orders(mesh, stack_model(stack, FREQUENCY), loads)
    load = orders.cubic.winding_load(BASE_WINDING, COIL.area)
    value = 2.0 * pi / MAGNETIC_CONSTANT * (load @ orders.fine[:, 0])
    echo = returned_flux_linkage(orders.cubic, orders.fine[:, 0], load)
    return complex(value), estimated_error(orders.contributions(0, 0)), echo


STACKS = {
    "air": Stack(),
    "plate": plate_stack(ALUMINIUM, -0.012, 1e-3, 0.05),
    "foil": sheet_stack(50.0, -0.002, 0.06),
}


@pytest.mark.parametrize("name", ["air", pytest.param("plate", marks=pytest.mark.slow), "foil"])
def test_a_wider_boundary_changes_less_than_the_bound(name):
    plan = base_plan(STACKS[name], COIL, FREQUENCY)
    near, error, echo = own_linkage(plan, STACKS[name])
    far, further_error, _ = own_linkage(replace(plan, outer_radius=1.5 * plan.outer_radius), STACKS[name])
    assert abs(near - far) <= echo + error + further_error
    # The bound is worth having: it costs no more than the accuracies that are asked for.
    assert echo < 3e-4 * abs(near)


def test_the_bound_holds_where_the_echo_is_large_and_is_not_idle():
    # A boundary close by and well off the coil's centre: the echo is far above the elements' own error.
    plan = base_plan(Stack(), COIL, FREQUENCY)
    plan = replace(plan, centre=COIL.mid_height + 0.012, outer_radius=0.05)
    found, error, echo = own_linkage(plan, Stack())
    off = abs(found - winding_self_inductance(COIL, 1.0))
    assert off > 10.0 * error
    assert off <= echo + error
    assert echo < 20.0 * off


def test_echo_in_the_mutual_inductance_falls_with_the_fifth_power():
    # Degree 2: coil and tag lie on either side of the centre (q/p = ¼ R⁻⁵).
    exact = winding_mutual_inductance(COIL, 1.0, AIR_TAG.section.raised(0.025), 1.0)
    plan = axis_plan(Stack(), COIL, AIR_TAG, 0.025, FREQUENCY)
    errors = []
    for factor in (0.75, 1.5):
        mesh = refined(section_mesh(replace(plan, outer_radius=factor * plan.outer_radius)), 1)
        found = two_coil_mutual_inductance(mesh, axis_problem(Stack(), AIR_TAG, 0.025))
        errors.append(abs(found / exact - 1.0))
    assert np.log2(errors[0] / errors[1]) == pytest.approx(5.0, abs=0.6)


@pytest.mark.parametrize("degree", [1, 2, 3, 4])
def test_projection_finds_a_pure_degree(degree):
    system = System(Elements(section_mesh(block_plan(0.1)), 3), Model(OMEGA))

    def pure(r, z):
        distance = np.hypot(r, z)
        return distance**degree * lpmv(1, degree, z / distance)

    potential = interpolated(system.elements, pure)
    for other in (1, 2, 3, 4):
        expected = 1.0 if other == degree else 0.0
        # The polygon lies up to 1 % inside its circle.
        assert _projection(system, potential, other) == pytest.approx(expected, abs=0.03)


def test_a_centred_dipole_has_no_echo():
    tiny = WindingSection(0.0095, 0.0105, -0.0005, 0.0005)
    echoes = []
    for centre in (0.0, 0.03):
        plan = replace(base_plan(Stack(), tiny, FREQUENCY), centre=centre, outer_radius=0.15)
        system = System(Elements(section_mesh(plan), 3), Model(OMEGA))
        load = system.winding_load(BASE_WINDING, tiny.area)
        potential = system.solve(load[:, None])[:, 0]
        echoes.append(returned_flux_linkage(system, potential, load) / winding_self_inductance(tiny, 1.0))
    assert echoes[0] < 1e-5
    assert echoes[1] > 20.0 * echoes[0]


def test_the_echo_of_a_load_is_that_of_its_parts():
    # The parts meet inside the winding: an element that only touches a part counts for it in full.
    plan = replace(base_plan(Stack(), COIL, FREQUENCY), centre=0.03)
    system = System(Elements(section_mesh(plan), 3), Model(OMEGA))
    load = system.winding_load(BASE_WINDING, COIL.area)
    potential = system.solve(load[:, None])[:, 0]
    half = np.where(np.arange(load.size) % 2, load, 0.0)
    whole = returned_flux_linkage(system, potential, load)
    parts = [returned_flux_linkage(system, potential, part) for part in (half, load - half)]
    assert min(parts) > 0.01 * whole
    assert sum(parts) == pytest.approx(whole, rel=1e-12, abs=0.0)
