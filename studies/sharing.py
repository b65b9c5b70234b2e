"""Which candidates share a field solve. Light: `check` counts fields without loading what solves them."""

from __future__ import annotations

from collections.abc import Hashable
from math import prod
from typing import TYPE_CHECKING

from studies.specification import Candidate

if TYPE_CHECKING:
    from studies.study import Study

TRIED = 8
"""Values of an axis, spread over it, that are tried for whether they change the field."""


def shared_field(candidate: Candidate | None) -> Hashable:
    """What candidates must have in common to share the base coil's field."""
    if candidate is None:
        return None
    coil = candidate.coil
    shape = (coil.mean_diameter, coil.radial_build, coil.winding_length, coil.under, coil.clearance)
    size = coil.wire.overall_diameter if coil.radial_build is None else 0.0
    turns = coil.turns if coil.radial_build is None else 0
    return candidate.stack, candidate.frequency, candidate.accuracy, shape, size, turns


def field_axes(study: Study) -> tuple[int, ...]:
    """Which swept axes change the base coil's field, each tried alone on the base design.

    Notes
    -----
    A hundred thousand candidates cannot each be built to see what they share: that takes minutes. Where two axes act
    together otherwise than alone the grouping is not the best one; what is computed is the same.
    """
    from studies.assembly import Particulars, assembled
    from studies.sweep import with_axis_value

    paths = frozenset(axis.path for axis in study.swept_axes)
    particulars = Particulars(swept_paths=paths, largest_tag=study.largest_tag)
    found = []
    for number, axis in enumerate(study.swept_axes):
        step = max(1, len(axis.values) // TRIED)
        tried = [assembled(with_axis_value(study.raw, axis, place), particulars)[0]
                 for place in range(0, len(axis.values), step)]  # fmt: skip
        built = [candidate for candidate in tried if candidate is not None]
        if len({shared_field(candidate) for candidate in (study.base, *built)}) > 1 or len(built) < 2:
            found.append(number)
    return tuple(found)


def field_count(study: Study) -> int:
    """How many fields a study takes, those of designs that cannot be built included."""
    axes = field_axes(study)
    if study.sampling is None:
        return prod(len(study.swept_axes[number].values) for number in axes)
    return len(set(zip(*(study.swept_axes[number].values for number in axes), strict=True))) if axes else 1
