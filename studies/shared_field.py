"""The base coil's field from its family: one factorisation for all coils of a cell, where that is possible."""

from functools import lru_cache
from math import ceil, log2

from fem.base_solution import PLATE_REACH
from fem.coil_family import CoilFamily, FamilyCoil, FamilyProblem, coil_family
from fem.errors import FieldError
from fem.near_metal import nearest_surface
from geometries.cells import cell_of
from geometries.errors import MeshingError
from geometries.section import WindingSection
from geometries.tag import Tag
from studies.asked_places import ceiling_for, height_range, open_air, probe_heights
from studies.specification import Candidate

STATED_SHARE = 0.8
"""Share of the study's accuracy that a shared field may state of itself; the rest is for what the tag adds."""

UNIT = 1e-3
"""Sizes of the room above the plate are this length times powers of 2^¼ [m], so that tags of a sweep share it."""


def shared_field(candidate: Candidate, tag: Tag, section: WindingSection) -> FamilyCoil | None:
    """The field of a candidate's coil; None where it has to be solved by itself.

    So it is where something stands beside coil or tag, where nothing acts at all, and where the family's accuracy,
    told for every coil, is not what the study wants.
    """
    problem = _family_problem(candidate, tag, section)
    family = None if problem is None else _family(problem)
    if family is None:
        return None
    coil = family.coil(section)
    return coil if max(coil.inductance_error, *coil.field_errors) <= STATED_SHARE * candidate.accuracy else None


@lru_cache(maxsize=8)
def _family(problem: FamilyProblem) -> CoilFamily | None:
    try:
        return coil_family(problem)
    except (FieldError, MeshingError):
        return None


def _family_problem(candidate: Candidate, tag: Tag, section: WindingSection) -> FamilyProblem | None:
    cell = cell_of(candidate.stack, section, candidate.frequency)
    surface = nearest_surface(candidate.stack, candidate.frequency)
    lowest, _ = height_range(candidate)
    if cell is None or surface is None or surface >= lowest:
        return None
    top = max(surface, cell.section.top)
    air = open_air(candidate, tag, top, ceiling_for(candidate, 2.0 * cell.section.outer_radius))
    if air is None or air.low <= max(top, 0.0):
        return None
    return FamilyProblem(
        candidate.stack,
        cell.section,
        candidate.frequency,
        0.5 * candidate.accuracy,
        probe_heights(candidate),
        (_next_step(max(air.radius, PLATE_REACH * cell.section.outer_radius)), _next_step(air.high)),
    )


def _next_step(length: float) -> float:
    return float(UNIT * 2.0 ** (0.25 * ceil(4.0 * log2(length / UNIT))))
