"""Which candidates share a field solve. Light: `check` counts fields without loading what solves them."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from math import prod
from typing import TYPE_CHECKING

from studies.keypaths import value_at
from studies.specification import Candidate, Formulation

if TYPE_CHECKING:
    from studies.study import Study
    from studies.sweep import Axis

TRIED = 8
"""Values of an axis, spread over it, that are tried for whether they change the field."""

MANY_COILS = 64
"""Coils over one stack from which one factorisation for all of them takes less than one for each: some 30 … 40."""


PLACING = (("base_coil", "mean_diameter"), ("base_coil", "clearance"))
"""Keys that say where a coil lies."""


def shared_field(candidate: Candidate | None) -> Hashable:
    """What candidates must have in common to share the base coil's field."""
    if candidate is None:
        return None
    coil = candidate.coil
    shape = (coil.mean_diameter, coil.radial_build, coil.winding_length, coil.under, coil.clearance)
    size = coil.wire.overall_diameter if coil.radial_build is None else 0.0
    turns = coil.turns if coil.radial_build is None else 0
    return shared_stack(candidate), shape, size, turns


def shared_stack(candidate: Candidate | None) -> Hashable:
    """What candidates must have in common for their base coils to share a factorisation."""
    return None if candidate is None else (candidate.stack, candidate.frequency, candidate.accuracy)


def field_axes(study: Study) -> tuple[int, ...]:
    """Which swept axes part the candidates into groups that are computed together.

    By the base coil's field; where all coils over a stack share a factorisation, by the stack alone.
    """
    by_field, by_stack = _axes_that_change(study)
    return by_field if study.formulation == "total field" else by_stack


def neighbour_axes(study: Study) -> tuple[int, ...]:
    """Swept axes that say where in a stack a coil lies, the telling ones first; none where each is solved by itself."""
    if study.formulation == "total field":
        return ()
    paths = [axis.path for axis in study.swept_axes]
    return tuple(paths.index(path) for path in PLACING if path in paths)


def field_count(study: Study) -> int:
    """How many base fields a study takes, those of designs that cannot be built included."""
    stacks = {shared_stack(state) for state in (study.base, *study.base.states)}
    return len(stacks) * _combinations(study, _axes_that_change(study)[0])


def stack_count(study: Study) -> int:
    """How many stacks the candidates of a study have, each of which takes a factorisation of its own."""
    return _combinations(study, _axes_that_change(study)[1])


def fitting_formulation(study: Study) -> Formulation:
    """How base fields are solved for: as the file says; where it does not, by how many coils there are to a stack."""
    if value_at(study.raw, ("study", "formulation")) is not None:
        return study.base.formulation
    if study.count < MANY_COILS:
        return "total field"
    fields, stacks = (_combinations(study, axes) for axes in _axes_that_change(study))
    return "reaction field" if fields >= MANY_COILS * stacks else "total field"


def _axes_that_change(study: Study) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Which swept axes change the base coil's field, and which its stack, each tried alone on the base design.

    Notes
    -----
    A hundred thousand candidates cannot each be built to see what they share: that takes minutes. Where two axes act
    together otherwise than alone the grouping is not the best one; what is computed is the same.
    """
    built = [_built_along(study, axis) for axis in study.swept_axes]

    def changed(what: Callable[[Candidate], Hashable]) -> tuple[int, ...]:
        alike = [len(found) > 1 and len({what(one) for one in (study.base, *found)}) == 1 for found in built]
        return tuple(number for number, same in enumerate(alike) if not same)

    return changed(shared_field), changed(shared_stack)


def _built_along(study: Study, axis: Axis) -> list[Candidate]:
    """The base design with values from all along an axis, where it can be built with them."""
    from studies.assembly import Particulars, assembled
    from studies.sweep import with_axis_value

    paths = frozenset(other.path for other in study.swept_axes)
    particulars = Particulars(swept_paths=paths, largest_tag=study.largest_tag)
    count = len(axis.values)
    places = range(count) if count <= TRIED else [place * (count - 1) // (TRIED - 1) for place in range(TRIED)]
    tried = (assembled(with_axis_value(study.raw, axis, place), particulars)[0] for place in places)
    return [candidate for candidate in tried if candidate is not None]


def _combinations(study: Study, axes: tuple[int, ...]) -> int:
    """How many combinations of the axes' values the candidates have."""
    if study.sampling is None:
        return prod(len(study.swept_axes[number].values) for number in axes)
    return len(set(zip(*(study.swept_axes[number].values for number in axes), strict=True))) if axes else 1
