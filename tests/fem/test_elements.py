"""Integrals over triangles and lines against integrals done by hand."""

import numpy as np
import pytest

from fem.elements import Elements, values_at
from geometries.meshing import section_mesh
from geometries.plan import MeshPlan
from tests.fem.discs import BLOCK, block_plan, cut_plan, interpolated

ORDERS = (2, 3)
(INNER, BOTTOM), (OUTER, _), (_, TOP), _ = BLOCK


@pytest.fixture(scope="module", params=ORDERS)
def block(request):
    return Elements(section_mesh(block_plan(0.3)), request.param)


@pytest.fixture(scope="module", params=ORDERS)
def cut(request):
    return Elements(section_mesh(cut_plan(0.3)), request.param)


def form(matrices, dofs, left, right):
    return np.einsum("ie,eij,je->", left[dofs], matrices, right[dofs])


def test_loads_integrate_the_radius(block):
    members = block.mesh.regions["block"]
    # ∫ r dr dz; the basis functions sum to one.
    expected = 0.5 * (OUTER**2 - INNER**2) * (TOP - BOTTOM)
    assert block.loads[members].sum() == pytest.approx(expected, rel=1e-12, abs=0.0)


def test_mass_of_r_times_z(block):
    members = block.mesh.regions["block"]
    a = interpolated(block, lambda r, z: r * z)
    # ∫ r³ z² dr dz
    expected = (OUTER**4 - INNER**4) / 4.0 * (TOP**3 - BOTTOM**3) / 3.0
    found = form(block.mass_matrices[members], block.dofs[:, members], a, a)
    assert found.real == pytest.approx(expected, rel=1e-10, abs=0.0)


def test_curl_of_r_times_z(block):
    members = block.mesh.regions["block"]
    a, b = interpolated(block, lambda r, z: r * z), interpolated(block, lambda r, z: 0.5 * r)
    # curl(rz) = (−r, 2z), curl(r/2) = (0, 1): ∫ (r² + 4z²) r and ∫ 2z r.
    square = (OUTER**4 - INNER**4) / 4.0 * (TOP - BOTTOM) + 2.0 * (OUTER**2 - INNER**2) * (TOP**3 - BOTTOM**3) / 3.0
    mixed = 0.5 * (OUTER**2 - INNER**2) * (TOP**2 - BOTTOM**2)
    matrices, dofs = block.curl_matrices[members], block.dofs[:, members]
    assert form(matrices, dofs, a, a).real == pytest.approx(square, rel=1e-10, abs=0.0)
    assert form(matrices, dofs, a, b).real == pytest.approx(mixed, rel=1e-10, abs=0.0)


def test_cubic_elements_hold_cubics_and_quadratic_ones_do_not():
    def cubic(r, z):
        return r * z * z

    defects = []
    for order in ORDERS:
        elements = Elements(section_mesh(block_plan(0.3)), order)
        a = interpolated(elements, cubic)
        values = np.einsum("bep,be->ep", elements.values, a[elements.dofs])
        defects.append(np.abs(values - cubic(*elements.positions)).max())
    assert defects[1] < 1e-12 < 1e-4 < defects[0]


def test_axis_is_fixed_and_nothing_else(block):
    a = interpolated(block, lambda r, z: r + 0.0 * z)
    fixed = np.setdiff1d(np.arange(block.count), block.free)
    assert np.abs(a[fixed]).max() < 1e-12
    # Unknowns off the axis see a radius.
    assert np.abs(a[block.free]).min() > 1e-3


def test_sheet_integrals(cut):
    lines = cut.sheets["sheet"]
    a = interpolated(cut, lambda r, z: r * (1.0 + z))
    assert lines.weights.sum() == pytest.approx(0.5, rel=1e-12, abs=0.0)
    # On z = 0: ∫ r² · r dr = 1/4; B_n = (1/r) d(r²)/dr = 2, ∫ 4 r dr = 2.
    assert form(lines.mass_matrices, lines.dofs, a, a).real == pytest.approx(0.25, rel=1e-10, abs=0.0)
    assert form(lines.normal_matrices, lines.dofs, a, a).real == pytest.approx(2.0, rel=1e-10, abs=0.0)


def test_only_the_sheet_s_own_edges_belong_to_it():
    whole = cut_plan()
    half = MeshPlan((), (*(type(s)("sheet", 0.25, 0.75, 0.0, 0.1) for s in whole.sheets),), 0.0, 1.0)
    lines = Elements(section_mesh(half), 2).sheets["sheet"]
    assert lines.weights.sum() == pytest.approx(0.5 * (0.75**2 - 0.25**2), rel=1e-12, abs=0.0)


def test_outer_condition_is_exact_for_a_dipole_at_its_centre(block):
    # β = −∂n(rA)/(rA), so that on every chord B_z n_r − B_r n_z = −βA for A = r/ρ³.
    lines = block.outer
    r, z = lines.positions
    rho2 = r**2 + z**2
    field_r, field_z = 3.0 * r * z / rho2**2.5, (3.0 * z**2 / rho2 - 1.0) / rho2**1.5
    tangential = field_z * lines.normals[0] - field_r * lines.normals[1]
    weak = np.einsum("bep,ep->be", lines.values, lines.weights * -tangential)
    matrices = block.outer_matrices
    # Trace of A fitted on each edge; what the fit leaves falls with the edge's length.
    coefficients = np.stack(
        [np.linalg.lstsq(lines.values[:, e].T, (r / rho2**1.5)[e], rcond=None)[0] for e in range(r.shape[0])]
    )
    found = np.einsum("eij,ej->ie", matrices, coefficients)
    assert np.abs(found - weak).max() < 2e-3 * np.abs(weak).max()


def test_outer_condition_tends_to_one_over_the_radius():
    elements = Elements(section_mesh(block_plan(0.05)), 2)
    lines = elements.outer
    share = elements.outer_matrices.sum() / lines.mass_matrices.sum()
    assert share == pytest.approx(1.0, rel=0.02, abs=0.0)
    assert lines.weights.sum() == pytest.approx(2.0, rel=0.01, abs=0.0)  # ∫ sin θ dθ


def test_both_orders_share_one_search_for_edges():
    mesh = section_mesh(block_plan(0.3))
    assert Elements(mesh, 2)._basis.mesh is Elements(mesh, 3)._basis.mesh


def test_free_unknowns_are_those_off_the_axis(block):
    edges_on_axis = int((block.mesh.points[0] == 0.0).sum()) - 1
    assert block.count - block.free.size == edges_on_axis * block.order + 1


def test_places_of_the_entries_put_free_unknowns_first(block):
    rows, columns = block.rows_and_columns
    count = block.dofs.shape[0]
    order = np.concatenate([block.free, np.setdiff1d(np.arange(block.count), block.free)])
    unknowns = block.dofs.T
    assert np.array_equal(order[rows], np.repeat(unknowns, count, axis=1).ravel())
    assert np.array_equal(order[columns], np.tile(unknowns, (1, count)).ravel())


@pytest.mark.parametrize("order", ORDERS)
def test_values_at_places_reproduce_a_polynomial_of_the_order(order):
    mesh = section_mesh(block_plan(0.3))
    elements = Elements(mesh, order)
    functions = (lambda r, z: r * z + 0.0j, lambda r, z: r ** (order - 1) * z - 2j * r**order + 0.3 * z**order)
    coefficients = np.stack([interpolated(elements, one) for one in functions], axis=1)
    rng = np.random.default_rng(1)
    angle, distance = np.pi * rng.random(400), 0.95 * np.sqrt(rng.random(400))
    r, z = distance * np.sin(angle), distance * np.cos(angle)
    found = values_at(mesh, order, coefficients, r, z)
    for column, one in zip(found.T, functions, strict=True):
        assert np.abs(column - one(r, z)).max() < 1e-10
    # One more degree is beyond them.
    beyond = values_at(mesh, order, interpolated(elements, lambda r, z: r * z**order)[:, None], r, z)[:, 0]
    assert np.abs(beyond - r * z**order).max() > 1e-5


def test_values_at_corners_and_on_edges_are_those_of_either_triangle():
    mesh = section_mesh(block_plan(0.3))
    elements = Elements(mesh, 3)
    coefficients = interpolated(elements, lambda r, z: r * r * z + 1j * z**3)[:, None]
    first, second = mesh.points[:, mesh.triangles[0]], mesh.points[:, mesh.triangles[1]]
    middles = 0.5 * (first + np.roll(first, 1, axis=1))
    r, z = np.concatenate([first, second, middles], axis=1)
    assert values_at(mesh, 3, coefficients, r, z)[:, 0] == pytest.approx(r * r * z + 1j * z**3, rel=0.0, abs=1e-10)


def test_values_at_places_outside_the_mesh_are_refused():
    mesh = section_mesh(block_plan(0.3))
    elements = Elements(mesh, 2)
    with pytest.raises(AssertionError, match="outside the mesh"):
        values_at(mesh, 2, np.zeros((elements.count, 1)), np.array([0.8]), np.array([0.8]))
