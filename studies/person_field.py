"""The field that a person may meet: how far the reference levels reach, and the field at 10 m beside its limit."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log10, sqrt

import numpy as np

from fem.arrays import Array
from fem.base_solution import BaseSolution
from fem.bench import Bench
from fem.coil_family import CoilFamily, FamilyCoil
from fem.gathered_loops import Loops, gathered
from fem.level_reach import NOWHERE, Reach, level_reaches
from geometries.section import WindingSection
from geometries.stack import Stack
from links.limits import (
    field_limit_at_10_m,
    reference_level_occupational,
    reference_level_public,
)
from studies.rows import Row
from studies.solving import BaseField, SolvedCoils
from studies.specification import Candidate

REACHES = (("reference_level", reference_level_public), ("occupational_level", reference_level_occupational))
"""What the columns of each level begin with."""

ON_THE_PLATE = 1e-6
"""Height of the lowest places that a picture of the field has above the plate [m]."""


def field_columns(candidate: Candidate, coils: SolvedCoils, current: float, far_field: float) -> Row:
    """Reach of the reference levels for a base ``current`` [A peak], and margin of the field at 10 m [A/m rms].

    The reach is that of √(|B_r|² + |B_z|²)/√2, the rms value of the whole vector, outside the bench. Columns are None
    where no level or limit is known at the frequency, or none is reached.
    """
    base, frequency = coils.base, candidate.frequency
    levels = [level(frequency) for _, level in REACHES]
    bench = bench_of(candidate.stack, base.section)
    known = [level for level in levels if level is not None]
    found = iter(reaches(base_loops(base.field), base.section, bench, base.turns * current, known))
    row: Row = {}
    for (name, _), level in zip(REACHES, levels, strict=True):
        reach = NOWHERE if level is None else next(found)
        row |= {
            f"{name}_distance_m": reach.distance,
            f"{name}_height_m": reach.height,
            f"{name}_radius_m": reach.radius,
        }
    limit = field_limit_at_10_m(frequency)
    margin = None if limit is None or far_field == 0.0 else 20.0 * log10(limit / far_field)
    return row | {"field_limit_at_10_m_A_per_m": limit, "field_at_10_m_margin_dB": margin}


def reaches(
    loops: Loops, section: WindingSection, bench: Bench, ampere_turns: float, levels: Sequence[float]
) -> tuple[Reach, ...]:
    """How far each rms level [T] reaches with so many peak ampere-turns."""
    if ampere_turns == 0.0:
        return (NOWHERE,) * len(levels)
    return level_reaches(loops, section, bench, [sqrt(2.0) * level / ampere_turns for level in levels])


def base_loops(field: BaseField) -> Loops:
    """All sources of a base coil's field as loops, for one ampere in one turn."""
    if isinstance(field, FamilyCoil):
        return _family_loops(field.family).combined(field.weights)
    return _own_loops(field)


@lru_cache(maxsize=16)
def _own_loops(field: BaseSolution) -> Loops:
    return gathered(field.sources)


@lru_cache(maxsize=8)
def _family_loops(family: CoilFamily) -> Loops:
    return gathered(family.sources)


def bench_of(stack: Stack, section: WindingSection) -> Bench:
    """All matter that keeps a person away: the winding, the stack's layers and its solids, baths of liquid among them.

    A ribbon heater counts as a whole layer. Neither the tag nor a vessel keeps anyone out: a hand goes where the tag
    goes, and vessels are emptied and lifted off.
    """
    layers = (layer.outline for layer in stack.layers if layer.kind != "gap")
    return Bench((section.corners, *layers, *(solid.outline for solid in stack.solids)))


@dataclass(frozen=True, slots=True, eq=False)
class FieldPicture:
    """The rms flux density over a half plane: ``r`` (n,), ``z`` (m,) [m], ``size`` (m, n) [T], NaN in the bench."""

    r: Array
    z: Array
    size: Array


def field_picture(
    loops: Loops, bench: Bench, ampere_turns: float, room: tuple[float, float, float], points: int = 130
) -> FieldPicture:
    """The field out to a radius, from a lowest to a highest height: ``room`` [m]; rms, for peak ampere-turns.

    A further row of places lies on the plate, so that what reaches no higher than a hair above it is in the picture.
    """
    radius, bottom, top = room
    r, z = np.linspace(0.0, radius, points), np.linspace(bottom, top, points)
    if bottom < 0.0 < top:
        z = np.union1d(z, [ON_THE_PLATE])
    all_r, all_z = np.meshgrid(np.maximum(r, 1e-9), z)
    inside = bench.holds(all_r, all_z)
    size = np.full(all_r.shape, np.nan)
    open_to_all = np.logical_not(inside)
    size[open_to_all] = loops.size(all_r[open_to_all], all_z[open_to_all]) * ampere_turns / sqrt(2.0)
    return FieldPicture(r, z, size)
