"""Finer meshes where the error is."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import skfem

from fem.arrays import Array, ComplexArray, IndexArray
from fem.elements import Elements
from fem.errors import AccuracyError, FieldError
from fem.estimate import TwoOrders, estimated_error
from fem.model import Model
from fem.system import System
from geometries.meshing import SectionMesh

MARKED_SHARE = 0.9
"""Share of the summed error that the marked elements carry."""

ROUNDS = 9
LARGEST_COUNT = 60_000
"""Triangles of the largest mesh that is solved on: both orders of elements together take 31 kB each, 1.9 GB."""

Loads = Callable[[System], ComplexArray]
Size = Callable[[System, ComplexArray], complex]
"""What a goal amounts to, from a discretisation and its solution."""


@dataclass(frozen=True, slots=True)
class Goal:
    """A terminal quantity 2π a(A_first, A_second) to be refined for, and the accuracy wanted of it.

    ``value`` gives its size from the cubic solution; the goal is met where quadratic and cubic elements differ by at
    most ``accuracy`` times that.
    """

    first: int
    second: int
    accuracy: float
    value: Size


@dataclass(frozen=True, eq=False)
class Solved:
    """A solution on the mesh it was refined to, with the estimated error of each goal, and of its imaginary part."""

    orders: TwoOrders
    errors: tuple[float, ...]
    loss_errors: tuple[float, ...]
    rounds: int

    @property
    def system(self) -> System:
        """The cubic discretisation."""
        return self.orders.cubic

    @property
    def potentials(self) -> ComplexArray:
        """The cubic solution, shape (n_unknown, n_load)."""
        return self.orders.fine


def solved_to_accuracy(
    mesh: SectionMesh, model: Model, loads: Loads, goals: tuple[Goal, ...], strict: bool = True
) -> Solved:
    """Solve, estimate and refine until every goal is met.

    Raises
    ------
    AccuracyError
        Where the largest mesh or the last round still misses a goal; with ``strict`` off the last solution is
        returned with the error it has.
    FieldError
        Where the first mesh is larger already than any that fits into memory.
    """
    check_count(mesh)
    for count in range(1, ROUNDS + 1):
        orders = both_orders(mesh, model, loads)
        contributions = [orders.contributions(g.first, g.second) for g in goals]
        sizes = [abs(g.value(orders.cubic, orders.fine)) for g in goals]
        differences = [estimated_error(c) for c in contributions]
        missed = [i for i, g in enumerate(goals) if differences[i] > g.accuracy * sizes[i]]
        if not missed:
            return _solved(orders, goals, count)
        indicator = sum(np.abs(contributions[i]) / (goals[i].accuracy * sizes[i]) for i in missed)
        finer = refined_within(mesh, marked(np.asarray(indicator)))
        if count == ROUNDS or finer is None:
            if not strict:
                return _solved(orders, goals, count)
            worst = max(differences[i] / sizes[i] for i in missed)
            raise AccuracyError(
                f"quadratic and cubic elements still differ by {worst:.1e} after {count} meshes, the last of "
                f"{mesh.triangles.shape[1]} triangles; ask for a larger study.accuracy"
            )
        mesh = finer
        del orders  # the factors of this mesh make room for those of the next
    raise AssertionError("the last round returns or raises")


def check_count(mesh: SectionMesh) -> None:
    """Refuse a mesh that no memory holds, with a FieldError."""
    count = mesh.triangles.shape[1]
    if count > LARGEST_COUNT:
        raise FieldError(
            f"the mesh that these sizes ask for has {count} triangles, more than the {LARGEST_COUNT} that fit into "
            "memory; leave out what is thin or small beside the rest, or make it thicker"
        )


def _solved(orders: TwoOrders, goals: tuple[Goal, ...], rounds: int) -> Solved:
    errors = tuple(orders.remaining_error(goal.first, goal.second) for goal in goals)
    losses = tuple(orders.remaining_loss_error(goal.first, goal.second) for goal in goals)
    return Solved(orders, errors, losses, rounds)


def both_orders(mesh: SectionMesh, model: Model, loads: Loads) -> TwoOrders:
    """The same loads with quadratic and cubic elements."""
    systems = [System(Elements(mesh, order), model) for order in (2, 3)]
    coarse, fine = (system.solve(loads(system)) for system in systems)
    return TwoOrders(systems[0], systems[1], coarse, fine)


def refined_within(mesh: SectionMesh, elements: IndexArray) -> SectionMesh | None:
    """The mesh with as many of the elements split, the first ones first, as memory holds; None where that is none."""
    while elements.size:
        finer = refined(mesh, elements)
        if finer.triangles.shape[1] <= LARGEST_COUNT:
            return finer
        elements = elements[: elements.size // 2]
    return None


def marked(indicator: Array) -> IndexArray:
    """The fewest elements that carry ``MARKED_SHARE`` of the summed indicator."""
    order = np.argsort(indicator)[::-1]
    carried = np.cumsum(indicator[order])
    return order[: int(np.searchsorted(carried, MARKED_SHARE * carried[-1])) + 1]


def refined(mesh: SectionMesh, elements: IndexArray | int) -> SectionMesh:
    """The mesh with the given elements split (or all of them, that many times); new outer nodes go onto the circle."""
    before = skfem.MeshTri(mesh.points, mesh.triangles).with_subdomains(mesh.regions)
    after = before.refined(elements)
    points = after.p.copy()
    edges = after.boundary_facets()
    outer = np.unique(after.facets[:, edges[~(points[0][after.facets[:, edges]] == 0.0).all(axis=0)]])
    offset = points[:, outer] - np.array([[0.0], [mesh.centre]])
    points[:, outer] = np.array([[0.0], [mesh.centre]]) + offset * (mesh.outer_radius / np.hypot(*offset))
    points[0, outer[offset[0] == 0.0]] = 0.0
    regions = {name: np.asarray(found, dtype=np.int64) for name, found in (after.subdomains or {}).items()}
    triangles = np.ascontiguousarray(after.t.astype(np.int64))
    return SectionMesh(points, triangles, regions, mesh.sheets, mesh.centre, mesh.outer_radius)
