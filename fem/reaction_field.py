"""What the surroundings add to coils whose field in air is known: the reaction field (DESIGN 4.7).

A second formulation beside the total field of ``base_solution``: the coil need not be meshed, and the matrix does not
depend on it. One mesh and one factorisation serve every coil over one stack; a coil more costs its field on the bodies
and one triangular solve.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Array, ComplexArray
from fem.boundary import returned_reaction
from fem.closed_forms import winding_mutual_inductance, winding_self_inductance
from fem.coil_field import coil_field
from fem.errors import FieldError
from fem.model import stack_model
from fem.refinement import Goal, Size, Solved, solved_to_accuracy
from fem.system import FieldOf, System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import section_mesh
from geometries.overlap import outlines_overlap
from geometries.plan import Region, reaction_plan, stack_regions, stack_sheets
from geometries.section import WindingSection
from geometries.stack import Stack


@dataclass(frozen=True, slots=True)
class ReactionProblem:
    """Coils over one stack, each alone; turns and wire play no part.

    ``sections`` lie clear of the stack's bodies and may overlap each other: they are candidates, not neighbours.
    ``accuracy`` is wanted of every coil's inductance, relative to the whole of it.
    """

    stack: Stack
    sections: tuple[WindingSection, ...]
    frequency: float
    accuracy: float


@dataclass(frozen=True, eq=False)
class ReactionSolution:
    """What the surroundings add to each coil and to each pair of coils, for one ampere in one turn.

    Parameters
    ----------
    sections : tuple of WindingSection
        The coils.
    added : ndarray of complex, shape (n_coil, n_coil)
        ΔL on the diagonal and ΔM beside it, per turn² [H]; −ω Im is a (mutual) reflected resistance.
    inductance_errors, resistance_errors : ndarray, shape (n_coil,)
        Estimated errors of each coil's flux linkage and of its imaginary part, per turn² [H].
    triangles, unknowns, rounds : int
        Size of the last mesh and how many there were; 0 where nothing acts on the field.
    """

    sections: tuple[WindingSection, ...]
    added: ComplexArray
    inductance_errors: Array
    resistance_errors: Array
    triangles: int
    unknowns: int
    rounds: int

    @cached_property
    def flux_linkages(self) -> ComplexArray:
        """Of each coil per turn² [H], its own in closed form; L = N² Re, reflected resistance = −ω N² Im."""
        in_air = [winding_self_inductance(section, 1.0) for section in self.sections]
        return np.asarray(np.diag(self.added) + in_air)

    def mutual_flux_linkage(self, first: int, second: int) -> complex:
        """M per turn² of two of the coils with the surroundings present [H]."""
        in_air = winding_mutual_inductance(self.sections[first], 1.0, self.sections[second], 1.0)
        return complex(in_air + self.added[first, second])


@lru_cache(maxsize=16)
def reaction_solution(problem: ReactionProblem) -> ReactionSolution:
    """Solve for what the surroundings add to every coil.

    Raises
    ------
    AccuracyError, FieldError, MeshingError
        Where it cannot be solved, or a body lies in one of the sections.

    Notes
    -----
    a(A_s, v) = −d(A_c, v), ΔM12 = −2π d(A_c1, A_c2 + A_s2); its error is −2π a(e_1, e_2), so that quadratic and cubic
    solutions on one mesh estimate it element by element as they do a total field's (DESIGN 4.6).
    """
    stack, frequency = problem.stack, problem.frequency
    bodies = stack_regions(stack, frequency)
    if not bodies and not stack_sheets(stack, frequency):
        return _nothing_added(problem)
    _refuse_overlap(problem.sections, bodies)
    fields = tuple(coil_field(section) for section in problem.sections)

    def loads(system: System) -> ComplexArray:
        return np.stack([system.reaction_load(field) for field in fields], axis=1)

    goals = tuple(
        Goal(number, number, problem.accuracy, _inductance(number, section, field))
        for number, (section, field) in enumerate(zip(problem.sections, fields, strict=True))
    )
    mesh = section_mesh(reaction_plan(stack, problem.sections, frequency))
    solved = solved_to_accuracy(mesh, stack_model(stack, frequency), loads, goals)
    return _gathered(problem, solved, fields)


def _refuse_overlap(sections: tuple[WindingSection, ...], bodies: tuple[Region, ...]) -> None:
    for section in sections:
        for body in bodies:
            if outlines_overlap(section.corners, body.outline):
                raise FieldError(
                    f"a winding {section.inner_radius:g} to {section.outer_radius:g} m from the axis and "
                    f"{section.bottom:g} to {section.top:g} m high overlaps {body.name}; move one of them"
                )


def _nothing_added(problem: ReactionProblem) -> ReactionSolution:
    count = len(problem.sections)
    none = np.zeros(count)
    return ReactionSolution(problem.sections, np.zeros((count, count), dtype=complex), none, none, 0, 0, 0)


def _inductance(number: int, section: WindingSection, field: FieldOf) -> Size:
    """The whole inductance of a coil, as the size that its error is held against."""
    in_air = winding_self_inductance(section, 1.0)

    def size(system: System, potentials: ComplexArray) -> complex:
        return in_air + complex(added_linkages(system, (field,), potentials[:, number : number + 1])[0, 0])

    return size


def _gathered(problem: ReactionProblem, solved: Solved, fields: tuple[FieldOf, ...]) -> ReactionSolution:
    system, potentials = solved.system, solved.potentials
    echo = np.array([returned_reaction(system, own, own) for own in potentials.T])
    return ReactionSolution(
        problem.sections,
        added_linkages(system, fields, potentials),
        np.array(solved.errors) + echo[:, 0],
        np.array(solved.loss_errors) + echo[:, 1],
        system.elements.mesh.triangles.shape[1],
        system.elements.count,
        solved.rounds,
    )


def added_linkages(system: System, fields: tuple[FieldOf, ...], reactions: ComplexArray) -> ComplexArray:
    """−2π d(A_ci, A_cj + A_sj) of every pair of coils.

    Parameters
    ----------
    system : System
        The discretisation.
    fields : tuple of FieldOf, length n
        The coils in air.
    reactions : ndarray of complex, shape (n_unknown, n)
        Their reaction fields.

    Returns
    -------
    ndarray of complex, shape (n, n)
        [H].
    """
    loads = np.stack([system.reaction_load(field) for field in fields], axis=1)
    scale = 2.0 * np.pi / MAGNETIC_CONSTANT
    return np.asarray(scale * (loads.T @ reactions - given_form(system, fields)))


def given_form(system: System, fields: tuple[FieldOf, ...]) -> ComplexArray:
    """μ0 d(A_i, A_j) of given fields, by quadrature over bodies and layers, shape (n, n)."""
    elements = system.elements
    members = np.flatnonzero((system.reluctivity != 1.0) | (system.eddy != 0.0))
    potential, radial, axial = _stacked(fields, elements.positions[:, members])
    weights = elements.weights[members]
    contrast = (system.reluctivity[members] - 1.0)[:, None] * weights
    found = _pairs(potential, system.eddy[members, None] * weights)
    found += _pairs(radial, contrast) + _pairs(axial, contrast)
    for name, lines in elements.sheets.items():
        if name in system.model.sheets:
            closed, ribbon = system.sheet_constants(name)
            potential, _, normal = _stacked(fields, lines.positions)
            found += _pairs(potential, closed * lines.weights) + _pairs(normal, ribbon * lines.weights)
    for loop in system.loops:
        linkages = np.array([loop.given_linkage(field(*loop.lines.positions)[0]) for field in fields])
        found += loop.factor * np.outer(linkages, linkages)
    return found


def _stacked(fields: tuple[FieldOf, ...], positions: Array) -> tuple[Array, Array, Array]:
    """Potential and flux density of every field at the same points, each of shape (n_field, n_point)."""
    values = [field(*positions) for field in fields]
    potential, radial, axial = (np.stack([value[part].ravel() for value in values]) for part in range(3))
    return potential, radial, axial


def _pairs(values: Array, weights: ComplexArray | NDArray[np.complexfloating]) -> ComplexArray:
    """Σ w v_i v_j over the points of every two fields."""
    return np.asarray((values * weights.ravel()) @ values.T, dtype=complex)
