"""Element matrices of the axisymmetric azimuthal potential, computed once a mesh and order.

Materials are constant in each element, so every term of the weak form is a real matrix per element times a
constant; changing the materials, or asking what one element contributes, costs no new integration.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import skfem
from numpy.typing import NDArray

from fem.arrays import Array, ComplexArray, IndexArray
from fem.graded_rules import chunks
from geometries.meshing import SectionMesh

QUADRATURE_ORDER = 8
"""A/r makes the integrand rational: 2p + 2 for the highest order used, p = 3."""


@dataclass(frozen=True, eq=False)
class Elements:
    """Lagrange elements of one order on a mesh, with what the weak form needs of them.

    Quadrature values have the shape (n_basis, n_element, n_point); ``weights`` (n_element, n_point) hold r dS.

    Parameters
    ----------
    mesh : SectionMesh
        The triangles.
    order : int
        2 or 3.
    """

    mesh: SectionMesh
    order: int

    @cached_property
    def _basis(self) -> skfem.Basis:
        return skfem.Basis(_triangles(self.mesh), _element(self.order), intorder=QUADRATURE_ORDER, disable_doflocs=True)

    @cached_property
    def dofs(self) -> IndexArray:
        """Unknowns of each element, shape (n_basis, n_element)."""
        return np.asarray(self._basis.element_dofs, dtype=np.int64)

    @cached_property
    def count(self) -> int:
        """Number of unknowns."""
        return int(self._basis.N)

    @cached_property
    def free(self) -> IndexArray:
        """Unknowns off the axis, where the potential is not zero by symmetry."""
        mesh, numbering = self._basis.mesh, self._basis.dofs
        on_axis = np.flatnonzero((mesh.p[0][mesh.facets] == 0.0).all(axis=0))
        free = np.ones(self.count, dtype=bool)
        free[numbering.nodal_dofs[:, mesh.facets[:, on_axis]]] = False
        free[numbering.facet_dofs[:, on_axis]] = False
        return np.flatnonzero(free)

    @cached_property
    def rows_and_columns(self) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
        """Where each entry of the element matrices goes, free unknowns counted first, each shape (n_entry,)."""
        places = np.empty(self.count, dtype=np.int32)
        fixed = np.setdiff1d(np.arange(self.count), self.free, assume_unique=True)
        places[np.concatenate([self.free, fixed])] = np.arange(self.count, dtype=np.int32)
        dofs = places[self.dofs.T]
        count = dofs.shape[1]
        return np.repeat(dofs, count, axis=1).ravel(), np.tile(dofs, (1, count)).ravel()

    @cached_property
    def positions(self) -> Array:
        """Quadrature points r, z [m], shape (2, n_element, n_point)."""
        return np.asarray(self._basis.global_coordinates())

    @cached_property
    def weights(self) -> Array:
        """Quadrature weights times r [m³], shape (n_element, n_point)."""
        return np.asarray(self._basis.dx * self.positions[0])

    @cached_property
    def values(self) -> Array:
        """Basis functions at the quadrature points: those of the first element, seen from every one."""
        return np.asarray(np.broadcast_to(self._reference_values[:, None], (self.dofs.shape[0], *self.weights.shape)))

    @cached_property
    def _reference_values(self) -> Array:
        """Basis functions at the quadrature points of a triangle, the same in each, shape (n_basis, n_point)."""
        return np.stack([np.asarray(b[0]).reshape(-1, self.weights.shape[1])[0] for b in self._basis.basis])

    @cached_property
    def curls(self) -> Array:
        """B_r = −∂zA and B_z = (1/r)∂r(rA) of each basis function, shape (2, n_basis, n_element, n_point)."""
        found = np.empty((2, self.dofs.shape[0], *self.weights.shape))
        for number, (basis, values) in enumerate(zip(self._basis.basis, self._reference_values, strict=True)):
            np.negative(basis[0].grad[1], out=found[0, number])
            np.add(basis[0].grad[0], values / self.positions[0], out=found[1, number])
        return found

    @cached_property
    def curl_matrices(self) -> Array:
        """∫ curl φ_i · curl φ_j r dS per element, shape (n_element, n_basis, n_basis)."""
        roots = np.sqrt(self.weights)
        flat = np.empty((roots.shape[0], self.dofs.shape[0], 2, roots.shape[1]))  # element, basis, component, point
        np.multiply(self.curls.transpose(2, 1, 0, 3), roots[:, None, None, :], out=flat)
        rows = flat.reshape(*flat.shape[:2], -1)
        return np.asarray(rows @ rows.transpose(0, 2, 1))

    @cached_property
    def mass_matrices(self) -> Array:
        """∫ φ_i φ_j r dS per element, shape (n_element, n_basis, n_basis)."""
        values = self._reference_values
        count = values.shape[0]
        products = (values[:, None] * values).reshape(count * count, -1)
        return np.asarray(self.weights @ products.T).reshape(-1, count, count)

    @cached_property
    def loads(self) -> Array:
        """∫ φ_i r dS per element, shape (n_element, n_basis)."""
        return np.asarray(self.weights @ self._reference_values.T)

    @cached_property
    def outer(self) -> "Lines":
        """The polygon that stands for the outer half circle."""
        mesh = self._basis.mesh
        edges = mesh.boundary_facets()
        return self._lines(edges[~(mesh.p[0][mesh.facets[:, edges]] == 0.0).all(axis=0)], skfem.FacetBasis)

    @cached_property
    def outer_matrices(self) -> Array:
        """∫ β φ_i φ_j r dl on the outer polygon, with the β that a dipole at its centre needs.

        Notes
        -----
        β = −∂_n(rA)/(rA) = 3 n·x/ρ² − 2 n_r/r for A = r/ρ³; it is 1/R_S on a true circle, and keeps the condition
        exact for the dipole on the chords of a coarse one.
        """
        lines = self.outer
        r, z = lines.positions[0], lines.positions[1] - self.mesh.centre
        n_r, n_z = lines.normals
        coefficient = 3.0 * (n_r * r + n_z * z) / (r * r + z * z) - 2.0 * n_r / r
        return _line_matrices(lines.values, lines.weights * coefficient)

    @cached_property
    def sheets(self) -> dict[str, "Lines"]:
        """The thin layers, by name."""
        return {
            sheet.name: self._lines(self._edges_of(sheet.name), skfem.InteriorFacetBasis) for sheet in self.mesh.sheets
        }

    def _edges_of(self, name: str) -> IndexArray:
        sheet = next(s for s in self.mesh.sheets if s.name == name)
        mesh = self._basis.mesh
        r, z = mesh.p[:, mesh.facets]
        room = 1e-9
        on_line = (np.abs(z - sheet.height) < room).all(axis=0)
        within = (r > sheet.inner_radius - room).all(axis=0) & (r < sheet.outer_radius + room).all(axis=0)
        return np.flatnonzero(on_line & within)

    def _lines(self, edges: IndexArray, kind: type) -> "Lines":
        known = {"mapping": self._basis.mapping, "dofs": self._basis.dofs, "disable_doflocs": True}
        basis = kind(self._basis.mesh, _element(self.order), facets=edges, intorder=QUADRATURE_ORDER, **known)
        positions = np.asarray(basis.global_coordinates())
        values = np.stack([np.broadcast_to(np.asarray(b[0]), positions.shape[1:]) for b in basis.basis])
        slopes = np.stack([b[0].grad[0] for b in basis.basis])
        return Lines(
            elements=np.asarray(basis.tind, dtype=np.int64),
            dofs=np.asarray(basis.element_dofs, dtype=np.int64),
            positions=positions,
            weights=np.asarray(basis.dx * positions[0]),
            values=values,
            normal_fields=slopes + values / positions[0],
            normals=np.asarray(basis.normals),
        )


@dataclass(frozen=True, eq=False)
class Lines:
    """Edges of the mesh and the traces of the basis functions on them.

    ``elements`` (n_edge) are the elements whose functions they are, ``dofs`` (n_basis, n_edge) their unknowns;
    ``weights`` hold r dl; ``normal_fields`` is B_z = (1/r)∂r(rA), the field through a level line; ``normals`` are the
    unit normals r, z (outward on the boundary).
    """

    elements: IndexArray
    dofs: IndexArray
    positions: Array
    weights: Array
    values: Array
    normal_fields: Array
    normals: Array

    @cached_property
    def mass_matrices(self) -> Array:
        """∫ φ_i φ_j r dl per edge, shape (n_edge, n_basis, n_basis)."""
        return _line_matrices(self.values, self.weights)

    @cached_property
    def normal_matrices(self) -> Array:
        """∫ B_n(φ_i) B_n(φ_j) r dl per edge, shape (n_edge, n_basis, n_basis)."""
        return _line_matrices(self.normal_fields, self.weights)


def _line_matrices(values: Array, weights: Array) -> Array:
    flat = np.moveaxis(values, 1, 0)
    return np.asarray((flat * weights[:, None, :]) @ flat.transpose(0, 2, 1))


def _element(order: int) -> skfem.Element:
    return {2: skfem.ElementTriP2, 3: skfem.ElementTriP3}[order]()


@lru_cache(maxsize=2)
def _triangles(mesh: SectionMesh) -> skfem.MeshTri:
    """The mesh for skfem, corners of every triangle in rising order (cubic edges take their direction from it).

    Both orders are built on one mesh in turn: its edges are looked for once.
    """
    return skfem.MeshTri(mesh.points, np.sort(mesh.triangles, axis=0), sort_t=True)


def values_at(mesh: SectionMesh, order: int, coefficients: Array | ComplexArray, r: Array, z: Array) -> ComplexArray:
    """Finite-element functions at places within the mesh.

    Parameters
    ----------
    coefficients : ndarray, shape (n_unknown, n_function)
        As a solution of elements of that order.
    r, z : ndarray, shape (n,)
        [m].

    Returns
    -------
    ndarray of complex, shape (n, n_function)
        On an edge between triangles those of either.
    """
    triangles, element = _triangles(mesh), _element(order)
    members, local = _located(triangles, np.stack([r, z]))
    dofs = skfem.Dofs(triangles, element).element_dofs[:, members]
    mapping = triangles.mapping()
    found = np.zeros((r.size, coefficients.shape[1]), dtype=complex)
    for number, unknowns in enumerate(dofs):
        basis = element.gbasis(mapping, local[:, :, None], number, tind=members)[0]
        found += np.asarray(basis)[:, 0, None] * coefficients[unknowns]
    return found


@dataclass(frozen=True, slots=True, eq=False)
class FieldOnMesh:
    """A solution at the corners and in the middle of each triangle of its mesh.

    Parameters
    ----------
    mesh : SectionMesh
        The triangles.
    potential : ndarray of complex, shape (n_point,)
        A at the mesh's points, 0 on the axis [T m].
    flux_density : ndarray of complex, shape (2, n_triangle)
        B_r and B_z at the triangles' centroids [T].
    """

    mesh: SectionMesh
    potential: ComplexArray
    flux_density: ComplexArray


def field_on_mesh(mesh: SectionMesh, order: int, coefficients: ComplexArray) -> FieldOnMesh:
    """A solution of elements of an order, shape (n_unknown,), as it is at points and centroids."""
    triangles, element = _triangles(mesh), _element(order)
    dofs, mapping = skfem.Dofs(triangles, element).element_dofs, triangles.mapping()
    corner, middle = np.zeros(mesh.points.shape[1], dtype=complex), np.full((2, 1), 1.0 / 3.0)
    corner[triangles.t] = coefficients[dofs[:3]]  # the first unknowns of a Lagrange element are its corners' values
    radius = mesh.points[0][triangles.t].mean(axis=0)
    value, slopes = np.zeros(radius.size, dtype=complex), np.zeros((2, radius.size), dtype=complex)
    for number, unknowns in enumerate(dofs):
        basis = element.gbasis(mapping, middle, number)[0]
        value += np.asarray(basis)[..., 0] * coefficients[unknowns]
        slopes += np.asarray(basis.grad)[..., 0] * coefficients[unknowns]
    return FieldOnMesh(mesh, corner, np.stack([-slopes[1], slopes[0] + value / radius]))


def _located(mesh: skfem.MeshTri, places: Array) -> tuple[IndexArray, Array]:
    """Triangle of each place and the place in that triangle's own coordinates, shapes (n,) and (2, n)."""
    first, second, third = (mesh.p[:, corner] for corner in mesh.t)
    along, across = second - first, third - first
    area = along[0] * across[1] - along[1] * across[0]
    members, local = np.zeros(places.shape[1], dtype=np.int64), np.zeros(places.shape)
    for part in chunks(places.shape[1], area.size):
        offset = places[:, part, None] - first[:, None, :]
        x = (offset[0] * across[1] - offset[1] * across[0]) / area
        y = (along[0] * offset[1] - along[1] * offset[0]) / area
        within = np.minimum(np.minimum(x, y), 1.0 - x - y)
        best = within.argmax(axis=1)
        rows = np.arange(best.size)
        assert np.all(within[rows, best] > -1e-6), "a place outside the mesh"
        members[part], local[:, part] = best, np.stack([x[rows, best], y[rows, best]])
    return members, local
