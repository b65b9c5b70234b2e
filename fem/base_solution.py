"""The base coil with its surroundings and no tag, solved once: inductance, reflected resistance, sources."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fem.air_field import AirField, AirSpace, air_field
from fem.arrays import ComplexArray
from fem.boundary import returned_flux_linkage
from fem.closed_forms import winding_flux_density
from fem.dipole import axial_dipole
from fem.elements import FieldOnMesh, field_on_mesh
from fem.model import stack_model
from fem.refinement import Goal, Size, Solved, solved_to_accuracy
from fem.sources import Rings, induced_rings, winding_rings
from fem.system import System
from fem.tag_solution import field_square_length
from fem.volume_integral import base_field
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, base_plan
from geometries.section import WindingSection
from geometries.stack import Stack

PLATE_REACH, PLATE_POINTS = 1.6, 80
"""How far out on the plate the field is looked at, in outer radii of the winding, and at how many places."""


@dataclass(frozen=True, slots=True)
class BaseProblem:
    """What the base field depends on; turns and wire play no part.

    ``probe_heights`` [m] are the heights on the axis at which the accuracy of the field is watched.
    """

    stack: Stack
    section: WindingSection
    frequency: float
    accuracy: float
    probe_heights: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class BaseSolution:
    """A base coil in its surroundings, everything for one ampere in one turn.

    Parameters
    ----------
    flux_linkage : complex
        Per turn² [H]; L = N² Re, reflected resistance = −ω N² Im.
    sources : tuple of Rings
        Winding first, then each body and thin layer.
    moment : complex
        Magnetic moment of everything together [m²].
    field_square_length : float
        ∫ |H|² 2πr dS / section area per ampere-turn² [A²/m per A²].
    inductance_error, resistance_error : float
        Estimated, relative to Re and [H] for Im of ``flux_linkage``.
    field_square_error : float
        Estimated relative error of ``field_square_length``: what cubic elements change of it, by the share that the
        flux linkage's own change leaves.
    field_errors : tuple of float
        Estimated relative error of the axial field at each probe height.
    triangles, unknowns, rounds : int
        Size of the last mesh and how many there were.
    """

    flux_linkage: complex
    sources: tuple[Rings, ...]
    moment: complex
    field_square_length: float
    inductance_error: float
    resistance_error: float
    field_square_error: float
    field_errors: tuple[float, ...]
    triangles: int
    unknowns: int
    rounds: int

    @property
    def top(self) -> float:
        """Height of the highest source [m]."""
        return max(rings.top for rings in self.sources)

    def air_field(self, space: AirSpace, tolerance: float) -> AirField:
        """The field in a space clear of all sources, as a series truncated at ``tolerance``."""
        return _air_field_of(self, space, tolerance)

    def greatest_on_plate(self, outer_radius: float) -> float:
        """Greatest flux density on the plate's top surface, for a winding of ``outer_radius`` [m] [T]."""
        r = np.linspace(0.02, PLATE_REACH, PLATE_POINTS) * outer_radius
        _, radial, axial = base_field(self.sources, r, np.zeros_like(r))
        return float(np.sqrt(np.abs(radial) ** 2 + np.abs(axial) ** 2).max())


@lru_cache(maxsize=16)
def _air_field_of(solution: BaseSolution, space: AirSpace, tolerance: float) -> AirField:
    """Candidates that differ in turns, wire or drive ask for the same series."""
    return air_field(list(solution.sources), space, tolerance)


@lru_cache(maxsize=64)
def base_solution(problem: BaseProblem) -> BaseSolution:
    """Solve the base coil's field to the wanted accuracy of L and of the field at the probe heights.

    Raises
    ------
    AccuracyError, FieldError, MeshingError
        Where it cannot be solved.
    """
    return _gathered(problem, *_solved(problem))


def base_field_on_mesh(problem: BaseProblem) -> FieldOnMesh:
    """The same field, on the mesh it was solved on, for one ampere in one turn; solved anew.

    Raises
    ------
    AccuracyError, FieldError, MeshingError
        Where it cannot be solved.
    """
    solved, _ = _solved(problem)
    return field_on_mesh(solved.system.elements.mesh, solved.system.elements.order, solved.potentials[:, 0])


def _solved(problem: BaseProblem) -> tuple[Solved, list[Size]]:
    """The winding's potential, then those of dipoles at the probes; and what the field at each probe amounts to."""
    model = stack_model(problem.stack, problem.frequency)
    mesh = section_mesh(base_plan(problem.stack, problem.section, problem.frequency))
    probes = tuple(axial_dipole(height) for height in problem.probe_heights)

    def loads(system: System) -> ComplexArray:
        columns = [system.winding_load(BASE_WINDING, problem.section.area)]
        return np.stack([*columns, *(system.reaction_load(probe) for probe in probes)], axis=1)

    def inductance(system: System, potentials: ComplexArray) -> complex:
        return system.flux_linkage(potentials[:, 0], BASE_WINDING, problem.section.area)

    sizes = [_field_size(problem, number, height) for number, height in enumerate(problem.probe_heights, start=1)]
    values = enumerate([inductance, *sizes])
    goals = tuple(Goal(0, number, problem.accuracy, value) for number, value in values)
    return solved_to_accuracy(mesh, model, loads, goals), sizes


def _field_size(problem: BaseProblem, number: int, height: float) -> Size:
    """The axial field at a probe, from the answer to a dipole there: reciprocity."""
    in_air = _field_in_air(problem, height)

    def size(system: System, potentials: ComplexArray) -> complex:
        return in_air + system.flux_linkage(potentials[:, number], BASE_WINDING, problem.section.area)

    return size


def _field_in_air(problem: BaseProblem, height: float) -> float:
    """The winding's own axial field on the axis at ``height`` [m] [T]."""
    return float(winding_flux_density(problem.section, 1.0, np.array([0.0]), np.array([height]))[1][0])


def _gathered(problem: BaseProblem, solved: Solved, field_sizes: list[Size]) -> BaseSolution:
    system, own = solved.system, solved.potentials[:, 0]
    flux_linkage = system.flux_linkage(own, BASE_WINDING, problem.section.area)
    echo = returned_flux_linkage(system, own, system.winding_load(BASE_WINDING, problem.section.area))
    sizes = [abs(size(system, solved.potentials)) for size in field_sizes]
    relative_echo = echo / abs(flux_linkage)
    # Where metal takes most of the field away, what the boundary sends back weighs that much more.
    weights = [max(1.0, _field_in_air(problem, z) / s) for z, s in zip(problem.probe_heights, sizes, strict=True)]
    echoes = [relative_echo * weight for weight in weights]
    square = field_square_length(system, own, BASE_WINDING)
    coarse_square = field_square_length(solved.orders.quadratic, solved.orders.coarse[:, 0], BASE_WINDING)
    sources = (winding_rings(problem.section), *induced_rings(system, own))
    return BaseSolution(
        flux_linkage,
        sources,
        sum(rings.moment for rings in sources),
        square,
        solved.errors[0] / abs(flux_linkage.real) + relative_echo,
        solved.loss_errors[0] + echo * abs(flux_linkage.imag / flux_linkage.real),
        abs(coarse_square - square) / square * solved.orders.remaining_share(0),
        tuple(e / s + returned for e, s, returned in zip(solved.errors[1:], sizes, echoes, strict=True)),
        system.elements.mesh.triangles.shape[1],
        system.elements.count,
        solved.rounds,
    )
