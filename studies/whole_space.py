"""The whole-space check: M at chosen places by elements in three dimensions, beside the map's (DESIGN 4.8)."""

from dataclasses import dataclass, replace
from time import perf_counter

import numpy as np

from fem.edge_elements import EdgeElements, edge_elements
from fem.given_fields import placed_base_field
from fem.model import tag_model
from fem.near_metal import NearMetal
from fem.tag_in_space import TagInSpace, tag_in_space
from geometries.ball_meshing import ball_mesh
from geometries.ball_plan import tag_ball
from geometries.tag import Tag
from studies.coupling import Coupling, coupling_of
from studies.solving import SolvedCoils, solved_base, solved_tag
from studies.space_places import base_field_about, check_places
from studies.specification import Candidate, Place

_NONE = np.zeros(0)
NOTHING_NEAR = NearMetal(_NONE, 0.0, _NONE.astype(complex), _NONE.astype(complex), 0.0)
"""The core's own image in the metal below is in neither of the two numbers that are set side by side."""


@dataclass(frozen=True, slots=True)
class PlaceCheck:
    """M at one place [H] by the map and in the whole space; ``axis_ratio`` is the latter over the former for the tag
    upright on the axis at the same height, on the same mesh."""

    place: Place
    mapped: complex
    whole: complex
    axis_ratio: complex

    @property
    def raw(self) -> float:
        """Whole space over map, less one."""
        return abs(self.whole / self.mapped) - 1.0

    @property
    def divided(self) -> float:
        """The same once divided by the axis' ratio, where what the mesh falls short by drops out."""
        return abs(self.whole / self.mapped / self.axis_ratio) - 1.0


@dataclass(frozen=True, slots=True)
class WholeSpaceCheck:
    """All places of one check; ``edges`` is the number of unknowns, 0 for an air-cored tag."""

    places: tuple[PlaceCheck, ...]
    edges: int
    seconds: float


def whole_space_check(candidate: Candidate, places: tuple[Place, ...], fineness: float = 1.0) -> WholeSpaceCheck:
    """M of a candidate's tag at ``places``; ``fineness`` divides the element sizes on its core.

    Raises
    ------
    GeometryError
        For a place outside the map's range, or where the tag would reach down to the base field's sources.
    MeshingError, FieldError
        Where the tag cannot be meshed or solved.
    """
    start = perf_counter()
    check_places(candidate, places)
    coils = coils_in_the_open(candidate)
    tag = coils.tag.tag
    elements = core_elements(tag, candidate.frequency, fineness)
    solved = tag_in_space(tag.section, elements, tag_model(tag, candidate.frequency))
    found = _compared(candidate, coils, solved, places)
    return WholeSpaceCheck(found, 0 if elements is None else elements.count, perf_counter() - start)


def coils_in_the_open(candidate: Candidate) -> SolvedCoils:
    """Both coils solved, with nothing near the tag; a stated sensitivity, which scales any M, is left aside."""
    tag = replace(candidate.tag, sensitivity=None, sensitivity_frequency=None)
    solved = solved_tag(tag, candidate.frequency, 0.5 * candidate.accuracy)
    return SolvedCoils(solved_base(candidate), solved, NOTHING_NEAR)


def core_elements(tag: Tag, frequency: float, fineness: float) -> EdgeElements | None:
    """Elements about the tag's core and can; None where it has neither."""
    if not tag_model(tag, frequency).bodies:
        return None
    return edge_elements(ball_mesh(tag_ball(tag, (), frequency, fineness)))


def _compared(
    candidate: Candidate, coils: SolvedCoils, solved: TagInSpace, places: tuple[Place, ...]
) -> tuple[PlaceCheck, ...]:
    tag = coils.tag.tag
    coupling = coupling_of(candidate, coils)
    references = tuple(Place(place.height, 0.0, 0.0) for place in places)
    base = base_field_about(coils, (*places, *references), tag.outer_radius, tag.half_height, candidate.accuracy)
    scale = coils.base.turns * tag.turns

    def whole(place: Place) -> complex:
        return scale * solved.mutual_inductance(placed_base_field(base, place.height, place.offset, place.tilt))

    found = []
    for place, upright in zip(places, references, strict=True):
        ratio = whole(upright) / mapped(coupling, upright)
        found.append(PlaceCheck(place, mapped(coupling, place), whole(place), ratio))
    return tuple(found)


def mapped(coupling: Coupling, place: Place) -> complex:
    """The map's M at one place [H]."""
    heights, offsets, tilts = (np.array([value]) for value in (place.height, place.offset, place.tilt))
    return complex(coupling.grid(heights, offsets, tilts).mutual_inductance[0, 0, 0])
