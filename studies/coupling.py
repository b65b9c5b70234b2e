"""M of a candidate at any place: the map, single places and lines of heights, each with its estimated error."""

from dataclasses import dataclass, replace
from math import inf, sin

import numpy as np

from fem.air_field import AirField, AirSpace
from fem.arrays import Array, ComplexArray
from fem.base_solution import BaseSolution
from fem.beside import beside, lies_in
from fem.liquid_field import SHARE_ERROR, LiquidField, liquid_field
from fem.near_places import CLEAR_SHARE, LUMPING_ERROR, NearTag, near_tag
from fem.sources import Rings
from fem.tag_map import TagMap, tag_map
from fem.tag_solution import AxialMoments
from geometries.errors import GeometryError
from geometries.liquids import is_liquid
from geometries.tag import Tag
from studies.asked_places import ceiling_for, height_range, lowest_point, open_air, probe_heights, worst_line
from studies.assembly_tag import Extent
from studies.engineering import millimetres
from studies.solving import BaseField, SolvedCoils
from studies.specification import Candidate, Place
from studies.tag_room import places_of, swept_outline

SERIES_SHARE = 1e-3
"""Truncation of the field's series, as a share of the wanted accuracy."""

ROOM = 1.001
"""Room round the tag's places, as a factor."""

LARGEST_FOUND_SHARE = 0.05
"""Share of a liquid's currents in the field round the tag up to which they are a correction."""


Extremes = tuple[ComplexArray, ComplexArray]
"""M of least and of greatest magnitude over the directions a tag may lean in; the latter leans outward or inward."""


@dataclass(frozen=True, slots=True, eq=False)
class Coupling:
    """The base field of a solved candidate, ready to be asked for M.

    Parameters
    ----------
    coils : SolvedCoils
        With their turns.
    field : AirField
        Per ampere in one turn of the base coil.
    moments : AxialMoments
        Of the tag with all its turns.
    near_tag : NearTag
        The tag for places too near the sources for its moments.
    probe_heights : tuple of float
        Heights at which ``coils.base.field.field_errors`` hold [m].
    ceiling : float
        Highest place that may be asked for [m].
    liquid : LiquidField or None
        What the currents of a liquid round the tag add; ``field`` is without them.
    """

    coils: SolvedCoils
    field: AirField
    moments: AxialMoments
    near_tag: NearTag
    probe_heights: tuple[float, ...]
    ceiling: float
    liquid: LiquidField | None = None

    def grid(self, heights: Array, offsets: Array, tilts: Array) -> TagMap:
        """Map of M over a grid, corrected for what is near [H]."""
        raw = tag_map(self.field, self.moments, heights, offsets, tilts, self.near_tag)
        ratio = self._factor(heights)[:, None, None]
        strength = raw.upright_field * np.abs(ratio[..., 0])
        return TagMap(
            raw.mutual_inductance * ratio,
            raw.worst_mutual_inductance * ratio,
            raw.greatest_mutual_inductance * ratio,
            strength,
        )

    def line(self, heights: Array, offset: float, tilt: float) -> tuple[Extremes, Array]:
        """M of least and greatest magnitude over all lean directions at ``heights`` of shape (n,), and its error [H].

        The error is the estimated one, a stock part's spread included. It scales with the whole field at the place, not
        with the part of it that M takes: towards a null M falls, its error does not.
        """
        found = self.grid(heights, np.array([offset]), np.array([tilt]))
        relative = self.relative_error(heights, on_axis=offset == 0.0 and tilt == 0.0) + self.coils.tag.spread
        extremes = found.worst_mutual_inductance[:, 0, 0], found.greatest_mutual_inductance[:, 0, 0]
        return extremes, np.asarray(relative * found.upright_field[:, 0])

    def extremes_at(self, heights: Array, offset: float, tilt: float) -> Extremes:
        """M of least and of greatest magnitude over all lean directions, at ``heights`` of shape (n,) [H]."""
        return self.line(heights, offset, tilt)[0]

    def error(self, heights: Array, offset: float, tilt: float) -> Array:
        """Estimated error of M along a line of ``heights`` [H]."""
        return self.line(heights, offset, tilt)[1]

    def relative_error(self, heights: Array, on_axis: bool) -> Array:
        """Estimated relative error of M's size at ``heights``; a stock part's unknown construction apart."""
        errors = np.interp(np.log(heights), np.log(self.probe_heights), self.coils.base.field.field_errors)
        total = errors + self.coils.tag.field.moment_error + self.coils.near.uncertainty
        total = total + np.where(self.near_tag.crowded(heights), LUMPING_ERROR, 0.0)
        share = np.zeros(np.shape(heights)) if self.liquid is None else np.abs(self.liquid.share(heights))
        if on_axis:
            return np.asarray(total + SHARE_ERROR * share)
        return np.asarray(total + share + np.abs(self.coils.near.map_ratio(heights) - 1.0))

    def _factor(self, heights: Array) -> ComplexArray:
        liquid = 0.0 if self.liquid is None else self.liquid.share(heights)
        return np.asarray(self.coils.near.map_ratio(heights) * (1.0 + liquid) * self.coils.base.turns)


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """M at some places, the lean in the two directions that give it least and most, ready to be asked again.

    ``heights`` [m] of shape (n,), ``extremes`` [H] of shape (2, n), ``errors`` [H] of shape (n,).
    """

    places: tuple[Place, ...]
    heights: Array
    extremes: ComplexArray
    errors: Array

    def at(self, index: int) -> "Asked":
        """One of the places alone."""
        one = slice(index, index + 1)
        return Asked(self.places[one], self.heights[one], self.extremes[:, one], self.errors[one])


def asked_of(coupling: Coupling, places: tuple[Place, ...]) -> Asked:
    """M at some places of a candidate."""
    heights = np.array([place.height for place in places])
    found = [coupling.line(heights[i : i + 1], place.offset, place.tilt) for i, place in enumerate(places)]
    extremes = np.concatenate([extremes for extremes, _ in found], axis=1)
    return Asked(places, heights, extremes, np.concatenate([error for _, error in found]))


def coupling_of(candidate: Candidate, coils: SolvedCoils) -> Coupling:
    """Prepare a solved candidate's field for every place its study may ask for.

    Raises
    ------
    GeometryError
        Where the lowest place brings the tag down to the level of a conductor or the winding.
    """
    tag = coils.tag
    moments = tag.field.moments.times(tag.tag.turns)
    ceiling = ceiling_for(candidate, candidate.coil.mean_diameter)
    base, liquid = _without_liquids(candidate, coils, ceiling)
    near = near_tag(tag.field, tag.tag.turns, base.top)
    space = open_air(candidate, tag.tag, base.top, ceiling)
    if space is None:
        assert isinstance(base, BaseSolution), "a family's coil has nothing beside the tag"
        near, space = _room_beside(candidate, tag.tag, near, base.sources, ceiling)
    field = base.air_field(space, SERIES_SHARE * candidate.accuracy)
    return Coupling(coils, field, moments, near, probe_heights(candidate), ceiling, liquid)


def _without_liquids(candidate: Candidate, coils: SolvedCoils, ceiling: float) -> tuple[BaseField, LiquidField | None]:
    """The base field but for liquids that the tag may lie in, and what those add.

    Raises
    ------
    GeometryError
        Where they add too much for a correction.
    """
    low, base = lowest_point(candidate, coils.tag.tag), coils.base.field
    held = [s for s in candidate.stack.solids if is_liquid(s, candidate.frequency)]
    names = {f"solid {solid.name}" for solid in held if max(z for _, z in solid.outline) > low}
    if not names:
        return base, None
    assert isinstance(base, BaseSolution), "a family's coil has nothing beside the tag"
    liquids = tuple(rings for rings in base.sources if rings.name in names)
    others = tuple(rings for rings in base.sources if rings.name not in names)
    found = liquid_field(liquids, others, height_range(candidate)[0], ceiling)
    if found.largest > LARGEST_FOUND_SHARE:
        raise GeometryError(
            f"solids.{liquids[0].name.removeprefix('solid ')}.material",
            f"its currents come to {100 * found.largest:.2g} % of the field round the tag; up to "
            f"{100 * LARGEST_FOUND_SHARE:g} % is taken as a correction: give it a well for the tag",
        )
    return replace(base, sources=others), found


def _room_beside(
    candidate: Candidate, tag: Tag, near: NearTag, sources: tuple[Rings, ...], ceiling: float
) -> tuple[NearTag, AirSpace]:
    """Room for a tag among sources that reach higher than its lowest place, as those of a block with a well do."""
    offset, scale = max(place.offset for place in _outermost(candidate)), tag.sphere_radius
    low = lowest_point(candidate, tag)
    extent = Extent(tag.outer_radius, tag.half_height)
    reach = ROOM * max(r for r, _ in swept_outline(_outermost(candidate), extent))
    leaning = ROOM * (offset + scale * max(abs(sin(place.tilt)) for place in _outermost(candidate)))
    narrow = AirSpace(reach, low, ceiling + scale)
    if lies_in(sources, narrow):
        raise GeometryError(
            "map.height",
            f"the lowest place of the tag reaches down to {millimetres(low)} and {millimetres(reach)} off the axis, "
            "but a winding, conductor or ferrite lies there or above: fields are computed clear of all of them only",
        )
    wide = AirSpace(max(reach, leaning), low, ceiling + scale)
    if lies_in(sources, wide):
        return replace(near, beside=beside(sources, offset, inf, inf)), narrow
    return replace(near, beside=beside(sources, offset, scale / CLEAR_SHARE, low + scale)), wide


def _outermost(candidate: Candidate) -> list[Place]:
    """Places that bound where the tag goes, the line of leaning margins among them."""
    return [*places_of(candidate.grid, candidate.require), Place(height_range(candidate)[0], *worst_line(candidate))]
