"""The weak form: its convergence, its balances, and the identities that its symmetry gives."""

from functools import cache
from math import pi

import numpy as np
import pytest
from scipy.special import j0, j1, jn_zeros

from fem.closed_forms import winding_flux_density, winding_self_inductance, winding_vector_potential
from fem.elements import Elements
from fem.errors import FieldError
from fem.model import Body, Model, SheetTerms, stack_model
from fem.refinement import refined
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, base_plan
from geometries.stack import Layer, Stack
from tests.fem.cases import (
    ALUMINIUM,
    COIL,
    DRUM_TAG,
    FREQUENCY,
    LOSSY_FERRITE,
    NICKEL_CHROMIUM,
    lossy,
    plate_stack,
)
from tests.fem.discs import (
    axis_mesh,
    axis_system,
    block_plan,
    cut_plan,
    field_error,
    linkages,
    two_coil_loads,
)

ORDERS = (2, 3)
SCALE = 2.0 * pi / MAGNETIC_CONSTANT
OMEGA = 2.0 * pi * FREQUENCY


# --- convergence -------------------------------------------------------------------------------------------------


def boundary_load(system, potential, radial, axial):
    """∮ (B_z n_r − B_r n_z + βA) v r dl on the outer polygon: what an exact field brings from outside."""
    lines = system.elements.outer
    r, z = lines.positions
    beta = 3.0 * (lines.normals[0] * r + lines.normals[1] * z) / (r * r + z * z) - 2.0 * lines.normals[0] / r
    density = axial(r, z) * lines.normals[0] - radial(r, z) * lines.normals[1] + beta * potential(r, z)
    load = np.zeros(system.elements.count, dtype=complex)
    np.add.at(load, lines.dofs, (lines.values * (density * lines.weights)).sum(axis=-1))
    return load


def rate(errors):
    return np.log2(errors[0] / errors[1])


def body_errors(order):
    """Curl-curl and mass: A = J1(αr) cos(βz + 1) driven by the current (α² + β² + jωμ0σ) A."""
    alpha, beta, sigma, omega = 3.0, 2.0, 4e6, 2.0
    eddy = 1j * omega * MAGNETIC_CONSTANT * sigma

    def potential(r, z):
        return j1(alpha * r) * np.cos(beta * z + 1.0)

    def radial(r, z):
        return beta * j1(alpha * r) * np.sin(beta * z + 1.0)

    def axial(r, z):
        return alpha * j0(alpha * r) * np.cos(beta * z + 1.0)

    mesh, errors = section_mesh(block_plan()), []
    for _ in range(3):
        system = System(Elements(mesh, order), Model(omega, {"block": Body(1.0, sigma)}))
        elements = system.elements
        factor = np.full(elements.weights.shape, alpha**2 + beta**2, dtype=complex)
        factor[mesh.regions["block"]] += eddy
        density = factor * potential(*elements.positions) * elements.weights
        load = boundary_load(system, potential, radial, axial)
        np.add.at(load, elements.dofs, (elements.values * density).sum(axis=-1))
        found = system.solve(load[:, None])[:, 0]
        exact = radial(*elements.positions), axial(*elements.positions)
        errors.append(field_error(elements, found, exact))
        mesh = refined(mesh, 1)
    return errors


def sheet_errors(order, terms, strength):
    """A sheet across the disc and a plane wave from above: J1(αr) (e^{αz} + Γ e^{−αz}) above, T J1(αr) e^{αz} below.

    α is chosen so that B_n vanishes on the rim, where a ribbon layer that ends would otherwise need an edge term.
    """
    alpha = float(jn_zeros(0, 1)[0])
    q = strength(alpha)
    reflection, transmission = -q / (1.0 + q), 1.0 / (1.0 + q)

    def parts(z):
        up, down = np.exp(-alpha * np.abs(z)), np.exp(alpha * z)
        above = z > 0.0
        return np.where(above, down + reflection * up, transmission * down), np.where(
            above, alpha * (down - reflection * up), alpha * transmission * down
        )

    def potential(r, z):
        return j1(alpha * r) * parts(z)[0]

    def radial(r, z):
        return -j1(alpha * r) * parts(z)[1]

    def axial(r, z):
        return alpha * j0(alpha * r) * parts(z)[0]

    mesh, errors = section_mesh(cut_plan()), []
    for _ in range(3):
        system = System(Elements(mesh, order), Model(2.0, {}, {"sheet": terms}))
        load = boundary_load(system, potential, radial, axial)
        found = system.solve(load[:, None])[:, 0]
        exact = radial(*system.elements.positions), axial(*system.elements.positions)
        errors.append(field_error(system.elements, found, exact))
        mesh = refined(mesh, 1)
    return errors


@pytest.mark.parametrize("order", ORDERS)
def test_curl_and_mass_converge_at_the_order_of_the_elements(order):
    errors = body_errors(order)
    assert order - 0.15 < rate(errors[1:]) < order + 0.3
    assert errors[2] < {2: 2e-2, 3: 5e-4}[order]


@pytest.mark.parametrize("order", ORDERS)
def test_closed_sheets_converge_at_the_order_of_the_elements(order):
    conductance = 1.3 / (2.0 * MAGNETIC_CONSTANT)  # jωμ0σt = 1.3j at ω = 2
    errors = sheet_errors(order, SheetTerms(conductance=conductance), lambda alpha: 1.3j / (2.0 * alpha))
    assert order - 0.15 < rate(errors[1:]) < order + 0.3
    assert errors[2] < {2: 2e-2, 3: 5e-4}[order]


@pytest.mark.parametrize("order", ORDERS)
def test_ribbon_sheets_converge_at_the_order_of_the_elements(order):
    length = 0.2 + 0.5j
    errors = sheet_errors(order, SheetTerms(magnetisation=length), lambda alpha: length * alpha / 2.0)
    assert order - 0.15 < rate(errors[1:]) < order + 0.3
    assert errors[2] < {2: 2e-2, 3: 5e-4}[order]


# --- identities of the code: they test it, not the accuracy ------------------------------------------------------


@cache
def everything():
    """Coil, lossy drum, an aluminium plate, a closed foil and a ribbon layer, all on one axis."""
    layers = (
        Layer("foil", "foil", NICKEL_CHROMIUM, -0.0029, 2e-5, 0.06),
        Layer("heater", "meander", NICKEL_CHROMIUM, -0.0039, 2e-4, 0.06, ribbon_width=2.5e-3, pitch=4e-3),
    )
    stack = Stack(layers, plate_stack(ALUMINIUM, -0.012, 1e-3, 0.05).solids)
    tag = lossy(DRUM_TAG)
    system = axis_system(axis_mesh(stack, tag, 0.012), stack, tag)
    loads = two_coil_loads(system, tag)
    return system, loads, system.solve(loads)


def test_the_form_is_symmetric():
    system, _, _ = everything()
    skew = (system.matrix - system.matrix.T).tocoo()
    assert np.abs(skew.data).max(initial=0.0) <= 1e-14 * np.abs(system.matrix.data).max()


def test_identity_reciprocity():
    system, loads, potentials = everything()
    found = linkages(system, loads, potentials)
    assert found[0, 1] == pytest.approx(found[1, 0], rel=1e-9, abs=0.0)
    assert abs(found[0, 1].imag) > 1e-3 * abs(found[0, 1])  # the foil turns the phase: not a trivial equality


def test_identity_inductance_by_flux_and_by_energy():
    system, loads, potentials = everything()
    for number, flux_linkage in enumerate(np.diag(linkages(system, loads, potentials))):
        energy, _ = energy_and_loss(system, potentials[:, number])
        assert 2.0 * energy == pytest.approx(flux_linkage.real, rel=1e-9, abs=0.0)


def test_identity_loss_by_fields_and_reflected_resistance():
    system, loads, potentials = everything()
    for number, flux_linkage in enumerate(np.diag(linkages(system, loads, potentials))):
        _, loss = energy_and_loss(system, potentials[:, number])
        assert 2.0 * loss == pytest.approx(-OMEGA * flux_linkage.imag, rel=1e-9, abs=0.0)


def energy_and_loss(system, potential):
    """½ ∫ Re ν |B|² with what lies outside [J], and ½ ω ∫ (Im ν |B|² + ωσ|A|²) with the sheets' [W], both by fields."""
    elements, tag = system.elements, LOSSY_FERRITE.permeability
    field = np.einsum("cbep,be->cep", elements.curls, potential[elements.dofs])
    values = np.einsum("bep,be->ep", elements.values, potential[elements.dofs])
    square = (np.abs(field) ** 2).sum(axis=0) * elements.weights
    core, plate = elements.mesh.regions["tag core"], elements.mesh.regions["solid plate"]
    # ν = (μ' + jμ'')/(μ0|μ|²)
    nu = np.ones(square.shape[0], dtype=complex)
    nu[core] = np.conj(tag) / abs(tag) ** 2
    energy = pi / MAGNETIC_CONSTANT * (square.sum(axis=1) * nu.real).sum()
    loss = pi * OMEGA / MAGNETIC_CONSTANT * (square.sum(axis=1) * nu.imag).sum()
    conductivity = ALUMINIUM.conductivity(20.0)
    loss += pi * OMEGA**2 * conductivity * (np.abs(values[plate]) ** 2 * elements.weights[plate]).sum()
    outer = elements.outer
    edge = np.einsum("bep,be->ep", outer.values, potential[outer.dofs])
    r, z = outer.positions[0], outer.positions[1] - elements.mesh.centre
    beta = 3.0 * (outer.normals[0] * r + outer.normals[1] * z) / (r * r + z * z) - 2.0 * outer.normals[0] / r
    energy += pi / MAGNETIC_CONSTANT * (beta * np.abs(edge) ** 2 * outer.weights).sum()
    foil, heater = elements.sheets["layer foil"], elements.sheets["layer heater"]
    along = np.einsum("bep,be->ep", foil.values, potential[foil.dofs])
    conductance = NICKEL_CHROMIUM.conductivity(20.0) * 2e-5
    loss += pi * OMEGA**2 * conductance * (np.abs(along) ** 2 * foil.weights).sum()
    normal = np.einsum("bep,be->ep", heater.normal_fields, potential[heater.dofs])
    through = pi / MAGNETIC_CONSTANT * (np.abs(normal) ** 2 * heater.weights).sum()
    length = system.model.sheets["layer heater"].magnetisation
    return energy + through * length.real, loss + OMEGA * through * length.imag


# --- loads and solving -------------------------------------------------------------------------------------------


def test_reaction_field_and_total_field_agree():
    # DESIGN 4.7 against 4.1, with a conductor, a foil and a ribbon layer (the coil's own closed form is the source).
    system, loads, _ = everything()
    system = System(system.elements, system.model.without("tag core"))

    def given(r, z):
        radial, axial = winding_flux_density(COIL, 1.0, r, z)
        return winding_vector_potential(COIL, 1.0, r, z), radial, axial

    answer = system.solve(system.reaction_load(given)[:, None])[:, 0]
    air = System(system.elements, Model(OMEGA)).solve(loads[:, :1])[:, 0]
    total = system.solve(loads[:, :1])[:, 0]
    by_reaction = SCALE * (loads[:, 0] @ answer)
    by_total = SCALE * (loads[:, 0] @ (total - air))
    assert by_reaction == pytest.approx(by_total, rel=1e-3, abs=0.0)
    assert abs(by_total) > 0.1 * winding_self_inductance(COIL, 1.0)


def test_winding_load_is_one_ampere_of_current():
    system = System(Elements(section_mesh(base_plan(Stack(), COIL, FREQUENCY)), 2), Model(OMEGA))
    load = system.winding_load(BASE_WINDING, COIL.area)
    # μ0 ∫ J r dS = μ0 r_mean for one ampere.
    assert load.sum() == pytest.approx(MAGNETIC_CONSTANT * COIL.mean_radius, rel=1e-12, abs=0.0)


def test_real_and_complex_arithmetic_agree():
    elements = Elements(section_mesh(block_plan(0.3)), 2)
    plain, nearly = Model(2.0, {"block": Body(0.01)}), Model(2.0, {"block": Body(0.01 + 1e-300j)})
    load = np.zeros((elements.count, 1), dtype=complex)
    load[elements.free[::7], 0] = 1.0 + 2.0j
    real, mixed = System(elements, plain), System(elements, nearly)
    assert real.matrix.dtype == float
    assert mixed.matrix.dtype == complex
    assert real.solve(load) == pytest.approx(mixed.solve(load), rel=1e-10, abs=1e-14)


def test_what_is_factorised_is_the_whole_matrix_off_the_axis():
    stack = Stack((Layer("foil", "foil", NICKEL_CHROMIUM, -0.0029, 2e-5, 0.06),))
    elements = Elements(section_mesh(base_plan(stack, COIL, FREQUENCY)), 3)
    system, free = System(elements, stack_model(stack, FREQUENCY)), elements.free
    whole = system.matrix[free][:, free]
    assert abs(system._free_matrix - whole).max() < 1e-14 * abs(whole).max()
    # Nothing is lost of the lines' own terms where they are added to their elements'.
    total = system.element_matrices.sum() + sum(matrices.sum() for _, matrices in system.line_matrices)
    assert system.matrix.sum() == pytest.approx(total, rel=1e-9, abs=0.0)


def test_a_solve_that_leaves_a_residual_is_refused(monkeypatch):
    system = System(Elements(section_mesh(block_plan(0.3)), 2), Model(2.0))
    monkeypatch.setattr(System, "_solve_free", lambda self, right: 1.001 * self._factors.solve(right))
    with pytest.raises(FieldError, match=r"relative residual of 1\.0e-03; ask for a coarser accuracy"):
        system.solve(np.ones((system.elements.count, 1)))


def test_a_singular_matrix_is_refused():
    system = System(Elements(section_mesh(block_plan(0.3)), 2), Model(2.0, {"block": Body(0.0)}))
    # Nothing holds A inside a region of no reluctivity.
    with pytest.raises(FieldError, match=r"could not be factorised|relative residual"):
        system.solve(np.ones((system.elements.count, 1)))
