"""Lowest-order edge elements on tetrahedra: what the weak form in three dimensions needs of a mesh."""

from dataclasses import dataclass

import numpy as np
import skfem

from fem.arrays import Array, IndexArray
from geometries.ball_meshing import BallMesh

BODY_QUADRATURE = 3
"""Order of the rule inside bodies: the elements are of the first order, given fields bend a little."""


@dataclass(frozen=True, slots=True, eq=False)
class BodyElements:
    """The elements of one body with their quadrature points.

    Parameters
    ----------
    members : ndarray of int64, shape (n_element,)
        Which elements of the mesh.
    dofs : ndarray of int64, shape (6, n_element)
        Edges of each.
    values : ndarray, shape (6, 3, n_element, n_point)
        Basis functions [1/m].
    positions : ndarray, shape (3, n_element, n_point)
        [m].
    weights : ndarray, shape (n_element, n_point)
        dV [m³].
    """

    members: IndexArray
    dofs: IndexArray
    values: Array
    positions: Array
    weights: Array


@dataclass(frozen=True, slots=True, eq=False)
class EdgeElements:
    """Edge elements of a ball; one unknown an edge, the line integral of the potential along it.

    Parameters
    ----------
    count : int
        Number of edges.
    dofs : ndarray of int64, shape (6, n_element)
        Edges of each element.
    curls : ndarray, shape (6, 3, n_element)
        Curl of each basis function, constant in an element [1/m²].
    volumes : ndarray, shape (n_element,)
        [m³].
    bodies : dict of str to BodyElements
        The elements of each region of the mesh.
    outer_dofs : ndarray of int64, shape (6, n_face)
        Edges of the elements on the sphere.
    outer_masses : ndarray, shape (6, 6, n_face)
        ∫ u_t · v_t dS of their basis functions, u_t the part along the surface [1].
    radius : float
        Of the ball [m].
    """

    count: int
    dofs: IndexArray
    curls: Array
    volumes: Array
    bodies: dict[str, BodyElements]
    outer_dofs: IndexArray
    outer_masses: Array
    radius: float


def edge_elements(mesh: BallMesh) -> EdgeElements:
    """The elements of a mesh; skfem's own, larger tables are let go."""
    tetrahedra, element = skfem.MeshTet(mesh.points, mesh.tetrahedra), skfem.ElementTetN0()
    basis = skfem.CellBasis(tetrahedra, element, intorder=1)
    dofs = np.asarray(basis.element_dofs, dtype=np.int64)
    curls = np.stack([np.asarray(function[0].curl)[..., 0] for function in basis.basis])
    bodies = {name: _body(tetrahedra, members, dofs) for name, members in mesh.regions.items()}
    outer = skfem.FacetBasis(tetrahedra, element, intorder=2)
    outer_dofs = np.asarray(outer.element_dofs, dtype=np.int64)
    volumes = np.asarray(basis.dx.sum(axis=1))
    return EdgeElements(int(basis.N), dofs, curls, volumes, bodies, outer_dofs, _tangential_masses(outer), mesh.radius)


def _body(tetrahedra: skfem.MeshTet, members: IndexArray, dofs: IndexArray) -> BodyElements:
    basis = skfem.CellBasis(tetrahedra, skfem.ElementTetN0(), intorder=BODY_QUADRATURE, elements=members)
    values = np.stack([np.asarray(function[0]) for function in basis.basis])
    positions = np.asarray(basis.global_coordinates())
    return BodyElements(members, dofs[:, members], values, positions, np.asarray(basis.dx))


def _tangential_masses(basis: skfem.FacetBasis) -> Array:
    values = np.stack([np.asarray(function[0]) for function in basis.basis])
    normal = np.asarray(basis.normals)
    along = values - (values * normal).sum(axis=1, keepdims=True) * normal
    return np.asarray(np.einsum("icfq,jcfq,fq->ijf", along, along, np.asarray(basis.dx), optimize=True))
