"""What the steady field of magnets does to the tag: its core unbiased, biased, and fully saturated."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import cos, pi, sin

import numpy as np

from fem.arrays import Array
from fem.core_bias import AppliedField, CoreBias, applied_field, core_bias
from geometries.magnet import Magnet
from geometries.materials import Material
from links.resonance import quality_factor
from studies.engineering import place_text
from studies.rows import Row
from studies.solving import SolvedTag, solved_tag
from studies.specification import Candidate, Place, TagSpecification

TURNS = 12
"""Directions of the offset, evenly round the axis, in which a drive's magnets may stand as they turn."""

WORTH_TELLING = 0.5
"""Share of its greatest magnetisation from which a core's bias is told."""


@dataclass(frozen=True, slots=True)
class Bias:
    """The steady field at the tag's core where it is strongest of all the places looked at.

    ``applied`` is the field without the core [T]; ``core`` its state, None where its saturation flux density is not
    known; ``place`` where that is, None where only magnets fixed to the tag make it. ``least_flux_density`` is that of
    the core at the place where it is weakest [T].
    """

    applied: AppliedField
    core: CoreBias | None
    place: Place | None
    least_flux_density: float


@dataclass(frozen=True, slots=True, eq=False)
class BiasedTags:
    """The tag with its core unbiased, biased and fully saturated: as specified, and solved.

    ``biased`` and its specification are None where the core's saturation flux density is not known.
    """

    bias: Bias
    unbiased: SolvedTag
    biased: SolvedTag | None
    saturated: SolvedTag
    biased_specification: TagSpecification | None
    saturated_specification: TagSpecification


def steady_magnets(candidate: Candidate) -> tuple[tuple[Magnet, ...], tuple[Magnet, ...]]:
    """Magnets with a remanence: those fixed to the tag, and those of a drive."""
    own = tuple(magnet for magnet in candidate.magnets if magnet.remanence)
    return own, tuple(magnet for magnet in candidate.drive_magnets if magnet.remanence)


def biased_tags(candidate: Candidate) -> BiasedTags | None:
    """The tag in the field of the candidate's magnets; None where nothing of it can be biased.

    That is without a magnet of any remanence, without a core, and with a core above its Curie temperature.

    Raises
    ------
    GeometryError, MeshingError, FieldError
        Where the tag cannot be solved.
    """
    own, drive = steady_magnets(candidate)
    if not own and not drive:
        return None
    frequency, accuracy = candidate.frequency, 0.5 * candidate.accuracy
    unbiased = solved_tag(candidate.tag, frequency, accuracy)
    if unbiased.tag.core is None or not unbiased.tag.core.material.magnetic:
        return None
    bias = greatest_bias(candidate, unbiased)
    saturated = saturated_specification(candidate.tag)
    specification = None if bias.core is None else biased_specification(candidate.tag, bias.core.permeability)
    return BiasedTags(
        bias,
        unbiased,
        None if specification is None else solved_tag(specification, frequency, accuracy),
        solved_tag(saturated, frequency, accuracy),
        specification,
        saturated,
    )


def greatest_bias(candidate: Candidate, tag: SolvedTag) -> Bias:
    """The strongest bias of the core: at the lowest place of the map and at the required ones, the drive turned round.

    A drive's magnets may stand any way round, and a tag's own may be turned to them any way: their transverse fields
    are added as if they ran along each other, which is the worst.
    """
    own, drive = steady_magnets(candidate)
    moments, temperature = tag.field.moments, candidate.tag.temperature
    carried = applied_field(tag.tag, moments, own)
    found: list[tuple[AppliedField, CoreBias | None, Place | None]] = []
    if not drive:
        found.append((carried, core_bias(tag.tag, carried, temperature), None))
    for place, centre, axes in _poses(candidate) if drive else ():
        below = applied_field(tag.tag, moments, drive, centre, axes)
        both = AppliedField(carried.axial + below.axial, carried.transverse + below.transverse)
        found.append((both, core_bias(tag.tag, both, temperature), place))
    applied, core, strongest = max(found, key=lambda one: _strength(one[0], one[1]))
    least = min(_strength(one, state) for one, state, _ in found)
    return Bias(applied, core, strongest, least if core is not None else 0.0)


def bias_places(candidate: Candidate) -> tuple[Place, ...]:
    """Where the field of a drive's magnets is looked at."""
    lowest = Place(min(candidate.grid.heights), 0.0, 0.0)
    return tuple(dict.fromkeys((lowest, *candidate.require.places)))


def biased_specification(tag: TagSpecification, permeability: float) -> TagSpecification:
    """The tag with its core at another ``permeability`` [1] throughout; a stock part keeps its turns."""

    def at(material: Material) -> Material:
        return material.biased(permeability)

    construction, part = tag.construction, tag.part
    if construction is not None and construction.core is not None:
        core = construction.core
        return replace(
            tag,
            construction=replace(construction, core=replace(core, material=at(core.material))),
            cold_core=tag.cold_core or core.material,
        )
    if part is not None:
        return replace(tag, part=replace(part, material=at(part.material)), cold_core=tag.cold_core or part.material)
    return tag


def saturated_specification(tag: TagSpecification) -> TagSpecification:
    """The tag with its core fully saturated: to a small signal it is air."""
    return biased_specification(tag, 1.0)


def bias_columns(tags: BiasedTags, frequency: float) -> Row:
    """Columns of the bias; those that need a saturation flux density are left out where the core gives none."""
    bias, core = tags.bias, tags.bias.core
    row: Row = {
        "bias_flux_density_T": abs(bias.applied.axial),
        "bias_transverse_flux_density_T": bias.applied.transverse,
    }
    if core is not None:
        row |= {
            "bias_core_flux_density_T": core.state.flux_density,
            "bias_least_core_flux_density_T": bias.least_flux_density,
            "bias_saturated_share": core.state.saturated_share,
            "core_incremental_permeability": core.permeability,
        }
    states = (("unbiased", tags.unbiased), ("biased", tags.biased), ("saturated", tags.saturated))
    for name, tag in ((name, tag) for name, tag in states if tag is not None):
        row |= {
            f"tag_{name}_inductance_H": tag.inductance,
            f"tag_{name}_resistance_ohm": tag.resistance,
            f"tag_{name}_q": float(quality_factor(tag.inductance, tag.resistance, frequency)),
        }
    return row


def bias_warnings(tags: BiasedTags) -> tuple[str, ...]:
    """What a designer should be told of the bias: a core more than half saturated, or one that nothing is known of."""
    bias, core = tags.bias, tags.bias.core
    lost = 100.0 * (1.0 - tags.saturated.inductance / tags.unbiased.inductance)
    if core is None or tags.biased is None:
        axial, transverse = 1e3 * abs(bias.applied.axial), 1e3 * bias.applied.transverse
        return (
            f"magnets: they put {axial:.3g} mT along the tag's core and {transverse:.3g} mT across it, but its "
            "material gives no saturation_flux_density: what the bias does is not computed; a core fully saturated "
            f"would take {lost:.3g} % of the tag's inductance",
        )
    if core.state.saturated_share < WORTH_TELLING:
        return ()
    shift = 100.0 * (1.0 - tags.biased.inductance / tags.unbiased.inductance)
    where = "" if bias.place is None else f" at {place_text(bias.place)}"
    return (
        f"magnets: their steady field magnetises the tag's core to {100.0 * core.state.saturated_share:.3g} % of "
        f"saturation{where}, with {core.state.flux_density:.3g} T inside its winding; a permeability of "
        f"{core.permeability:.3g} is left, and the tag's inductance is {shift:.3g} % less than unbiased "
        f"({lost:.3g} % less if it were fully saturated)",
    )


def _poses(candidate: Candidate) -> Iterator[tuple[Place, Array, Array]]:
    """Places with the tag's centre [m] and its axes (a row each), in the stack's axes, turned round the base coil's."""
    for place in bias_places(candidate):
        for turn in range(TURNS):
            angle = 2.0 * pi * turn / TURNS
            outward = np.array([cos(angle), sin(angle), 0.0])
            up = np.array([0.0, 0.0, 1.0])
            along = sin(place.tilt) * outward + cos(place.tilt) * up
            x = cos(place.tilt) * outward - sin(place.tilt) * up
            yield place, place.offset * outward + place.height * up, np.array([x, np.cross(along, x), along])


def _strength(applied: AppliedField, core: CoreBias | None) -> float:
    """What places are compared by [T]: the core's flux density, or the field without it where that is not known."""
    return abs(applied.axial) if core is None else core.state.flux_density
