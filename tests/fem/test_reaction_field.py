"""The reaction field: against the total field on every kind of surroundings, plane layers, ring circuits, itself."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.boundary import returned_reaction
from fem.closed_forms import winding_flux_density, winding_mutual_inductance, winding_self_inductance
from fem.coil_field import coil_field
from fem.elements import Elements
from fem.errors import FieldError
from fem.model import stack_model
from fem.plane_layers import layered_coil_impedance_change
from fem.reaction_field import ReactionProblem, ReactionSolution, added_linkages, reaction_solution
from fem.refinement import refined
from fem.system import System
from geometries.materials import Material
from geometries.meshing import SectionMesh, section_mesh
from geometries.plan import MeshPlan, reaction_plan
from geometries.section import WindingSection
from geometries.stack import Layer, Solid, Stack
from tests.fem.cases import (
    ALUMINIUM,
    COIL,
    FERRITE,
    FREQUENCY,
    LOSSY_FERRITE,
    NICKEL_CHROMIUM,
    plate_stack,
    ribbon_stack,
    sheet_stack,
)
from tests.reference.ring_circuit import foil_mutual

OMEGA = 2.0 * pi * FREQUENCY
ACCURACY = 1e-4
PROBES = (0.012, 0.03)
STEEL = Material("steel", resistivity_20=7.2e-7, relative_permeability=50.0)
LONG, FLAT = WindingSection(0.0095, 0.0105, -0.015, -0.005), WindingSection(0.01, 0.03, -0.008, -0.0065)
PAN_WALL = ((0.0, -0.040), (0.08, -0.040), (0.08, -0.020), (0.078, -0.020), (0.078, -0.038), (0.0, -0.038))
BLOCK = ((0.03, -0.012), (0.05, -0.012), (0.05, 0.02), (0.03, 0.02))
RING = Layer("ring", "foil", ALUMINIUM, -0.003, 2e-5, 0.04, inner_radius=0.03)
HEATER = Layer(
    "heater", "meander", NICKEL_CHROMIUM, -0.003, 2e-4, 0.06, inner_radius=0.01, ribbon_width=2.5e-3, pitch=4e-3
)
EVERYTHING = Stack(
    (*sheet_stack(50.0, -0.002, 0.06).layers, *ribbon_stack(-0.004, 0.06, 2e-4).layers),
    (*plate_stack(FERRITE, -0.009, 2e-3, 0.03).solids, Solid("pan", ALUMINIUM, PAN_WALL)),
)

SURROUNDINGS = {
    "aluminium plate": plate_stack(ALUMINIUM, -0.010, 4e-3, 0.12),
    "thin aluminium plate": plate_stack(ALUMINIUM, -0.010, 3e-4, 0.12),
    "nickel-chromium plate": plate_stack(NICKEL_CHROMIUM, -0.010, 4e-3, 0.12),
    "thin nickel-chromium plate": plate_stack(NICKEL_CHROMIUM, -0.010, 3e-4, 0.12),
    "magnetic steel plate": plate_stack(STEEL, -0.010, 4e-3, 0.12),
    "thin magnetic steel plate": plate_stack(STEEL, -0.010, 3e-4, 0.12),
    "weak foil": sheet_stack(50.0, -0.004, 0.09),
    "strong foil": sheet_stack(1200.0, -0.004, 0.09),
    "narrow foil": sheet_stack(1200.0, -0.004, 0.03),
    "foil at a tenth of a millimetre": sheet_stack(200.0, -0.0049, 0.06),
    "ring": Stack((RING,)),
    "ribbon": ribbon_stack(-0.004, 0.12),
    "thick ribbon": ribbon_stack(-0.004, 0.12, 2e-4),
    "closed rings": Stack((replace(HEATER, kind="rings"),)),
    "spiral with joined ends": Stack((replace(HEATER, kind="shorted spiral"),)),
    "ferrite disc": plate_stack(FERRITE, -0.0085, 2e-3, 0.03),
    "lossy ferrite disc": plate_stack(LOSSY_FERRITE, -0.0085, 2e-3, 0.03),
    "pan": Stack((), (Solid("pan", ALUMINIUM, PAN_WALL),)),
    "heat block round the coil": Stack((), (Solid("block", ALUMINIUM, BLOCK),)),
    "everything": EVERYTHING,
}
SLOW = (
    "aluminium plate", "lossy ferrite disc", "magnetic steel plate", "thin magnetic steel plate", "pan", "everything",
        "heat block round the coil", "thin aluminium plate",
)  # fmt: skip

COARSE = ("magnetic steel plate", "thin magnetic steel plate", "heat block round the coil", "everything")
"""Thin skins, or many of them: held to a coarser accuracy to keep the test short."""


def named(names):
    return [pytest.param(name, marks=pytest.mark.slow) if name in SLOW else name for name in names]


def total_and_reaction(stack: Stack, coil: WindingSection = COIL, accuracy: float = ACCURACY):
    total = base_solution(BaseProblem(stack, coil, FREQUENCY, accuracy, PROBES))
    return total, reaction_solution(ReactionProblem(stack, (coil,), FREQUENCY, accuracy, PROBES))


# --- two formulations, one field -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", named(SURROUNDINGS))
def test_total_and_reaction_field_agree(name):
    accuracy = 1e-3 if name in COARSE else ACCURACY
    total, reaction = total_and_reaction(SURROUNDINGS[name], accuracy=accuracy)
    found, expected = reaction.flux_linkages[0], total.flux_linkage
    assert found.real == pytest.approx(expected.real, rel=accuracy, abs=0.0)
    # Not a comparison of two coils in air.
    assert abs(reaction.added[0, 0]) > (0.01 if "ribbon" not in name else 1e-7) * abs(found)
    stated = total.inductance_error * expected.real + reaction.inductance_errors[0]
    assert abs(found.real - expected.real) <= stated
    assert abs(found.imag - expected.imag) <= total.resistance_error + reaction.resistance_errors[0]
    # The field above, from the total field's sources and from reciprocity with a dipole there.
    fields = sum(rings.axial_flux_density(np.array(PROBES)) for rings in total.sources)
    assert reaction.axial_fields[0] == pytest.approx(fields, rel=accuracy, abs=0.0)
    stated = np.array(total.field_errors) * np.abs(fields) + reaction.field_errors[0]
    assert np.all(np.abs(reaction.axial_fields[0] - fields) <= stated)


@pytest.mark.parametrize("name", ["nickel-chromium plate", "strong foil", "thick ribbon", "ferrite disc"])
@pytest.mark.parametrize("coil", [LONG, FLAT], ids=["long", "flat"])
def test_total_and_reaction_field_agree_for_other_coils(coil, name):
    stack = _lowered(SURROUNDINGS[name])
    total, reaction = total_and_reaction(stack, coil)
    assert reaction.flux_linkages[0].real == pytest.approx(total.flux_linkage.real, rel=ACCURACY, abs=0.0)
    assert abs(reaction.flux_linkages[0].imag - total.flux_linkage.imag) <= (
        total.resistance_error + reaction.resistance_errors[0]
    )


def _lowered(stack: Stack) -> Stack:
    """Bodies 8 mm lower, to make room for a long coil; layers stay above it."""
    solids = [replace(s, outline=tuple((r, z - 0.008) for r, z in s.outline)) for s in stack.solids]
    return Stack(stack.layers, tuple(solids))


@pytest.mark.parametrize(
    "name", ["weak foil", "strong foil", "thick ribbon", "spiral with joined ends", "thin nickel-chromium plate"]
)
def test_resistances_agree_within_the_accuracy(name):
    # Where the loss is a fair part of the reaction, it is as good as the inductance; elsewhere its own ± says how good.
    total, reaction = total_and_reaction(SURROUNDINGS[name])
    assert reaction.flux_linkages[0].imag == pytest.approx(total.flux_linkage.imag, rel=ACCURACY, abs=0.0)


# --- against other methods -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "material", [NICKEL_CHROMIUM, pytest.param(ALUMINIUM, marks=pytest.mark.slow)], ids=["nickel-chromium", "aluminium"]
)
def test_coil_over_a_plate_against_dodd_and_deeds(material):
    # C. V. Dodd, W. E. Deeds, J. Appl. Phys. 39, 1968, 2829. A plate of 0.3 m stands for one without end.
    stack = plate_stack(material, -0.010, 1e-3, 0.3)
    found = reaction_solution(ReactionProblem(stack, (COIL,), FREQUENCY, 1e-5))
    layers = [(material.conductivity(20.0), 1.0, 1e-3)]
    expected = layered_coil_impedance_change(COIL.raised(0.010), 1.0, FREQUENCY, layers)
    change = 1j * OMEGA * found.added[0, 0]
    assert change.real == pytest.approx(expected.real, rel=1e-5, abs=0.0)
    assert change.imag == pytest.approx(expected.imag, rel=1e-5, abs=0.0)


def test_coupling_through_a_closed_foil_against_ring_circuits():
    # A second coil of nearly no section above the foil, the first below it.
    thin, probe, height = 2e-5, 0.004, 0.020
    second = WindingSection(probe - thin, probe + thin, height - thin, height + thin)
    found = reaction_solution(ReactionProblem(sheet_stack(1200.0, -0.004, 0.06), (COIL, second), FREQUENCY, 1e-3))
    expected = foil_mutual(COIL, 1.0, 0.0, 0.06, -0.004, 1200.0, FREQUENCY, probe, height, 400)
    assert found.added[0, 1] == pytest.approx(expected, rel=2e-3, abs=0.0)
    in_air = winding_mutual_inductance(COIL, 1.0, second, 1.0)
    assert found.mutual_flux_linkage(0, 1) == pytest.approx(in_air + found.added[0, 1], rel=1e-12, abs=0.0)
    assert abs(found.added[0, 1]) > 0.3 * in_air


# --- its own order and errors --------------------------------------------------------------------------------------


def added_on(mesh: SectionMesh, stack: Stack, order: int) -> complex:
    system, field = System(Elements(mesh, order), stack_model(stack, FREQUENCY)), coil_field(COIL)
    answer = system.solve(system.reaction_load(field)[:, None])
    return complex(added_linkages(system, (field,), answer)[0, 0])


@pytest.mark.slow
@pytest.mark.parametrize("order", [2, 3])
def test_inductance_converges_at_twice_the_order_of_the_elements(order):
    stack = plate_stack(NICKEL_CHROMIUM, -0.012, 4e-3, 0.04)
    mesh, values = section_mesh(reaction_plan(stack, (COIL,), FREQUENCY)), []
    for _ in range(3):
        values.append(added_on(mesh, stack, order))
        mesh = refined(mesh, 1)
    steps = np.abs(np.diff(values))
    # ΔL = −2π a(A_s, A_s) up to what is given: its error is the square of the field's.
    assert 2 * order - 0.5 < np.log2(steps[0] / steps[1]) < 2 * order + 0.7
    assert steps[1] < {2: 1e-3, 3: 1e-5}[order] * abs(values[-1])


@pytest.mark.parametrize(
    "name", ["weak foil", "thin nickel-chromium plate", pytest.param("lossy ferrite disc", marks=pytest.mark.slow)]
)
def test_stated_errors_cover_a_much_finer_solution(name):
    coarse, fine = (
        reaction_solution(ReactionProblem(SURROUNDINGS[name], (COIL,), FREQUENCY, accuracy))
        for accuracy in (1e-2, 1e-5)
    )
    difference = coarse.added[0, 0] - fine.added[0, 0]
    assert 0.0 < abs(difference.real) <= coarse.inductance_errors[0]
    assert abs(difference.imag) <= coarse.resistance_errors[0]


def on_plan(plan: MeshPlan, stack: Stack) -> tuple[complex, float]:
    """ΔL [H] and the echo that is stated with it."""
    system, field = System(Elements(refined(section_mesh(plan), 1), 3), stack_model(stack, FREQUENCY)), coil_field(COIL)
    answer = system.solve(system.reaction_load(field)[:, None])
    real, _ = returned_reaction(system, answer[:, 0], answer[:, 0])
    return complex(added_linkages(system, (field,), answer)[0, 0]), real


def test_what_the_boundary_sends_back_is_stated():
    stack = sheet_stack(1200.0, -0.004, 0.06)
    plan = reaction_plan(stack, (COIL,), FREQUENCY)
    far, _ = on_plan(replace(plan, outer_radius=4.0 * plan.outer_radius), stack)
    narrow = replace(plan, outer_radius=0.5 * plan.outer_radius, centre=plan.centre + 0.025)
    near, echo = on_plan(narrow, stack)
    assert 0.7 * echo < abs(near.real - far.real) <= echo
    assert echo > 1e-4 * abs(far)


# --- many coils, one matrix ----------------------------------------------------------------------------------------

SEVERAL = (COIL, WindingSection(0.010, 0.013, -0.008, -0.005), WindingSection(0.03, 0.035, 0.001, 0.003))


@pytest.fixture(scope="module")
def several() -> ReactionSolution:
    return reaction_solution(ReactionProblem(EVERYTHING, SEVERAL, FREQUENCY, 1e-3))


def test_many_coils_at_once_are_each_by_itself_on_one_mesh():
    mesh = section_mesh(reaction_plan(EVERYTHING, SEVERAL, FREQUENCY))
    system, fields = System(Elements(mesh, 3), stack_model(EVERYTHING, FREQUENCY)), tuple(map(coil_field, SEVERAL))
    loads = [system.reaction_load(field)[:, None] for field in fields]
    together = added_linkages(system, fields, system.solve(np.concatenate(loads, axis=1)))
    for number, (field, load) in enumerate(zip(fields, loads, strict=True)):
        alone = added_linkages(system, (field,), system.solve(load))[0, 0]
        assert together[number, number] == pytest.approx(alone, rel=1e-10, abs=0.0)
    assert together == pytest.approx(together.T, rel=1e-9, abs=0.0)
    assert abs(together[0, 1].imag) > 1e-3 * abs(together[0, 1])  # not a trivial equality


@pytest.mark.slow
def test_many_coils_on_their_common_mesh_are_within_the_accuracy_of_their_own(several):
    for number, section in enumerate(SEVERAL):
        alone = reaction_solution(ReactionProblem(EVERYTHING, (section,), FREQUENCY, 1e-4))
        assert several.flux_linkages[number].real == pytest.approx(alone.flux_linkages[0].real, rel=1e-3, abs=0.0)
        errors = several.inductance_errors[number] + alone.inductance_errors[0]
        assert abs(several.added[number, number].real - alone.added[0, 0].real) <= errors


@pytest.mark.slow
def test_every_coil_is_solved_to_the_accuracy(several):
    assert np.all(several.inductance_errors <= 1.1e-3 * several.flux_linkages.real)


def test_a_body_inside_a_winding_is_refused():
    stack = plate_stack(ALUMINIUM, -0.0075, 2e-3, 0.03)
    with pytest.raises(FieldError, match="overlaps solid plate"):
        reaction_solution(ReactionProblem(stack, (COIL,), FREQUENCY, 1e-3))


def test_the_field_above_does_not_hang_on_what_else_is_asked():
    stack = SURROUNDINGS["weak foil"]
    one = reaction_solution(ReactionProblem(stack, (COIL,), FREQUENCY, 1e-3, (0.04, 0.01)))
    two = reaction_solution(ReactionProblem(stack, SEVERAL[1::-1], FREQUENCY, 1e-3, (0.01, 0.04)))
    assert two.axial_fields.shape == two.field_errors.shape == (2, 2)
    assert two.axial_fields[1, ::-1] == pytest.approx(one.axial_fields[0], rel=1e-3, abs=0.0)
    # Each error goes with its own coil and probe: meshes differ little, fields and their errors much.
    assert two.field_errors[1, ::-1] == pytest.approx(one.field_errors[0], rel=0.7, abs=0.0)
    assert one.field_errors[0, 1] > 3.0 * one.field_errors[0, 0]


def test_where_nothing_acts_nothing_is_added():
    glass = Material("glass")
    found = reaction_solution(ReactionProblem(plate_stack(glass, -0.010, 4e-3, 0.1), (COIL,), FREQUENCY, 1e-3, (0.02,)))
    assert found.flux_linkages[0] == winding_self_inductance(COIL, 1.0)
    assert not found.added.any()
    assert found.axial_fields[0] == pytest.approx(winding_flux_density(COIL, 1.0, np.zeros(1), 0.02)[1], rel=1e-12)
    assert found.triangles == 0
