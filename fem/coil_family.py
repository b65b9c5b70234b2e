"""Every winding of a cell over one stack from one mesh and one factorisation, each in a few small products.

The reaction to a winding is a combination of the reactions to the rings of its skeleton; they are solved for once, and
whatever is asked of a winding is kept as a small array by rings (DESIGN 4.7).
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np

from fem.air_field import AirField, AirSpace, series, trimmed
from fem.arrays import Array, ComplexArray
from fem.base_solution import PLATE_REACH
from fem.closed_forms import winding_self_inductance
from fem.reaction_field import ReactionProblem, ReactionSolution, reaction_solved
from fem.ring_reactions import RingReactions
from fem.skeleton import Skeleton, misfit, skeleton
from fem.sources import Rings, unit_ring
from fem.square_field import FieldAt, square_lengths
from fem.tag_over_stack import TagOverStack
from geometries.cells import Segment, acting_segments
from geometries.section import WindingSection
from geometries.stack import Stack

PLATE_POINTS = 160
"""Places on the plate where the field is known, out to as many outer radii of the cell as for a single coil."""

DIFFERENCE_STEP = 1e-5
"""Of the potential's differences that give the field on the plate [m]."""

MISFIT_SHARE, DENSER, DENSITIES = 0.1, 1.3, 4
"""Share of the accuracy that the skeleton may leave; how much closer its points lie where it leaves more, and how many
distances are tried."""

SQUARE_ERROR = 2e-4
"""What the points over the winding leave in its mean square field."""


@dataclass(frozen=True, slots=True)
class FamilyProblem:
    """A cell of windings over a stack, and where their field is asked for.

    ``cell`` keeps clear of all that acts; ``accuracy`` is wanted of inductance and axial field at ``probe_heights``
    [m]; ``box`` is the radius and the height of the room above the plate where it is asked for. Turns and wire play no
    part.
    """

    stack: Stack
    cell: WindingSection
    frequency: float
    accuracy: float
    probe_heights: tuple[float, ...]
    box: tuple[float, float]


@dataclass(frozen=True, eq=False)
class FamilyCoil:
    """A winding of a family for one ampere in one turn: what `BaseSolution` tells of one, but for its sources.

    ``weights`` are the amperes in the rings of the family's skeleton that stand for it.
    """

    family: "CoilFamily"
    section: WindingSection
    weights: Array
    flux_linkage: complex
    moment: complex
    field_square_length: float
    inductance_error: float
    resistance_error: float
    field_square_error: float
    field_errors: tuple[float, ...]

    @property
    def triangles(self) -> int:
        """Of the family's mesh."""
        return self.family.triangles

    @property
    def unknowns(self) -> int:
        """Of the family's mesh."""
        return self.family.unknowns

    @property
    def top(self) -> float:
        """Height of the highest source [m]."""
        return self.family.top

    def linkages(self, tag: TagOverStack) -> tuple[complex, complex]:
        """Flux of a tag through the winding: the mapped, and what the whole truth adds [Wb/A]."""
        mapped, missed = _through_skeleton(self.family, tag)
        return complex(self.weights @ mapped), complex(self.weights @ missed)

    def air_field(self, space: AirSpace, tolerance: float) -> AirField:
        """The field in a space above the plate; the family's room reaches up to where its largest coil asks for it."""
        room = AirSpace(space.radius, space.low, self.family.problem.box[1])
        assert space.high <= room.high, "the box holds the air of every coil of the cell"
        whole = np.tensordot(self.weights, _series(self.family, room, tolerance), axes=1)
        return AirField(room, trimmed(whole, tolerance))

    def greatest_on_plate(self, outer_radius: float) -> float:
        """Greatest flux density on the plate's top surface [T], wherever on it: ``outer_radius`` plays no part."""
        radial, axial = self.weights @ self.family.plate[0], self.weights @ self.family.plate[1]
        return float(np.sqrt(np.abs(radial) ** 2 + np.abs(axial) ** 2).max())


@dataclass(frozen=True, eq=False)
class CoilFamily:
    """What was solved for a cell; see `FamilyCoil` for a winding of it.

    Parameters
    ----------
    skeleton : Skeleton
        With n_ring rings.
    added : ndarray of complex, shape (n_ring, n_ring)
        What the surroundings add to the linkages of the rings [H].
    sources : tuple of Rings
        The rings and all that answers them, each ring a case.
    axial_fields : ndarray of complex, shape (n_ring, n_probe)
        At the probes, and ``added_fields`` what of it is answer [T/A].
    plate : ndarray of complex, shape (2, n_ring, n_place)
        B_r and B_z on the plate [T/A].
    errors : SharesOfAnswer
        Of the discretisation.
    misfit : float
        Relative error that the skeleton leaves in the field, the largest of some windings.
    triangles, unknowns : int
        Size of the mesh.
    """

    problem: FamilyProblem
    skeleton: Skeleton
    added: ComplexArray
    sources: tuple[Rings, ...]
    axial_fields: ComplexArray
    added_fields: ComplexArray
    plate: ComplexArray
    errors: "SharesOfAnswer"
    misfit: float
    triangles: int
    unknowns: int

    @cached_property
    def moments(self) -> ComplexArray:
        """Of each ring with all that answers it, shape (n_ring,) [m²]."""
        return np.asarray(sum(rings.moments for rings in self.sources))

    @cached_property
    def top(self) -> float:
        """Height of the highest source [m]."""
        return max(rings.top for rings in self.sources)

    def coil(self, section: WindingSection) -> FamilyCoil:
        """A winding of the cell."""
        weights = self.skeleton.weights(section)
        answered = self.added @ weights
        in_air, added = winding_self_inductance(section, 1.0), complex(weights @ answered)
        error, loss_error = self.errors.linkage * abs(added), self.errors.loss * abs(added)
        own, square = square_lengths(section, self._answer_in(answered))
        return FamilyCoil(
            self,
            section,
            weights,
            in_air + added,
            complex(weights @ self.moments),
            square,
            error / abs(in_air + added.real) + self.misfit,
            loss_error + self.misfit * abs(added.imag),
            2.0 * abs(square - own) / square * self.errors.linkage + SQUARE_ERROR,
            self._field_errors(weights),
        )

    def _field_errors(self, weights: Array) -> tuple[float, ...]:
        """Relative errors of the axial field at the probes."""
        whole, answer = np.abs(weights @ self.axial_fields), np.abs(weights @ self.added_fields)
        return tuple(float(one) for one in self.errors.fields * answer / whole + self.misfit)

    def _answer_in(self, answered: ComplexArray) -> FieldAt:
        """The field that the surroundings add within the cell, from what they add to the rings' linkages."""
        currents, (radii, heights) = self.skeleton.answer_currents(answered), self.skeleton.checks

        def field(r: Array, z: Array) -> tuple[ComplexArray, ComplexArray]:
            _, radial, axial = unit_ring(radii, heights, r[:, None], z[:, None])
            return radial @ currents, axial @ currents

        return field


@dataclass(frozen=True, slots=True, eq=False)
class SharesOfAnswer:
    """Estimated errors of linkage, its imaginary part, and the fields at the probes, over the size of what is added.

    The largest of each that any of some typical windings of the cell has; slim ones at its top, whose field is the
    hardest, are among them.
    """

    linkage: float
    loss: float
    fields: Array


@lru_cache(maxsize=64)
def _through_skeleton(family: CoilFamily, tag: TagOverStack) -> tuple[ComplexArray, ComplexArray]:
    return tag.through_rings(*family.skeleton.rings)


@lru_cache(maxsize=8)
def _series(family: CoilFamily, space: AirSpace, tolerance: float) -> ComplexArray:
    """A/r of every ring in a space, shape (n_ring, n_radial, n_axial) [T/A]."""
    return np.ascontiguousarray(np.moveaxis(series(list(family.sources), space, tolerance), -1, 0))


@lru_cache(maxsize=8)
def coil_family(problem: FamilyProblem) -> CoilFamily:
    """Solve for a cell.

    Raises
    ------
    AccuracyError, FieldError, MeshingError
        Where it cannot be solved.

    Notes
    -----
    The mesh is refined for typical windings, the slim ones right at the cell's top among them.
    """
    stack, frequency, probes = problem.stack, problem.frequency, problem.probe_heights
    windings = typical_windings(problem.cell)
    rings_of, left = _skeleton_of(problem, windings)
    typical = ReactionProblem(stack, windings, frequency, problem.accuracy, probes, problem.cell)
    solution, system = reaction_solved(typical)
    rings = RingReactions(system, rings_of.rings)
    reactions = system.solve(rings.loads)
    answers, heights = tuple(rings.sources(reactions)), np.array(probes)
    sources = (_own_rings(rings_of.rings), *answers)
    return CoilFamily(
        problem,
        rings_of,
        rings.added(reactions),
        sources,
        np.asarray(sum(one.axial_flux_density(heights) for one in sources)).T,
        np.asarray(sum(one.axial_flux_density(heights) for one in answers)).T,
        _plate_field(sources, problem.cell.outer_radius),
        _shares_of_answer(solution),
        left,
        solution.triangles,
        solution.unknowns,
    )


def _skeleton_of(problem: FamilyProblem, windings: tuple[WindingSection, ...]) -> tuple[Skeleton, float]:
    """The cell's rings and their misfit; closer ones where that is no small part of the accuracy, as in flat cells."""
    lines = _lines_of_interest(problem)
    for step in range(DENSITIES):
        found = skeleton(problem.cell, lines, DENSER**step)
        left = misfit(found, windings)
        if left <= MISFIT_SHARE * problem.accuracy:
            break
    return found, left


def _shares_of_answer(solution: ReactionSolution) -> SharesOfAnswer:
    added, fields = np.abs(np.diag(solution.added)), np.abs(solution.added_fields)
    return SharesOfAnswer(
        float((solution.inductance_errors / added).max()),
        float((solution.resistance_errors / added).max()),
        (solution.field_errors / fields).max(axis=0),
    )


def typical_windings(cell: WindingSection) -> tuple[WindingSection, ...]:
    """Windings such as a cell may hold, all at its top: slim ones at both sides and the middle, a thick one."""
    inner, outer, top, height = cell.inner_radius, cell.outer_radius, cell.top, cell.winding_length
    width = min(0.5 * height, 0.25 * (outer - inner))
    slim = 0.5 * width
    return (
        WindingSection(inner, inner + slim, top - 0.5 * height, top),
        WindingSection(0.5 * (inner + outer) - slim, 0.5 * (inner + outer), top - 0.5 * height, top),
        WindingSection(outer - slim, outer, top - 0.5 * height, top),
        WindingSection(outer - width, outer, top - height, top),
    )


def _lines_of_interest(problem: FamilyProblem) -> tuple[Segment, ...]:
    """Lines that bound all whose field is asked for: what acts, and the box above the plate."""
    reach, height = problem.box
    corners = ((0.0, 0.0), (reach, 0.0), (reach, height), (0.0, height))
    return (*acting_segments(problem.stack, problem.frequency), *pairwise(corners))


def _own_rings(places: Array) -> Rings:
    """Each ring as a case of its own."""
    count = places.shape[1]
    none = np.zeros((count, count), dtype=complex)
    return Rings(places[0], places[1], places[0], np.eye(count, dtype=complex), none, none)


def _plate_field(sources: tuple[Rings, ...], outer_radius: float) -> ComplexArray:
    """B_r and B_z on the plate from differences of the potential, shape (2, n_ring, n_place) [T/A]."""
    r = np.linspace(0.02, PLATE_REACH, PLATE_POINTS) * outer_radius
    step = DIFFERENCE_STEP
    shifts = ((step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step))
    out, back, up, down = (
        np.sum([rings.potential_over_radius(r + dr, np.full_like(r, dz)) for rings in sources], axis=0).T
        for dr, dz in shifts
    )
    radial = -(up - down) * r / (2.0 * step)
    axial = ((r + step) ** 2 * out - (r - step) ** 2 * back) / (2.0 * step * r)
    return np.stack([radial, axial])
