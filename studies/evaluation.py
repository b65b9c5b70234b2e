"""One candidate from its specification to everything that is stored of it."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import Array, ComplexArray
from fem.tag_map import TagMap
from links.limits import dipole_field_on_axis
from links.reading import ReadingWindow
from links.resonance import quality_factor
from studies.asked_places import reference_places
from studies.bias import bias_warnings
from studies.biased_link import bias_row, with_bias
from studies.coupling import Asked, Coupling, asked_of, coupling_of
from studies.engineering import place_text
from studies.exchange import ExchangeTable
from studies.exchange_columns import exchange_columns, exchange_remarks
from studies.fitting import as_bought, fit_columns, fitted, worst_fit
from studies.hazards import HOTTEST, candidate_cautions, hottest_part
from studies.ladder import ladder_columns
from studies.leads import at_the_coil, lead_columns, lead_remarks
from studies.linking import LEAST_MUTUAL, Linked, Profile, coupling_coefficient, exchange_table, linked, profiles, rms
from studies.neighbour_columns import neighbour_columns
from studies.person_field import field_columns
from studies.remarks import remarks
from studies.rows import Row, number
from studies.solving import SolvedCoils, solved_coils
from studies.specification import Candidate, Place
from studies.stress import stress_columns, stress_remarks
from studies.tuning import base_circuit, tuning_columns
from studies.verdict import Verdict, verdict
from studies.wire_limits import wire_columns


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
    """The link at one place, the lean the worst way: columns of the record for that place."""

    place: Place
    mutual_inductance: float
    coupling_coefficient: float
    chip_voltage: float
    clamped_voltage: float
    margin: float
    relative_error: float


@dataclass(frozen=True, slots=True, eq=False)
class Evaluation:
    """All that is known of one candidate."""

    candidate: Candidate
    coils: SolvedCoils
    row: Row
    map: MapValues
    profiles: tuple[Profile, ...]
    places: tuple[PlaceResult, ...]
    verdict: Verdict
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


def evaluated(candidate: Candidate) -> Evaluation:
    """Solve a candidate, map it, run its link and judge it.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where it cannot be computed; the text is fit for the designer.
    """
    asked = candidate
    candidate, tags = with_bias(asked)
    coils = solved_coils(candidate)
    coupling = coupling_of(candidate, coils)
    given = candidate
    typical = fitted(candidate, coils)
    bought = as_bought(given, coils)
    at_places = asked_of(coupling, reference_places(candidate))
    candidate = worst_fit(typical, coupling, at_places)
    table = exchange_table(candidate, coupling)
    lines = profiles(candidate, coupling, table)
    places, links = _at_places(candidate, coupling, at_places, table)
    row = base_columns(candidate, coils) | tuning_columns(typical, coils) | tag_columns(candidate, coils)
    row |= error_columns(candidate, coils, places) | {HOTTEST: hottest_part(candidate)}
    row |= _drive_columns(candidate, coils, links) | _place_columns(places) | _reading_columns(lines)
    values = _map_values(candidate, coupling, table)
    current, far = number(row, "base_current_A"), number(row, "field_at_10_m_rms_A_per_m")
    row |= field_columns(candidate, coils, current, far)
    row |= neighbour_columns(candidate, coils, base_circuit(candidate, coils), current)
    row |= lead_columns(candidate, coils.base) | stress_columns(candidate, coils, links)
    row |= exchange_columns(candidate, links) | fit_columns(given, coupling, at_places, bought)
    row["greatest_chip_voltage_V"] = max(float(values.chip_voltage.max()), float(links.chip_voltage.max()))
    worst = min(range(len(places)), key=lambda i: places[i].margin)
    row |= ladder_columns(given, coupling, at_places.at(worst), bought, biased=tags is not None)
    row |= bias_row(asked, candidate, tags, coupling, at_places)
    told = [] if tags is None else list(bias_warnings(tags))
    told += [
        *lead_remarks(candidate, coils.base),
        *exchange_remarks(candidate, links, row),
        *stress_remarks(candidate, row),
    ]
    judged = _judged(candidate, row, places, lines)
    return Evaluation(
        asked,
        coils,
        row | {"verdict": "pass" if judged.passed else "fail", "unmet": "; ".join(c.sentence for c in judged.failures)},
        values,
        lines,
        places,
        judged,
        (*remarks(typical, coils, row, lines), *told),
        candidate_cautions(candidate, [row]),
    )


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
        _place_result(place, i, link, (float(abs(mutual[i + 1])), float(coefficient[i])), float(error))
        for i, (place, error) in enumerate(zip(asked.places, asked.errors, strict=True))
    )
    return results, link


def _place_result(place: Place, index: int, link: Linked, coupled: tuple[float, float], error: float) -> PlaceResult:
    at = index + 1  # behind the link of no tag
    mutual, coefficient = coupled
    return PlaceResult(
        place,
        mutual,
        coefficient,
        float(link.chip_voltage[at]),
        float(link.clamped_voltage[at]),
        float(link.margin[at]),
        error / max(mutual, LEAST_MUTUAL),
    )


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


def _drive_columns(candidate: Candidate, coils: SolvedCoils, link: Linked) -> Row:
    """The greatest currents and voltages with no tag there and with the tag at each reference place."""

    def greatest(name: str) -> float:
        return float(np.abs(getattr(link.budget, name)).max())

    volts, amperes = at_the_coil(candidate, coils.base, link.budget)
    voltage, current = float(np.abs(volts).max()), float(np.abs(amperes).max())
    moment = rms(current) * coils.base.turns * abs(coils.base.field.moment)
    on_plate = coils.base.field.greatest_on_plate(coils.base.section.outer_radius)
    return {
        "base_current_A": current,
        "source_current_A": greatest("source_current"),
        "drive_limited": bool(link.budget.drive_limited.any()),
        "coil_voltage_V": voltage,
        "capacitor_voltage_V": greatest("capacitor_voltage"),
        "input_power_W": greatest("input_power"),
        **wire_columns(candidate, coils, voltage, current),
        "field_at_10_m_rms_A_per_m": float(dipole_field_on_axis(moment, 10.0)),
        "flux_density_on_plate_rms_T": rms(current) * coils.base.turns * on_plate,
        "critical_coupling": float(link.budget.critical_coupling[-1]),
    }


def _place_columns(places: tuple[PlaceResult, ...]) -> Row:
    worst = min(places, key=lambda place: place.margin)
    return {
        "worst_place": place_text(worst.place),
        "mutual_inductance_H": worst.mutual_inductance,
        "coupling_coefficient": worst.coupling_coefficient,
        "chip_voltage_V": worst.chip_voltage,
        "clamped_chip_voltage_V": worst.clamped_voltage,
        "margin_dB": worst.margin,
    }


def _reading_columns(lines: tuple[Profile, ...]) -> Row:
    axis, worst = lines[0].window, lines[-1].window
    return {
        "read_height_m": axis.upper,
        "read_height_lower_edge_m": _lower_edge(axis),
        "read_height_beyond_ceiling": axis.reaches_end,
        "required_line": lines[-1].label,
        "required_read_height_m": worst.upper,
        "required_read_height_lower_edge_m": _lower_edge(worst),
        "read_height_gaps": axis.gaps or worst.gaps,
    }


def _lower_edge(window: ReadingWindow) -> float | None:
    """Height below which the tag is lost for being too near [m]; None where it reads down to the lowest place."""
    return None if window.starts_at_begin else window.lower


def _judged(candidate: Candidate, row: Row, places: tuple[PlaceResult, ...], lines: tuple[Profile, ...]) -> Verdict:
    reached = [line.window.upper for line in lines]
    quantities: dict[str, float | None] = {
        "margin": min(place.margin for place in places),
        "read_height": None if any(upper is None for upper in reached) else min(u for u in reached if u is not None),
        "coil_voltage": number(row, "coil_voltage_V"),
        "capacitor_voltage": number(row, "capacitor_voltage_V"),
        "current": number(row, "base_current_A"),
        "supply_current": number(row, "supply_current_A") if "supply_current_A" in row else 0.0,
        "current_density": number(row, "current_density_rms_A_per_m2"),
        "neighbour_voltage": number(row, "worst_neighbour_voltage_V"),
        "volts_per_turn": number(row, "most_volts_per_turn_V"),
        "input_power": number(row, "input_power_W"),
        "field_at_10_m": number(row, "field_at_10_m_rms_A_per_m"),
        "wire_temperature": candidate.coil.wire.temperature,
    }
    worst = min(lines, key=lambda line: line.window.upper or 0.0)
    found = {"margin": f"{row['worst_place']}, {row['margin_limited_by']}", "read_height": worst.label}
    return verdict(candidate.require, quantities, found)


def _map_values(candidate: Candidate, coupling: Coupling, table: ExchangeTable | None) -> MapValues:
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
    return MapValues(
        outward,
        found.worst_mutual_inductance,
        error,
        coupling_coefficient(coupling, tall, outward),
        link.chip_voltage[0],
        margin[0],
        np.minimum(margin[1], margin[2]),
    )
