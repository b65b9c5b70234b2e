"""What the base coil asks of its wire, each beside what the wire stands."""

from fem.turn_linkage import greatest_turn_share
from geometries.laying import BEND_RADIUS_RATIO, least_bend_radius, neighbour_turns, turns_a_layer
from links.wire_stress import neighbour_voltage, rms_at_duty, volts_per_turn
from studies.rows import AnyRow, Row, number
from studies.solving import SolvedCoils
from studies.specification import Candidate

NOTABLE_VOLTAGE = 50.0
"""Volts peak between neighbours from which a covering's rating should be known (common practice, no source)."""

NOTABLE_CURRENT_DENSITY = 6e6
"""Rms amperes per m² from which the heat of a closed winding needs a look (common practice, no source)."""

NOTABLE_TEMPERATURE = 105.0
"""Degrees Celsius that nearly every covering stands (common practice, no source)."""


def wire_columns(candidate: Candidate, coils: SolvedCoils, coil_voltage: float, base_current: float) -> Row:
    """Columns on the base coil's wire.

    Parameters
    ----------
    candidate : Candidate
        Says how it is laid, its duty and its ratings.
    coils : SolvedCoils
        Its section and turns.
    coil_voltage, base_current : float
        The greatest met [V peak], [A peak].

    Returns
    -------
    Row
        ``volts_per_turn_V``: even share of a turn [V peak]. ``most_volts_per_turn_V``: of the turn that links the
        most flux. ``neighbour_turns``: most turns of wire between two wires that touch. ``worst_neighbour_voltage_V``:
        an upper bound of what stands between them [V peak]. ``current_density_rms_A_per_m2``: over the bare wire, at
        the drive's duty. ``bend_radius_m``: of the innermost turn. ``least_bend_radius_m``: what the covering stands.
        ``wire_temperature_degC``: as given or assumed, not computed. ``wire_rated_…``: as given, None where not.

    Raises
    ------
    LinkError
        For an impossible voltage or duty.
    """
    wire, base = candidate.coil.wire, coils.base
    turns = max(1, round(base.turns))  # a guide looks at fractions of a turn too
    between = neighbour_turns(turns, turns_a_layer(base.section, wire.overall_diameter), candidate.coil.laying)
    ratio = greatest_turn_share(base.section, float(base.field.flux_linkage.real))
    share = volts_per_turn(coil_voltage, turns)
    return {
        "volts_per_turn_V": share,
        "most_volts_per_turn_V": min(coil_voltage, ratio * share),
        "neighbour_turns": between,
        "worst_neighbour_voltage_V": neighbour_voltage(coil_voltage, turns, between, ratio),
        "wire_rated_voltage_V": wire.rated_voltage,
        "current_density_rms_A_per_m2": float(rms_at_duty(base_current, candidate.drive.duty)) / wire.area,
        "wire_rated_current_density_A_per_m2": wire.rated_current_density,
        "bend_radius_m": base.section.inner_radius,
        "least_bend_radius_m": least_bend_radius(wire),
        "wire_temperature_degC": wire.temperature,
        "wire_rated_temperature_degC": wire.rated_temperature,
    }


def wire_remarks(candidate: Candidate, coil_voltage: float, row: AnyRow) -> list[str]:
    """Where a rating of the base coil's wire is passed, or none is given where it matters.

    Parameters
    ----------
    candidate : Candidate
        With its wire's ratings. That its temperature passes its rating is told where it is read (`studies.heat`).
    coil_voltage : float
        Across the whole coil [V peak].
    row : Row
        Holds the `wire_columns`.
    """
    return [
        *_voltage(candidate, coil_voltage, row),
        *_current_density(candidate, row),
        *_bend(candidate, row),
        *_temperature(candidate),
    ]


def _voltage(candidate: Candidate, coil_voltage: float, row: AnyRow) -> list[str]:
    key, rated, worst = "base_coil.wire.rated_voltage", candidate.coil.wire.rated_voltage, "worst_neighbour_voltage_V"
    voltage = number(row, worst)
    stands = f"up to {voltage:.3g} V peak stands between turns that touch ({row['neighbour_turns']} turns apart, "
    stands += f"laid {laid(candidate)})"
    if rated is None:
        return [f"{key}: none is given, and {stands}"] if voltage > NOTABLE_VOLTAGE else []
    if voltage > rated:
        return [f"{key}: {stands}, {rated:.3g} V is what the covering stands"]
    if coil_voltage > rated:
        return [
            f"{key}: {coil_voltage:.3g} V peak stands across the coil, {rated:.3g} V is what the covering stands: "
            "turns that touch see less, but the coil's two ends must be kept apart, or sleeved where they cross"
        ]
    return []


def laid(candidate: Candidate) -> str:
    """How the base coil's turns are laid, in words."""
    words = {
        "layers": "in layers to and fro",
        "layers with return": "in layers with a return",
        "random": "as they fall",
    }
    return words[candidate.coil.laying]


def _current_density(candidate: Candidate, row: AnyRow) -> list[str]:
    key, rated = "base_coil.wire.rated_current_density", candidate.coil.wire.rated_current_density
    density, duty = number(row, "current_density_rms_A_per_m2"), candidate.drive.duty
    carries = f"the wire carries {density * 1e-6:.3g} A/mm² rms at a duty of {duty:g}"
    if rated is None:
        return [f"{key}: none is given, and {carries}"] if density > NOTABLE_CURRENT_DENSITY else []
    return [f"{key}: {carries}, {rated * 1e-6:.3g} A/mm² is what it is rated for"] if density > rated else []


def _bend(candidate: Candidate, row: AnyRow) -> list[str]:
    radius, least = number(row, "bend_radius_m"), number(row, "least_bend_radius_m")
    if radius >= least:
        return []
    return [
        f"base_coil.wire.minimum_bend_radius: the innermost turn is bent to {radius * 1e3:.3g} mm, "
        f"{least * 1e3:.3g} mm is the least its covering stands ({bend_source(candidate)})"
    ]


def bend_source(candidate: Candidate) -> str:
    """Where the least bend radius comes from."""
    if candidate.coil.wire.minimum_bend_radius is not None:
        return "as given"
    return f"{BEND_RADIUS_RATIO:g} times the covered wire, for resin: common practice, no source"


def _temperature(candidate: Candidate) -> list[str]:
    wire = candidate.coil.wire
    if wire.rated_temperature is not None or wire.temperature <= NOTABLE_TEMPERATURE:
        return []
    return [f"base_coil.wire.rated_temperature: none is given, and the wire is at {wire.temperature:g} degC"]
