"""What a workshop needs to wind a base coil, and the voltage and heat that it has to stand."""

from dataclasses import dataclass
from math import isfinite, pi

from fem.closed_forms_windings import winding_self_inductance
from fem.turn_by_turn import turns_inductance
from fem.wire_losses import direct_current_resistance
from geometries.section import WindingSection
from geometries.turn_places import turn_places
from geometries.winding_plan import NESTING, WindingPlan, fits_build, nearest_gauge, nearest_metric_size, winding_plan
from links.resonance import quality_factor
from studies.bench_card import ROOM_TEMPERATURE
from studies.evaluation import Evaluation
from studies.rows import Row, number
from studies.solving import SolvedBase
from studies.specification import CoilSpecification

FORMER_SPARE = 1.0
"""Room that the flanges leave above the last layer, in wires (common practice, no source)."""

MOST_TURNS = 3000
"""Up to which inductance is reckoned turn by turn: its work goes with the square of them."""

LEAST_FILM = 1e-5
"""The thinnest film that is worth laying between layers (common practice, no source) [m]."""

TOLD_CHANGE = 0.005
"""Relative change of inductance from which on it is told: half of it is the resonance's."""


@dataclass(frozen=True, slots=True, eq=False)
class WindingSheet:
    """The sheet's figures as a row of names with units, its plan, and what to take care of."""

    row: Row
    plan: WindingPlan
    orders: tuple[str, ...]
    remarks: tuple[str, ...]


def winding_sheet(found: Evaluation, hottest: SolvedBase, wire_tolerance: float) -> WindingSheet:
    """The sheet of an evaluated design.

    Parameters
    ----------
    found : Evaluation
        Of the design.
    hottest : SolvedBase
        The base coil in the state in which its wire has the most resistance.
    wire_tolerance : float
        By how much the bare wire's diameter may be off, relative [1]: the cold resistance goes as 1/d².
    """
    candidate, base = found.candidate, found.coils.base
    coil, section = candidate.coil, base.section
    plan = winding_plan(section, round(base.turns), coil.wire.overall_diameter)
    as_wound = _as_wound(coil, section, plan)
    tight_length = as_wound["tight_wire_length_m"]
    row: Row = {
        "turns": round(base.turns),
        "layer_turns": plan.layer_turns,
        "layers": plan.layers,
        "last_layer_turns": plan.last_layer_turns,
        "layers_fit": fits_build(plan, section),
        "laying": coil.laying,
        "layers_straight_build_m": plan.straight_build,
        "layers_nested_build_m": plan.nested_build,
        **as_wound,
        **_wire_columns(coil),
        "wire_length_m": base.winding.wire_length,
        "conductor_mass_kg": base.winding.conductor_mass,
        **_resistances(found, hottest, tight_length, wire_tolerance),
        "former_inner_diameter_m": 2.0 * section.inner_radius,
        "former_width_m": section.winding_length,
        "winding_outer_diameter_m": 2.0 * section.outer_radius,
        "flange_diameter_m": 2.0 * (section.outer_radius + FORMER_SPARE * coil.wire.overall_diameter),
        **{name: found.row.get(name) for name in _OF_THE_DESIGN},
    }
    return WindingSheet(row, plan, _orders(coil, plan), _remarks(found, row))


def _as_wound(coil: CoilSpecification, section: WindingSection, plan: WindingPlan) -> Row:
    """Inductance in air turn by turn: layers tight, and held apart so that they fill the section [H]; that film [m].

    And the wire that tight layers take [m]. The design reckons with turns spread evenly over the section; tight layers
    leave its outside empty, lie nearer to each other and so have more inductance and shorter turns. Empty where turns
    fall at random or are too many.
    """
    names = "tight_inductance_H", "tight_inductance_change", "tight_wire_length_m", "film_m", "filmed_inductance_H"
    row: Row = dict.fromkeys(names)
    turns = (plan.layers - 1) * plan.layer_turns + plan.last_layer_turns
    if coil.laying == "random" or turns > MOST_TURNS:
        return row
    straight, overall = fits_build(plan, section) == "straight", coil.wire.overall_diameter

    def inductance(layer_distance: float) -> float:
        return turns_inductance(*turn_places(plan, section, overall, layer_distance), coil.wire.diameter)

    layer_distance = overall if straight else NESTING * overall
    tight = inductance(layer_distance)
    row["tight_inductance_H"] = tight
    row["tight_wire_length_m"] = 2.0 * pi * float(turn_places(plan, section, overall, layer_distance)[0].sum())
    row["tight_inductance_change"] = tight / winding_self_inductance(section, turns) - 1.0
    film = (section.radial_build - plan.straight_build) / (plan.layers - 1) if plan.layers > 1 else 0.0
    if film > LEAST_FILM:
        row["film_m"] = film
        row["filmed_inductance_H"] = inductance(overall + film)
    return row


_OF_THE_DESIGN = (
    "tuning_capacitance_F", "tuning_parts", "fitted_capacitance_least_F", "fitted_capacitance_greatest_F",
    "coil_voltage_V", "capacitor_voltage_V", "capacitor_current_rms_A", "capacitor_loss_W", "base_current_A",
    "volts_per_turn_V", "most_volts_per_turn_V", "neighbour_turns", "worst_neighbour_voltage_V",
    "wire_rated_voltage_V", "current_density_rms_A_per_m2", "bend_radius_m", "least_bend_radius_m",
    "wire_temperature_degC", "wire_rated_temperature_degC",
)  # fmt: skip
"""Columns of the design that the sheet repeats: the greatest of all states where they are such."""


def _wire_columns(coil: CoilSpecification) -> Row:
    gauge, gauge_size = nearest_gauge(coil.wire.diameter)
    return {
        "wire_conductor": coil.wire.conductor.name,
        "wire_diameter_m": coil.wire.diameter,
        "wire_overall_diameter_m": coil.wire.overall_diameter,
        "nearest_gauge": gauge,
        "nearest_gauge_diameter_m": gauge_size,
        "nearest_metric_size_m": nearest_metric_size(coil.wire.diameter),
    }


def _resistances(found: Evaluation, base: SolvedBase, tight_length: object, wire_tolerance: float) -> Row:
    """Cold to direct current with its band, and at its hottest: to direct current, at the carrier, and installed [Ω].

    The band holds a coil that fills its section and one that is wound tight, either of wire off by its tolerance.
    """
    wire = found.candidate.coil.wire

    def cold(length: float) -> float:
        return direct_current_resistance(length, wire.diameter, wire.conductor.conductivity(ROOM_TEMPERATURE))

    even = cold(found.coils.base.winding.wire_length)
    tight = cold(tight_length) if isinstance(tight_length, float) else None
    return {
        "cold_resistance_ohm": even,
        "tight_cold_resistance_ohm": tight,
        "wire_diameter_tolerance": wire_tolerance,
        "cold_resistance_least_ohm": min(even, tight or even) / (1.0 + wire_tolerance) ** 2,
        "cold_resistance_greatest_ohm": max(even, tight or even) / (1.0 - wire_tolerance) ** 2,
        "hot_direct_current_resistance_ohm": base.winding.direct_current,
        "hot_winding_resistance_ohm": base.winding.total,
        "hot_installed_resistance_ohm": base.resistance,
        "hot_installed_inductance_H": base.inductance,
        "hot_installed_q": float(quality_factor(base.inductance, base.resistance, found.candidate.frequency)),
    }


def _orders(coil: CoilSpecification, plan: WindingPlan) -> tuple[str, ...]:
    """How to wind it, a sentence a step."""
    begin = "Begin at the bottom flange, on the former's inner diameter; mark this end B (begin)."
    way = "Wind counter-clockwise as seen from above, from the plate; the other way works as well, but all alike."
    if coil.laying == "random":
        return (begin, way, f"As it falls: no layers are counted; {plan.layer_turns} turns would fill one.",
                "Lead the last turn out over the flange; mark this end E (end).")  # fmt: skip
    each = f"Of {plan.layers} layers" if plan.layers > 1 else "One layer"
    last = "" if plan.last_layer_turns == plan.layer_turns else f", the last one {plan.last_layer_turns}"
    turns = f"{each}, {plan.layer_turns} turns each{last}; {laid_words(coil)}."
    upward = plan.layers % 2 == 1 or coil.laying == "layers with return"
    full = plan.last_layer_turns == plan.layer_turns
    where = ("at the top flange" if upward else "at the bottom flange") if full else (
        f"{plan.last_layer_turns} turns from the {'bottom' if upward else 'top'} flange")  # fmt: skip
    return begin, way, turns, f"The last turn ends on the outside, {where}; mark this end E (end)."


def laid_words(coil: CoilSpecification) -> str:
    """How one layer follows another, for whoever winds it."""
    if coil.laying == "layers with return":
        return "every layer begins at the bottom flange, the wire led back between them"
    return "to and fro, each layer full before the next begins"


def _remarks(found: Evaluation, row: Row) -> tuple[str, ...]:
    """What to take care of, the layers first; then what the design's own warnings say of coil and wire."""
    told = []
    straight, nested = number(row, "layers_straight_build_m"), number(row, "layers_nested_build_m")
    build = found.coils.base.section.radial_build
    if found.candidate.coil.laying != "random" and row["layers_fit"] != "straight":
        words = (
            "they fit only where each lies in the grooves of the one below"
            if row["layers_fit"] == "nested"
            else f"even in each other's grooves they take {nested * 1e3:.3g} mm: fewer turns, thinner wire or more room"
        )
        room = f"{straight * 1e3:.3g} mm one upon the other, the section has {build * 1e3:.3g} mm"
        told.append(f"The layers take {room}: {words}.")
    told += _of_the_inductance(row, build)
    if found.candidate.coil.laying != "random":
        told.append(
            f"{row['layer_turns']} turns side by side leave no room where a layer climbs to the next, up to one wire's "
            "width (common practice, no source): where the last will not go in, wind one less a layer."
        )
    wire = found.candidate.coil.wire
    if not wire.conductor.temperature_coefficient and wire.temperature != ROOM_TEMPERATURE:
        told.append(
            f"No temperature coefficient of {wire.conductor.name} is known: its resistance cold is told as it is at "
            f"{wire.temperature:g} °C."
        )
    return (*told, *(text for text in found.warnings if text.startswith(("base_coil", "lead:"))))


def _of_the_inductance(row: Row, build: float) -> list[str]:
    """How far a winding as wound is from the one reckoned with, and what brings it there."""
    change = row["tight_inductance_change"]
    if not isinstance(change, float) or abs(change) < TOLD_CHANGE:
        return []
    air = 1e6 * number(row, "tight_inductance_H")
    way = "lower" if change > 0.0 else "higher"
    told = (
        f"The design reckons with turns spread evenly over the section. Wound tight, turn by turn, it has {air:.4g} µH "
        f"in air, {100.0 * change:+.1f} %, and resonates {abs(50.0 * change):.1f} % {way}"
    )
    film = row["film_m"]
    if not isinstance(film, float):
        return [f"{told}: trim the capacitor, or the turns, by the bench."]
    spread = 1e6 * number(row, "filmed_inductance_H")
    straight = number(row, "layers_straight_build_m")
    return [
        f"{told}: its layers take {straight * 1e3:.3g} mm of {build * 1e3:.3g} mm. With {film * 1e3:.2g} mm of film "
        f"between layers it has {spread:.4g} µH; or give the study the radial_build that the layers take."
    ]


def finite(row: Row) -> Row:
    """The row with what JSON cannot hold left empty."""
    return {name: None if isinstance(value, float) and not isfinite(value) else value for name, value in row.items()}
