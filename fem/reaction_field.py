"""What the surroundings add to coils whose field in air is known: the reaction field (DESIGN 4.7).

A second formulation beside the total field of ``base_solution``: the coil need not be meshed, and the matrix does not
depend on it. One mesh and one factorisation serve every coil over one stack; a coil more costs its field on the bodies
and one triangular solve.
"""

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Array, ComplexArray
from fem.boundary import returned_reaction
from fem.closed_forms import winding_flux_density, winding_mutual_inductance, winding_self_inductance
from fem.coil_field import coil_field
from fem.dipole import axial_dipole
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
    ``probe_heights`` [m] are places on the axis, clear of all bodies, at which the field is asked for. ``accuracy`` is
    wanted of every coil's inductance and of its field at every probe, relative to the whole of it. ``envelope`` is the
    room that the mesh is made for, so that it serves other coils in it as well; without it, that of the sections.
    """

    stack: Stack
    sections: tuple[WindingSection, ...]
    frequency: float
    accuracy: float
    probe_heights: tuple[float, ...] = ()
    envelope: WindingSection | None = None


@dataclass(frozen=True, slots=True, eq=False)
class ReactionSolution:
    """Coils with what the surroundings add to them, for one ampere in one turn.

    Parameters
    ----------
    sections : tuple of WindingSection
        The coils.
    added : ndarray of complex, shape (n_coil, n_coil)
        ΔL on the diagonal and ΔM beside it, per turn² [H]; −ω Im is a (mutual) reflected resistance.
    flux_linkages : ndarray of complex, shape (n_coil,)
        Of each coil per turn² [H], its own in closed form; L = N² Re, reflected resistance = −ω N² Im.
    axial_fields, added_fields : ndarray of complex, shape (n_coil, n_probe)
        B_z at the probes, and what of it the surroundings add [T/A].
    inductance_errors, resistance_errors : ndarray, shape (n_coil,)
        Estimated errors of each coil's flux linkage and of its imaginary part, per turn² [H].
    field_errors : ndarray, shape (n_coil, n_probe)
        Estimated, of ``axial_fields`` [T/A].
    triangles, unknowns, rounds : int
        Size of the last mesh and how many there were; 0 where nothing acts on the field.
    """

    sections: tuple[WindingSection, ...]
    added: ComplexArray
    flux_linkages: ComplexArray
    axial_fields: ComplexArray
    added_fields: ComplexArray
    inductance_errors: Array
    resistance_errors: Array
    field_errors: Array
    triangles: int
    unknowns: int
    rounds: int

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
    solutions on one mesh estimate it element by element as they do a total field's (DESIGN 4.6). The field at a probe
    is M with a dipole there.
    """
    stack, frequency = problem.stack, problem.frequency
    bodies = stack_regions(stack, frequency)
    in_air = _in_air(problem)
    if not bodies and not stack_sheets(stack, frequency):
        return _nothing_added(problem, in_air)
    _refuse_overlap(problem.sections, bodies)
    solved, given = _solved(problem, in_air)
    return _gathered(problem, in_air, solved, given)


def reaction_solved(problem: ReactionProblem) -> tuple[ReactionSolution, System]:
    """The solution, and the cubic discretisation that it was refined to: for further coils in its envelope.

    Raises
    ------
    AccuracyError, FieldError, MeshingError
        As `reaction_solution`.
    """
    in_air = _in_air(problem)
    solved, given = _solved(problem, in_air)
    return _gathered(problem, in_air, solved, given), solved.system


def _solved(problem: ReactionProblem, in_air: Array) -> "tuple[Solved, _Given]":
    stack, frequency = problem.stack, problem.frequency
    given = _Given((*map(coil_field, problem.sections), *map(axial_dipole, problem.probe_heights)))
    envelope = problem.sections if problem.envelope is None else (problem.envelope,)
    mesh = section_mesh(reaction_plan(stack, envelope, frequency, problem.probe_heights))
    goals = _goals(problem, in_air, given)
    return solved_to_accuracy(mesh, stack_model(stack, frequency), given.loads, goals), given


@dataclass(frozen=True, slots=True)
class _Given:
    """The given fields, coils first and then probes, and what is added to their linkages on the last mesh."""

    fields: tuple[FieldOf, ...]
    known: dict[System, ComplexArray] = field(default_factory=dict)

    def loads(self, system: System) -> ComplexArray:
        return np.stack([system.reaction_load(one) for one in self.fields], axis=1)

    def added(self, system: System, reactions: ComplexArray) -> ComplexArray:
        if system not in self.known:
            self.known.clear()
            self.known[system] = added_linkages(system, self.fields, reactions)
        return self.known[system]

    def whole(self, first: int, second: int, in_air: float) -> Size:
        """A linkage with its part in air, as the size that its error is held against."""
        return lambda system, reactions: complex(in_air + self.added(system, reactions)[first, second])


def _in_air(problem: ReactionProblem) -> Array:
    """Each coil's own flux linkage [H] and its axial field at the probes [T], shape (n_coil, 1 + n_probe)."""
    heights = np.array(problem.probe_heights)
    rows = []
    for section in problem.sections:
        fields = winding_flux_density(section, 1.0, np.zeros(heights.size), heights)[1]
        rows.append([winding_self_inductance(section, 1.0), *fields])
    return np.array(rows)


def _goals(problem: ReactionProblem, in_air: Array, given: _Given) -> tuple[Goal, ...]:
    count = len(problem.sections)
    goals = []
    for number, values in enumerate(in_air):
        partners = (number, *range(count, len(given.fields)))
        for partner, value in zip(partners, values, strict=True):
            goals.append(Goal(number, partner, problem.accuracy, given.whole(number, partner, float(value))))
    return tuple(goals)


def _refuse_overlap(sections: tuple[WindingSection, ...], bodies: tuple[Region, ...]) -> None:
    for section in sections:
        for body in bodies:
            if outlines_overlap(section.corners, body.outline):
                raise FieldError(
                    f"a winding {section.inner_radius:g} to {section.outer_radius:g} m from the axis and "
                    f"{section.bottom:g} to {section.top:g} m high overlaps {body.name}; move one of them"
                )


def _nothing_added(problem: ReactionProblem, in_air: Array) -> ReactionSolution:
    count = len(problem.sections)
    none, own, fields = np.zeros(count), in_air[:, 0].astype(complex), in_air[:, 1:].astype(complex)
    added = np.zeros((count, count), dtype=complex)
    nothing = np.zeros(fields.shape, dtype=complex)
    return ReactionSolution(problem.sections, added, own, fields, nothing, none, none, np.zeros(fields.shape), 0, 0, 0)


def _gathered(problem: ReactionProblem, in_air: Array, solved: Solved, given: _Given) -> ReactionSolution:
    system, reactions, count = solved.system, solved.potentials, len(problem.sections)
    added = given.added(system, reactions)
    shape = (count, 1 + len(problem.probe_heights))
    errors, losses = (np.array(found).reshape(shape) for found in (solved.errors, solved.loss_errors))
    own = np.array([returned_reaction(system, one, one) for one in reactions.T[:count]])
    fields = [
        [sum(returned_reaction(system, one, probe)) for probe in reactions.T[count:]] for one in reactions.T[:count]
    ]
    return ReactionSolution(
        problem.sections,
        added[:count, :count],
        np.diag(added)[:count] + in_air[:, 0],
        added[:count, count:] + in_air[:, 1:],
        added[:count, count:],
        errors[:, 0] + own[:, 0],
        losses[:, 0] + own[:, 1],
        errors[:, 1:] + np.array(fields).reshape(count, -1),
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
