"""A candidate in one of its states: solved, mapped, its link worked out at the places asked for."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from fem.arrays import Array, ComplexArray
from fem.tag_map import TagMap
from links.budget import LinkBudget
from links.resonance import quality_factor
from studies.asked_places import reference_places
from studies.bias import BiasedTags
from studies.biased_link import with_bias
from studies.coupling import Asked, Coupling, asked_of, coupling_of
from studies.engineering import place_text
from studies.exchange import ExchangeTable
from studies.exchange_columns import exchange_columns
from studies.fitting import Fit, as_bought, fit_columns, fitted, in_another_state, worst_fit
from studies.hazards import HOTTEST, hottest_part
from studies.leads import lead_columns
from studies.linking import LEAST_MUTUAL, Linked, Profile, coupling_coefficient, exchange_table, linked, profiles
from studies.met_columns import met_columns
from studies.rows import Row
from studies.solving import SolvedBase, SolvedCoils, solved_coils
from studies.specification import Candidate, Capacitor, CapacitorSpecification, Place
from studies.tuning import base_tuning, tag_tuning, tuned_exactly, tuning_columns


@dataclass(frozen=True, slots=True, eq=False)
class MapValues:
    """The map of a candidate, every array of shape (n_height, n_offset, n_tilt) where not said otherwise.

    ``mutual_inductance`` has its lean outward; ``worst_mutual_inductance`` and ``worst_margin`` are the worst over all
    lean directions; ``mutual_inductance_error`` [H] is the estimated error of either, a stock part's spread included.
    """

    mutual_inductance: ComplexArray
    worst_mutual_inductance: ComplexArray
    mutual_inductance_error: Array
    coupling_coefficient: Array
    chip_voltage: Array
    margin: Array
    worst_margin: Array


@dataclass(frozen=True, slots=True, eq=False)
class PlaceResult:
    """The link at one place in one ``state``, the lean the worst way."""

    place: Place
    mutual_inductance: float
    coupling_coefficient: float
    chip_voltage: float
    clamped_voltage: float
    margin: float
    relative_error: float
    state: str


@dataclass(frozen=True, slots=True, eq=False)
class LinkedInState:
    """A candidate's link in one state at the places asked for, without its map; fields as in `InOneState`.

    ``biased`` is the candidate with its core as magnets leave it, no part chosen yet; ``table`` holds a half-duplex
    tag's margins.
    """

    asked: Candidate
    biased: Candidate
    typical: Candidate
    candidate: Candidate
    bought: Candidate | None
    tags: BiasedTags | None
    coils: SolvedCoils
    coupling: Coupling
    at_places: Asked
    table: ExchangeTable | None
    places: tuple[PlaceResult, ...]
    links: Linked


@dataclass(frozen=True, slots=True, eq=False)
class InOneState:
    """What is known of a candidate in one state.

    ``asked`` is the candidate as specified, with what it keeps from the state it was tuned in; ``candidate`` has its
    core as magnets leave it and the worst of its capacitors, ``typical`` the typical ones, ``bought`` parts as they are
    bought (None where none come to it). ``links`` are with no tag first, then at each of the ``places``.
    """

    asked: Candidate
    typical: Candidate
    candidate: Candidate
    bought: Candidate | None
    tags: BiasedTags | None
    coils: SolvedCoils
    coupling: Coupling
    at_places: Asked
    profiles: tuple[Profile, ...]
    places: tuple[PlaceResult, ...]
    links: Linked
    map: MapValues
    row: Row

    @property
    def exact(self) -> Fit:
        """Capacitances that tune both sides exactly in this state, the tag in free air [F]."""
        tuned = tuned_exactly(self.typical)
        return Fit(base_tuning(tuned, self.coils).capacitance, tag_tuning(tuned, self.coils).capacitance)


_Solved = TypeVar("_Solved", InOneState, LinkedInState)


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What a design keeps in all its states: the base coil as wound, and both sides' parts as fitted and as bought."""

    base: SolvedBase
    fitted: tuple[CapacitorSpecification, CapacitorSpecification]
    bought: tuple[Capacitor | None, Capacitor | None] | None

    @classmethod
    def of(cls, found: InOneState | LinkedInState) -> "Kept":
        """From the state in which the design is tuned."""
        typical, coils, bought = found.typical, found.coils, found.bought
        return cls(
            coils.base,
            (
                _there(typical.coil.capacitor, base_tuning(typical, coils).capacitance),
                _there(typical.tag.capacitor, tag_tuning(typical, coils).capacitance),
            ),
            None if bought is None else (bought.coil.capacitor, bought.tag.capacitor),
        )

    def in_state(self, candidate: Candidate) -> Candidate:
        """The design in another state, wound and fitted as it is; a capacitor drifts as the study says it does."""
        coil = candidate.coil
        if coil.inductance is not None:
            section = self.base.section
            build = section.radial_build if coil.radial_build is None else coil.radial_build
            length = section.winding_length if coil.winding_length is None else coil.winding_length
            coil = replace(
                coil, turns=round(self.base.turns), inductance=None, radial_build=build, winding_length=length
            )
        return _with_capacitors(replace(candidate, coil=coil), candidate, self.fitted)

    def bought_in(self, candidate: Candidate, specified: Candidate) -> Candidate | None:
        """``candidate`` with the bought parts, as warm as the state ``specified`` has them."""
        return None if self.bought is None else _with_capacitors(candidate, specified, self.bought)


def _there(capacitor: Capacitor | None, exact: float) -> CapacitorSpecification:
    """A capacitor as it stands in the circuit; one that is not given tunes exactly [F]."""
    return capacitor if isinstance(capacitor, CapacitorSpecification) else CapacitorSpecification(exact, exact, exact)


def _with_capacitors(
    candidate: Candidate, specified: Candidate, kept: tuple[Capacitor | None, Capacitor | None]
) -> Candidate:
    base, tag = (
        in_another_state(own, one) if isinstance(one, CapacitorSpecification) else own
        for own, one in zip((specified.coil.capacitor, specified.tag.capacitor), kept, strict=True)
    )
    return replace(candidate, coil=replace(candidate.coil, capacitor=base), tag=replace(candidate.tag, capacitor=tag))


def in_one_state(specified: Candidate, kept: Kept | None = None) -> InOneState:
    """Solve a candidate in the state that it is in, whatever other states it has.

    Parameters
    ----------
    specified : Candidate
        In this state.
    kept : Kept or None
        What it keeps from the state in which it was tuned; None where it is wound and tuned in this one.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where it cannot be computed.
    """
    found = linked_in_state(specified, kept)
    candidate, typical, coils, coupling = found.candidate, found.typical, found.coils, found.coupling
    places, links = found.places, found.links
    lines = profiles(candidate, coupling, found.table)
    values, on_map = _map_values(candidate, coupling, found.table)
    row = base_columns(candidate, coils) | tuning_columns(typical, coils) | tag_columns(candidate, coils)
    row |= error_columns(candidate, coils, places) | {HOTTEST: hottest_part(candidate)}
    row |= met_columns(typical, coils, links.budget, on_map) | place_columns(places)
    row |= lead_columns(candidate, coils.base)
    row |= exchange_columns(candidate, links) | fit_columns(found.biased, coupling, found.at_places, found.bought)
    return InOneState(
        found.asked, typical, candidate, found.bought, found.tags, coils, coupling, found.at_places, lines, places,
        links, values, row,
    )  # fmt: skip


def linked_in_state(specified: Candidate, kept: Kept | None = None) -> LinkedInState:
    """The link of a candidate in the state that it is in, at the places asked for; arguments as of `in_one_state`.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where it cannot be computed.
    """
    asked = specified if kept is None else kept.in_state(specified)
    biased, tags = with_bias(asked)
    coils = solved_coils(biased)
    coupling = coupling_of(biased, coils)
    typical = fitted(biased, coils)
    bought = as_bought(biased, coils) if kept is None else kept.bought_in(biased, specified)
    at_places = asked_of(coupling, reference_places(biased))
    candidate = worst_fit(typical, coupling, at_places)
    table = exchange_table(candidate, coupling)
    places, links = _at_places(candidate, coupling, at_places, table)
    return LinkedInState(
        asked, biased, typical, candidate, bought, tags, coils, coupling, at_places, table, places, links
    )


def in_every_state(candidate: Candidate, solved: Callable[[Candidate, Kept | None], _Solved]) -> list[_Solved]:
    """A candidate ``solved`` in all its states, the one as given first.

    Turns and capacitors are found in the state named by ``tuned_in``, or as given, and kept in all others.
    """
    specified = (candidate, *candidate.states)
    tuned = next((one for one in specified if one.state == candidate.tuned_in), candidate)
    first = solved(tuned, None)
    kept = Kept.of(first)
    return [first if one is tuned else solved(one, kept) for one in specified]


def worst_places(found: Sequence[InOneState] | Sequence[LinkedInState]) -> tuple[PlaceResult, ...]:
    """Each place in the state in which its margin is least; of states alike to a millionth of a decibel the first."""
    return tuple(min(at, key=told_margin) for at in zip(*(one.places for one in found), strict=True))


def told_margin(place: PlaceResult) -> float:
    """Margin to a millionth of a decibel: of states that differ by less the first is told."""
    return round(place.margin, 6)


def _at_places(
    candidate: Candidate, coupling: Coupling, asked: Asked, table: ExchangeTable | None
) -> tuple[tuple[PlaceResult, ...], Linked]:
    """Results at some places, the lean the worst way, and the link at each of them, in front of it that of no tag."""
    heights, extremes = asked.heights, asked.extremes
    worst = np.argmin(linked(candidate, coupling, heights, extremes, table).margin, axis=0)
    mutual = np.array([0.0, *np.take_along_axis(extremes, worst[None], axis=0)[0]])
    link = linked(candidate, coupling, np.array([coupling.ceiling, *heights]), mutual)
    coefficient = coupling_coefficient(coupling, heights, mutual[1:])
    results = tuple(
        PlaceResult(
            place,
            float(abs(mutual[at])),
            float(coefficient[at - 1]),
            float(link.chip_voltage[at]),
            float(link.clamped_voltage[at]),
            float(link.margin[at]),
            float(error) / max(float(abs(mutual[at])), LEAST_MUTUAL),
            candidate.state,
        )
        for at, (place, error) in enumerate(zip(asked.places, asked.errors, strict=True), 1)  # behind that of no tag
    )
    return results, link


def base_columns(candidate: Candidate, coils: SolvedCoils) -> Row:
    """Terminal quantities of the base coil as installed."""
    base, frequency = coils.base, candidate.frequency
    return {
        "base_turns": base.turns,
        "base_inductance_H": base.inductance,
        "base_resistance_ohm": base.resistance,
        "base_winding_resistance_ohm": base.winding.total,
        "base_direct_current_resistance_ohm": base.winding.direct_current,
        "base_skin_resistance_ohm": base.winding.skin,
        "base_proximity_resistance_ohm": base.winding.proximity,
        "base_reflected_resistance_ohm": base.reflected_resistance,
        "base_q": float(quality_factor(base.inductance, base.resistance, frequency)),
        "base_wire_length_m": base.winding.wire_length,
        "base_conductor_mass_kg": base.winding.conductor_mass,
        "base_self_resonance_estimate_Hz": base.self_resonance,
        "base_radial_build_m": base.section.radial_build,
        "base_winding_length_m": base.section.winding_length,
    }


def tag_columns(candidate: Candidate, coils: SolvedCoils) -> Row:
    """Terminal quantities of the tag in free air, and how far the surroundings move them at the lowest place."""
    tag, frequency = coils.tag, candidate.frequency
    lowest = np.array([min(candidate.grid.heights)])
    return {
        "tag_turns": float(tag.tag.turns),
        "tag_inductance_H": tag.inductance,
        "tag_resistance_ohm": tag.resistance,
        "tag_winding_resistance_ohm": tag.wire_resistance,
        "tag_core_resistance_ohm": tag.core_resistance,
        "tag_added_resistance_ohm": tag.added_resistance,
        "tag_q": float(quality_factor(tag.inductance, tag.resistance, frequency)),
        "tag_inductance_lowest_H": float(coils.tag_inductance(lowest)[0]),
        "tag_resistance_lowest_ohm": float(coils.tag_resistance(lowest, frequency)[0]),
        "tag_dipole_moment_m2": abs(coils.tag.field.moments.moments[0]) * tag.tag.turns,
        "tag_spread": tag.spread,
    }


def error_columns(candidate: Candidate, coils: SolvedCoils, places: tuple[PlaceResult, ...]) -> Row:
    """Estimated relative errors of L, R, M and k; those of M and k are the largest over the reference places.

    A stock part's spread is part of the last two: what its data sheet leaves open.

    That of R is the field solve's alone, in the reflected and the proximity part: the wire's own resistance is as good
    as its data.
    """
    mutual = max(place.relative_error for place in places)
    own = 0.5 * (coils.base.field.inductance_error + coils.tag.field.inductance_error)
    return {
        "base_inductance_rel_error": coils.base.field.inductance_error,
        "base_resistance_rel_error": coils.base.resistance_error(candidate.frequency) / coils.base.resistance,
        "tag_inductance_rel_error": coils.tag.field.inductance_error,
        "mutual_inductance_rel_error": mutual,
        "coupling_coefficient_rel_error": mutual + own,
        "mesh_triangles": coils.base.field.triangles,
        "mesh_unknowns": coils.base.field.unknowns,
        "tag_mesh_triangles": coils.tag.field.triangles,
    }


def place_columns(places: tuple[PlaceResult, ...]) -> Row:
    """Columns of the worst of some places, and of the state that it is worst in."""
    worst = min(places, key=lambda place: place.margin)
    return {
        "worst_place": place_text(worst.place),
        "worst_state": worst.state,
        "mutual_inductance_H": worst.mutual_inductance,
        "coupling_coefficient": worst.coupling_coefficient,
        "chip_voltage_V": worst.chip_voltage,
        "clamped_chip_voltage_V": worst.clamped_voltage,
        "margin_dB": worst.margin,
    }


def _map_values(candidate: Candidate, coupling: Coupling, table: ExchangeTable | None) -> tuple[MapValues, LinkBudget]:
    """The map, and the link anywhere on it with the lean outward, the worst and the best way."""
    heights, offsets, tilts = (
        np.array(a) for a in (candidate.grid.heights, candidate.grid.offsets, candidate.grid.tilts)
    )
    found: TagMap = coupling.grid(heights, offsets, tilts)
    tall = heights[:, None, None]
    outward = found.mutual_inductance
    link = linked(
        candidate,
        coupling,
        tall,
        np.stack((outward, found.worst_mutual_inductance, found.greatest_mutual_inductance)),
        table,
    )
    margin = link.margin
    relative = coupling.relative_error(heights, False)[:, None] + coupling.coils.tag.spread
    error = np.broadcast_to((relative * found.upright_field)[..., None], outward.shape)
    values = MapValues(
        outward,
        found.worst_mutual_inductance,
        error,
        coupling_coefficient(coupling, tall, outward),
        link.chip_voltage[0],
        margin[0],
        np.minimum(margin[1], margin[2]),
    )
    return values, link.budget
