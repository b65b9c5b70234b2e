"""Half discs to try elements on: simple plans, and solved potentials put together by hand."""

from math import pi

import numpy as np

from fem.arrays import ComplexArray
from fem.elements import Elements
from fem.model import joined, stack_model, tag_model
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import SectionMesh, section_mesh
from geometries.plan import BASE_WINDING, TAG_CORE, TAG_WINDING, MeshPlan, Region, Sheet, axis_plan
from geometries.stack import Stack
from geometries.tag import Outline, Tag
from tests.fem.cases import COIL, FREQUENCY

BLOCK: Outline = ((0.2, -0.3), (0.6, -0.3), (0.6, 0.4), (0.2, 0.4))


def block_plan(size: float = 0.15) -> MeshPlan:
    """A half disc of radius 1 m with one rectangular region called ``block``."""
    return MeshPlan((Region("block", BLOCK, size, size),), (), 0.0, 1.0)


def cut_plan(size: float = 0.2) -> MeshPlan:
    """A half disc of radius 1 m that a sheet called ``sheet`` cuts in two, from the axis to the outer half circle."""
    return MeshPlan((), (Sheet("sheet", 0.0, 1.0, 0.0, size),), 0.0, 1.0)


def sphere_plan(radius: float, sides: int, size: float) -> MeshPlan:
    """A polygon of ``sides`` sides, its corners on a half circle, that stands for a sphere in place of a tag's core."""
    angles = pi * np.arange(sides + 1) / sides
    corners = [(float(radius * np.sin(a)), float(-radius * np.cos(a))) for a in angles]
    corners[0], corners[-1] = (0.0, -radius), (0.0, radius)
    return MeshPlan((Region(TAG_CORE, tuple(corners), size, size),), (), 0.0, 6.0 * radius)


def axis_mesh(stack: Stack, tag: Tag, height: float) -> SectionMesh:
    """Mesh of coil, surroundings and tag on one axis."""
    return section_mesh(axis_plan(stack, COIL, tag, height, FREQUENCY))


def axis_system(mesh: SectionMesh, stack: Stack, tag: Tag, order: int = 3) -> System:
    """All of it as one system."""
    return System(Elements(mesh, order), joined(stack_model(stack, FREQUENCY), tag_model(tag, FREQUENCY)))


def two_coil_loads(system: System, tag: Tag) -> np.ndarray:
    """Right-hand sides of the base coil and of the tag coil, shape (n_unknown, 2)."""
    base = system.winding_load(BASE_WINDING, COIL.area)
    return np.stack([base, system.winding_load(TAG_WINDING, tag.section.area)], axis=1)


def linkages(system: System, loads: np.ndarray, potentials: ComplexArray) -> ComplexArray:
    """Flux linkages per turn² [H], shape (n_winding, n_load)."""
    return np.asarray(2.0 * pi / MAGNETIC_CONSTANT * (loads.T @ potentials))


def interpolated(elements: Elements, function: "object") -> np.ndarray:
    """Coefficients of the function nearest to ``function(r, z)`` at the quadrature points of each element.

    Found by least squares element by element, so that nothing of the library's own interpolation is used; shared
    unknowns agree where the elements can represent the function.
    """
    coefficients = np.zeros(elements.count, dtype=complex)
    for element in range(elements.dofs.shape[1]):
        values = function(*elements.positions[:, element])  # type: ignore[operator]
        found = np.linalg.lstsq(elements.values[:, element].T, values, rcond=None)[0]
        coefficients[elements.dofs[:, element]] = found
    return coefficients


def field_error(elements: Elements, potential: ComplexArray, exact: tuple[np.ndarray, np.ndarray]) -> float:
    """Root of ∫ |curl A_h − B|² r dS against an exact B_r, B_z at the quadrature points."""
    field = np.einsum("cbep,be->cep", elements.curls, potential[elements.dofs])
    square = np.abs(field[0] - exact[0]) ** 2 + np.abs(field[1] - exact[1]) ** 2
    return float(np.sqrt((square * elements.weights).sum()))
