"""Rings that stand for the sources of a field, against closed forms and against the field they came from."""

from functools import cache
from math import pi

import numpy as np
import pytest

from fem.closed_forms import (
    dipole_vector_potential,
    loop_flux_density,
    loop_vector_potential,
    winding_flux_density,
    winding_self_inductance,
    winding_vector_potential,
)
from fem.model import Model
from fem.sources import Rings, induced_rings, unit_ring, unit_ring_potential, winding_rings
from fem.system import System
from geometries.stack import Layer, Stack
from tests.fem.cases import ALUMINIUM, COIL, DRUM_TAG, NICKEL_CHROMIUM, plate_stack
from tests.fem.discs import axis_mesh, axis_system, linkages, two_coil_loads

R = np.array([1e-3, 0.004, 0.011, 0.019, 0.03, 0.06])
Z = np.array([-0.02, -0.004, 0.0, 0.003, 0.012, 0.05])
PLACES = tuple(a.ravel() for a in np.meshgrid(R, Z, indexing="ij"))
NOTHING = np.zeros(1, dtype=complex)


def test_unit_ring_is_the_loop():
    potential, radial, axial = unit_ring(0.02, 0.001, *PLACES)
    loop_radial, loop_axial = loop_flux_density(0.02, 0.001, *PLACES)
    size = np.hypot(loop_radial, loop_axial)
    assert potential == pytest.approx(loop_vector_potential(0.02, 0.001, *PLACES), rel=1e-9, abs=0.0)
    assert np.all(np.abs(radial - loop_radial) < 1e-9 * size)
    assert np.all(np.abs(axial - loop_axial) < 1e-9 * size)


def test_potential_alone_is_the_unit_rings():
    found = unit_ring_potential(0.02, 0.001, *PLACES)
    assert found == pytest.approx(unit_ring(0.02, 0.001, *PLACES)[0], rel=1e-13, abs=0.0)


def test_winding_rings_are_the_winding():
    rings = winding_rings(COIL)
    # N π times the mean of r²: (b³ − a³)/(3(b − a)).
    mean_square = (COIL.outer_radius**3 - COIL.inner_radius**3) / (3.0 * COIL.radial_build)
    assert rings.moment == pytest.approx(pi * mean_square, rel=1e-12, abs=0.0)
    z = np.array([0.0, 0.01, 0.05])
    axial = winding_flux_density(COIL, 1.0, np.zeros(3), z)[1]
    assert rings.axial_flux_density(z) == pytest.approx(axial + 0j, rel=1e-9, abs=0.0)
    r, z = np.array([0.002, 0.01, 0.03, 0.03]), np.array([0.0, 0.01, 0.0, 0.04])
    expected = winding_vector_potential(COIL, 1.0, r, z) / r
    assert rings.potential_over_radius(r, z) == pytest.approx(expected + 0j, rel=1e-9, abs=0.0)
    assert not rings.magnetised


@pytest.mark.parametrize(("radial", "axial"), [(0.0, 1.0), (1.0, 0.0)])
def test_a_magnetised_ring_is_a_pair_of_loops(radial, axial):
    # An axial moment is a loop outside less one inside; a radial one a loop below less one above (curl M).
    rings = Rings(np.array([0.01]), np.array([0.002]), np.array([1.0]), NOTHING, radial + NOTHING, axial + NOTHING)
    step = 1e-5
    if axial:
        pairs = ((0.01 + step / 2, 0.002, 1.0), (0.01 - step / 2, 0.002, -1.0))
    else:
        pairs = ((0.01, 0.002 - step / 2, 1.0), (0.01, 0.002 + step / 2, -1.0))
    # The ring's moment per length of circumference is w·M/r: r·dS is the weight.
    current = 1.0 / (0.01 * step)
    r, z = np.array([0.02, 0.005, 0.001]), np.array([0.02, 0.015, -0.02])
    expected = sum(sign * current * loop_vector_potential(a, h, r, z) / r for a, h, sign in pairs)
    assert rings.potential_over_radius(r, z) == pytest.approx(expected + 0j, rel=2e-5, abs=0.0)
    on_axis = sum(sign * current * loop_flux_density(a, h, np.zeros(3), z)[1] for a, h, sign in pairs)
    assert rings.axial_flux_density(z) == pytest.approx(on_axis + 0j, rel=2e-5, abs=0.0)
    assert rings.magnetised


def test_far_off_the_rings_are_their_moment():
    rings = Rings(np.array([0.01]), np.array([0.0]), np.array([1e-4]), NOTHING + 3.0, NOTHING, NOTHING + 200.0)
    r, z = np.array([1.5, 1.0]), np.array([0.5, 2.0])
    expected = dipole_vector_potential(rings.moment, 0.0, r, z) / r
    assert rings.potential_over_radius(r, z) == pytest.approx(expected, rel=1e-4, abs=0.0)
    assert rings.top == 0.0


@cache
def surroundings():
    """Coil with a drum, a plate, a foil and a ribbon layer."""
    layers = (
        Layer("foil", "foil", NICKEL_CHROMIUM, -0.0029, 2e-5, 0.06),
        Layer("heater", "meander", NICKEL_CHROMIUM, -0.0039, 2e-4, 0.06, ribbon_width=2.5e-3, pitch=4e-3),
    )
    stack = Stack(layers, plate_stack(ALUMINIUM, -0.012, 1e-3, 0.05).solids)
    system = axis_system(axis_mesh(stack, DRUM_TAG, 0.012), stack, DRUM_TAG)
    loads = two_coil_loads(system, DRUM_TAG)
    return system, loads, system.solve(loads)[:, 0]


def test_induced_rings_give_back_what_the_surroundings_add_to_the_coil():
    # The flux that all induced currents and moments send through the coil, against the elements' own change.
    system, loads, potential = surroundings()
    groups = induced_rings(system, potential)
    assert len(groups) == 4
    with_all = linkages(system, loads[:, :1], potential[:, None])[0, 0]
    air = System(system.elements, Model(system.model.angular_frequency))
    alone = linkages(air, loads[:, :1], air.solve(loads[:, :1]))[0, 0]
    coil = winding_rings(COIL)
    sent = sum(
        2.0 * pi * np.sum(coil.weight * coil.radius * g.potential_over_radius(coil.radius, coil.height) * coil.current)
        for g in groups
    )
    assert sent == pytest.approx(with_all - alone, rel=2e-3, abs=0.0)
    assert abs(sent) > 0.05 * winding_self_inductance(COIL, 1.0)


@pytest.mark.parametrize("number", range(4))
def test_no_group_of_induced_rings_is_idle(number):
    system, _, potential = surroundings()
    group = induced_rings(system, potential)[number]
    assert abs(group.moment) > 1e-5 * abs(winding_rings(COIL).moment)


def test_field_on_the_axis_is_the_limit_of_twice_the_potential_over_the_radius():
    # B_z = 2 A/r at r → 0, for every kind of induced source, a ferrite's radial magnetisation among them.
    system, _, potential = surroundings()
    z = np.array([0.03, 0.05])
    for group in induced_rings(system, potential):
        near = 2.0 * group.potential_over_radius(np.full(2, 2e-4), z)
        assert group.axial_flux_density(z) == pytest.approx(near, rel=1e-3, abs=0.0)
