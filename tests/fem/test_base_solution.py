"""The base coil with its surroundings: against direct integration in air, and against layers without end."""

from math import pi

import numpy as np
import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.closed_forms import winding_flux_density
from fem.elements import Elements
from fem.model import stack_model
from fem.plane_layers import layered_coil_impedance_change, reflected_impedance, ribbon_reflection
from fem.refinement import refined
from fem.system import System
from fem.tag_map import axis_mutual_inductance
from fem.tag_solution import tag_solution
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, base_plan
from geometries.section import WindingSection
from geometries.stack import Stack
from tests.fem.cases import (
    AIR_TAG,
    ALUMINIUM,
    COIL,
    FREQUENCY,
    NICKEL_CHROMIUM,
    plate_stack,
    ribbon_stack,
    sheet_stack,
)
from tests.reference.loop_integrals import averaged_self_inductance
from tests.reference.ring_circuit import foil_mutual, foil_reflection

OMEGA = 2.0 * pi * FREQUENCY
STEEL = Material("steel", resistivity_20=7.2e-7, relative_permeability=50.0)
WIDE = 0.12
"""Outer radius [m] of what stands for a layer without end: five times the coil's. The field that reaches the rim falls
with the cube of the distance, and twice that width changes ΔZ by less than 1e-4 (test below)."""


def solved(stack: Stack, accuracy: float = 1e-4, coil: WindingSection = COIL):
    return base_solution(BaseProblem(stack, coil, FREQUENCY, accuracy, ()))


def impedance_change(stack: Stack) -> complex:
    """ΔZ = ΔR + jωΔL per turn² [Ω]; the coil alone by direct integration."""
    return 1j * OMEGA * (solved(stack).flux_linkage - averaged_self_inductance(COIL))


@pytest.mark.parametrize(
    "coil",
    [COIL, WindingSection(0.0095, 0.0105, 0.0, 0.01), WindingSection(0.01, 0.03, -0.0015, 0.0)],
    ids=["square", "long", "flat"],
)
def test_coil_in_air_against_the_average_over_its_filaments(coil):
    found = solved(Stack(), coil=coil)
    expected = averaged_self_inductance(coil)
    assert found.flux_linkage.real == pytest.approx(expected, rel=3e-4, abs=0.0)
    assert abs(found.flux_linkage.real / expected - 1.0) <= found.inductance_error
    assert found.flux_linkage.imag == 0.0


@pytest.mark.slow
@pytest.mark.parametrize("thickness", [4e-3, 3e-4], ids=["thick", "thin"])
@pytest.mark.parametrize("material", [ALUMINIUM, NICKEL_CHROMIUM, STEEL], ids=lambda m: m.name)
def test_coil_over_a_meshed_plate(material, thickness):
    # C. V. Dodd, W. E. Deeds, J. Appl. Phys. 39, 1968, 2829: coil over plane layers, by their integral.
    change = impedance_change(plate_stack(material, -0.010, thickness, WIDE))
    layers = [(material.conductivity(20.0), material.permeability, thickness)]
    expected = layered_coil_impedance_change(COIL.raised(0.010), 1.0, FREQUENCY, layers)
    assert change.real == pytest.approx(expected.real, rel=5e-3, abs=0.0)
    assert change.imag == pytest.approx(expected.imag, rel=5e-3, abs=0.0)


def test_coil_over_a_meshed_plate_once():
    # The same for one plate, in the fast tests.
    change = impedance_change(plate_stack(NICKEL_CHROMIUM, -0.010, 1e-3, WIDE))
    layers = [(NICKEL_CHROMIUM.conductivity(20.0), 1.0, 1e-3)]
    expected = layered_coil_impedance_change(COIL.raised(0.010), 1.0, FREQUENCY, layers)
    assert change.real == pytest.approx(expected.real, rel=5e-3, abs=0.0)
    assert change.imag == pytest.approx(expected.imag, rel=5e-3, abs=0.0)


@pytest.mark.slow
def test_the_plate_is_wide_enough():
    single, double = (impedance_change(plate_stack(ALUMINIUM, -0.010, 1e-3, r)) for r in (WIDE, 2.0 * WIDE))
    assert single.imag == pytest.approx(double.imag, rel=1e-4, abs=0.0)
    assert single.real == pytest.approx(double.real, rel=1e-3, abs=0.0)
    # The narrow plate does differ, so that the comparison says something.
    narrow = impedance_change(plate_stack(ALUMINIUM, -0.010, 1e-3, 0.03))
    assert abs(narrow / double - 1.0) > 5e-3


@pytest.mark.parametrize("radius", [0.03, 0.09])
@pytest.mark.parametrize("conductance", [50.0, 1200.0])
def test_closed_foil_against_ring_circuits(conductance, radius):
    change = impedance_change(sheet_stack(conductance, -0.004, radius))
    expected = foil_reflection(COIL, 1.0, 0.0, radius, -0.004, conductance, FREQUENCY, 400)
    assert change.real == pytest.approx(expected.real, rel=5e-3, abs=0.0)
    assert change.imag == pytest.approx(expected.imag, rel=5e-3, abs=0.0)


@pytest.mark.parametrize("conductance", [50.0, 1200.0])
def test_coupling_through_a_closed_foil_against_ring_circuits(conductance):
    # A tag of nearly no section above the foil, the coil below it: the field of the induced rings on the axis.
    thin, height = 2e-5, 0.020
    probe = 0.004
    tag = type(AIR_TAG)(WindingSection(probe - thin, probe + thin, -thin, thin), 1, None)
    found = axis_mutual_inductance(
        solved(sheet_stack(conductance, -0.004, 0.06)).sources,
        tag_solution(tag, FREQUENCY, 1e-3).moments,
        np.array([height]),
    )[0]
    added = foil_mutual(COIL, 1.0, 0.0, 0.06, -0.004, conductance, FREQUENCY, probe, height, 400)
    air = axis_mutual_inductance(
        solved(Stack()).sources, tag_solution(tag, FREQUENCY, 1e-3).moments, np.array([height])
    )[0]
    assert found - air == pytest.approx(added, rel=5e-3, abs=0.0)
    assert abs(added) > 0.3 * abs(air)


@pytest.mark.parametrize("thickness", [2e-5, 2e-4])
def test_ribbon_layer_against_the_plane_layer_integral(thickness):
    # ΔZ of the layer is small against ωL: both terms from one mesh, so that the coil's own error cancels.
    stack = ribbon_stack(-0.004, WIDE, thickness)
    mesh = refined(section_mesh(base_plan(stack, COIL, FREQUENCY)), 1)
    model, elements = stack_model(stack, FREQUENCY), Elements(mesh, 3)
    values = []
    for each in (model, model.without("layer heater")):
        system = System(elements, each)
        load = system.winding_load(BASE_WINDING, COIL.area)
        values.append(2.0 * pi / (4e-7 * pi) * (load @ system.solve(load[:, None])[:, 0]))
    layer = stack.layers[0]
    expected = reflected_impedance(
        COIL.raised(0.004),
        1.0,
        FREQUENCY,
        lambda alpha: ribbon_reflection(alpha, FREQUENCY, layer.conductivity * thickness, 2.5e-3, 4e-3),
    )
    change = 1j * OMEGA * (values[0] - values[1])
    assert change.real == pytest.approx(expected.real, rel=5e-3, abs=0.0)
    assert change.imag == pytest.approx(expected.imag, rel=5e-3, abs=0.0)
    # The base solution carries the same loss.
    assert -OMEGA * solved(stack).flux_linkage.imag == pytest.approx(expected.real, rel=5e-3, abs=0.0)


def test_far_field_is_that_of_the_whole_moment():
    found = solved(sheet_stack(50.0, -0.004, 0.06))
    height = np.array([100.0])
    axial = sum(rings.axial_flux_density(height) for rings in found.sources)[0]
    # μ0 m/(2πz³)
    assert axial == pytest.approx(2e-7 * found.moment / 100.0**3, rel=5e-4, abs=0.0)


def test_sources_alone_are_the_coil_in_air():
    found = solved(Stack())
    assert len(found.sources) == 1
    height = np.array([0.03])
    expected = winding_flux_density(COIL, 1.0, np.zeros(1), height)[1]
    assert found.sources[0].axial_flux_density(height) == pytest.approx(expected + 0j, rel=1e-9, abs=0.0)
    assert found.resistance_error == 0.0


@pytest.mark.slow
@pytest.mark.parametrize(
    "stack",
    [plate_stack(ALUMINIUM, -0.010, 1e-3, 0.06), sheet_stack(200.0, -0.003, 0.06)],
    ids=["plate", "foil"],
)
def test_stated_errors_cover_a_much_finer_solution(stack):
    heights = (0.01, 0.03)
    coarse, fine = (base_solution(BaseProblem(stack, COIL, FREQUENCY, a, heights)) for a in (1e-3, 1e-6))
    assert abs(coarse.flux_linkage.real / fine.flux_linkage.real - 1.0) <= coarse.inductance_error
    assert abs(coarse.flux_linkage.imag - fine.flux_linkage.imag) <= coarse.resistance_error
    for height, error in zip(heights, coarse.field_errors, strict=True):
        place = np.array([height])
        fields = [sum(rings.axial_flux_density(place) for rings in s.sources)[0] for s in (coarse, fine)]
        assert abs(fields[0] / fields[1] - 1.0) <= error


def test_error_grows_with_the_accuracy_asked_for():
    stack = sheet_stack(200.0, -0.003, 0.06)
    loose, tight = solved(stack, 1e-2), solved(stack, 1e-5)
    assert loose.triangles < tight.triangles
    assert tight.inductance_error < 2e-5
