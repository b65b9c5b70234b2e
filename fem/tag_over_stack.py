"""The tag above the surroundings, seen from where base coils lie: solved once a height, for every coil.

By symmetry of the form the flux that a base coil sends through the tag is that of the tag through the coil; so the
solves have the tag as their source and know nothing of the coil.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, log2

import numpy as np

from fem.arrays import Array, ComplexArray
from fem.elements import Elements, values_at
from fem.model import Model, joined, stack_model, tag_model
from fem.refinement import check_count
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import SectionMesh, section_mesh
from geometries.plan import COARSE_CORNER, TAG_WINDING, tag_over_stack_plan
from geometries.section import WindingSection
from geometries.stack import Stack
from geometries.tag import Outline, Tag

ROOM_UNIT = 1e-3
"""The room for windings is this length times powers of 2 [m]: coils of a sweep then share their solves."""


@dataclass(frozen=True, slots=True)
class TagPlace:
    """An upright tag on the axis over a stack, its centre at ``height`` [m].

    ``room`` (radius and depth below the plate [m]) is where windings may lie.
    """

    stack: Stack
    tag: Tag
    frequency: float
    height: float
    room: tuple[float, float]


@dataclass(frozen=True, eq=False)
class TagOverStack:
    """What one ampere in one turn of the tag does, surroundings present.

    Parameters
    ----------
    linkage_change : complex
        Of the tag's flux linkage by the surroundings, per turn² [H].
    linkage : complex
        The tag's alone, on the same mesh [H].
    mapped, missed : ndarray of complex, shape (n_unknown,)
        Potential of the tag with its core as it is alone, which is what the map takes; and what the whole truth adds
        [V s/m].
    """

    linkage_change: complex
    linkage: complex
    mesh: SectionMesh
    order: int
    mapped: ComplexArray
    missed: ComplexArray

    def through_rings(self, radius: Array, height: Array) -> tuple[ComplexArray, ComplexArray]:
        """Flux of ``mapped`` and of ``missed`` through rings in the air, each of shape (n_ring,) [Wb/A]."""
        potentials = np.stack([self.mapped, self.missed], axis=1)
        mapped, missed = 2.0 * np.pi * radius * values_at(self.mesh, self.order, potentials, radius, height).T
        return mapped, missed


def room_for(section: WindingSection) -> tuple[float, float]:
    """Radius and depth of a room that holds a section and many others [m]."""
    deepest = max(-section.bottom, ROOM_UNIT)
    radius, depth = (ROOM_UNIT * 2.0 ** ceil(log2(size / ROOM_UNIT)) for size in (section.outer_radius, deepest))
    return radius, depth


@lru_cache(maxsize=64)
def tag_over_stack(place: TagPlace, order: int = 3) -> TagOverStack:
    """Solve for a tag at one height with elements of one order.

    Raises
    ------
    FieldError, MeshingError
        Where it cannot be solved.
    """
    return solved_on(_mesh(place), place, order)


@lru_cache(maxsize=2)
def _mesh(place: TagPlace) -> SectionMesh:
    """Both orders of one height are asked for one after the other."""
    radius, depth = place.room
    room: Outline = ((radius, -depth), (radius, 0.0))
    plan = tag_over_stack_plan(place.stack, place.tag, place.height, place.frequency, COARSE_CORNER, room)
    mesh = section_mesh(plan)
    check_count(mesh)
    return mesh


def solved_on(mesh: SectionMesh, place: TagPlace, order: int) -> TagOverStack:
    """The same on a given mesh: set against it without tag or without surroundings, the elements' own error cancels."""
    elements = Elements(mesh, order)
    alone, around = tag_model(place.tag, place.frequency), stack_model(place.stack, place.frequency)
    empty = System(elements, Model(2.0 * np.pi * place.frequency))
    load = empty.winding_load(TAG_WINDING, place.tag.section.area)
    by_itself = _answer(elements, alone, load)
    with_all = _answer(elements, joined(around, alone), load)
    scale = 2.0 * np.pi / MAGNETIC_CONSTANT
    own = complex(scale * (load @ by_itself))
    change = complex(scale * (load @ with_all)) - own
    if not alone.bodies:
        return TagOverStack(change, own, mesh, order, with_all, np.zeros_like(with_all))
    mapped = _answer(elements, around, load + _body_load(elements, alone, by_itself))
    return TagOverStack(change, own, mesh, order, mapped, with_all - mapped)


def _answer(elements: Elements, model: Model, load: Array | ComplexArray) -> ComplexArray:
    return np.asarray(System(elements, model).solve(load[:, None])[:, 0])


def _body_load(elements: Elements, model: Model, tag_field: ComplexArray) -> ComplexArray:
    """∫ B(v) · M_t + ∫ v · J_t over core and shield, by unknowns: what they are as sources, in the units of a load."""
    system = System(elements, model)
    load = np.zeros(elements.count, dtype=complex)
    for name in model.bodies:
        members = elements.mesh.regions[name]
        dofs = elements.dofs[:, members]
        contrast, eddy = (1.0 - system.reluctivity[members]), system.eddy[members]
        matrices = contrast[:, None, None] * elements.curl_matrices[members]
        matrices -= eddy[:, None, None] * elements.mass_matrices[members]
        np.add.at(load, dofs, np.einsum("eij,je->ie", matrices, tag_field[dofs]))
    return load
