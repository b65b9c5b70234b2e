"""The whole-space check: M at chosen places by elements in three dimensions, beside the map's (DESIGN 4.8)."""

from dataclasses import dataclass, replace
from time import perf_counter

import numpy as np

from fem.air_field import AirField
from fem.edge_elements import EdgeElements, edge_elements
from fem.given_fields import placed_base_field
from fem.model import joined, magnet_model, tag_model
from fem.near_metal import NOTHING_NEAR
from fem.tag_in_space import TagInSpace, tag_in_space
from geometries.ball_meshing import ball_mesh
from geometries.ball_plan import tag_ball
from geometries.errors import GeometryError
from geometries.magnet import Magnet
from geometries.tag import Tag
from studies.coupling import Coupling, coupling_of
from studies.solving import SolvedCoils, solved_base, solved_tag
from studies.space_magnets import MagnetEffect, magnet_effect
from studies.space_places import base_field_about, carried_extent, check_places
from studies.specification import Candidate, Place


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
    """All places of one check; ``edges`` is the number of unknowns, 0 where nothing but air is about the winding.

    ``magnets`` is what those of the study do, None where it has none.
    """

    places: tuple[PlaceCheck, ...]
    edges: int
    seconds: float
    magnets: MagnetEffect | None = None


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
    tag, frequency, magnets = coils.tag.tag, candidate.frequency, meshed_magnets(candidate)
    own = tag_model(tag, frequency)
    elements = space_elements(tag, magnets, frequency, fineness)
    references = tuple(Place(place.height, 0.0, 0.0) for place in places)
    base = base_field_about(coils, (*places, *references), carried_extent(candidate), candidate.accuracy)
    solved = tag_in_space(tag.section, elements, own)
    found = _compared(coupling_of(_plain(candidate), coils), solved, base, places)
    effect = None
    if magnets:
        beside = tag_in_space(tag.section, elements, joined(own, magnet_model(magnets, frequency)))
        effect = magnet_effect(solved, beside, coils.tag, frequency, base, places)
    return WholeSpaceCheck(found, 0 if elements is None else elements.count, perf_counter() - start, effect)


def meshed_magnets(candidate: Candidate) -> tuple[Magnet, ...]:
    """The blocks fixed to the tag; a cylinder is left out where an alternating field meets nothing in it.

    Raises
    ------
    GeometryError
        For any other cylinder: blocks alone are meshed.
    """
    for magnet in candidate.magnets:
        if magnet.shape != "block" and magnet.acts:
            raise GeometryError(
                f"magnets.{magnet.name}.shape",
                "solve --whole-space meshes blocks alone; give a block of the cylinder's cross-section in its place",
            )
    return tuple(magnet for magnet in candidate.magnets if magnet.shape == "block")


def coils_in_the_open(candidate: Candidate) -> SolvedCoils:
    """Both coils solved, with nothing near the tag; what scales its M, stated or measured, is left aside.

    The core's own image in the metal below is in neither of the two numbers that are set side by side.
    """
    plain = _plain(candidate)
    solved = solved_tag(plain.tag, candidate.frequency, 0.5 * candidate.accuracy)
    return SolvedCoils(solved_base(replace(candidate, formulation="total field")), solved, NOTHING_NEAR)


def _plain(candidate: Candidate) -> Candidate:
    return replace(candidate, tag=replace(candidate.tag, sensitivity=None, sensitivity_frequency=None, correction=None))


def space_elements(
    tag: Tag, magnets: tuple[Magnet, ...], frequency: float, fineness: float = 1.0
) -> EdgeElements | None:
    """Elements about the tag's core and can and its magnets; None where it has none of them."""
    if not tag_model(tag, frequency).bodies and not magnets:
        return None
    return edge_elements(ball_mesh(tag_ball(tag, magnets, frequency, fineness)))


def _compared(
    coupling: Coupling, solved: TagInSpace, base: AirField, places: tuple[Place, ...]
) -> tuple[PlaceCheck, ...]:
    scale = coupling.coils.base.turns * coupling.coils.tag.tag.turns

    def whole(place: Place) -> complex:
        return scale * solved.mutual_inductance(placed_base_field(base, place.height, place.offset, place.tilt))

    found = []
    for place in places:
        upright = Place(place.height, 0.0, 0.0)
        ratio = whole(upright) / mapped(coupling, upright)
        found.append(PlaceCheck(place, mapped(coupling, place), whole(place), ratio))
    return tuple(found)


def mapped(coupling: Coupling, place: Place) -> complex:
    """The map's M at one place [H]."""
    heights, offsets, tilts = (np.array([value]) for value in (place.height, place.offset, place.tilt))
    return complex(coupling.grid(heights, offsets, tilts).mutual_inductance[0, 0, 0])
