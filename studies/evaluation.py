"""One candidate from its specification, in all its states, to everything that is stored of it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometries.errors import GeometryError
from links.errors import LinkError
from links.reading import ReadingWindow, reading_window
from studies.bias import bias_warnings
from studies.biased_link import bias_row
from studies.exchange_columns import exchange_remarks
from studies.extremes import extremes
from studies.hazards import candidate_cautions
from studies.ladder import ladder_columns
from studies.leads import lead_remarks
from studies.linking import Profile
from studies.one_state import (
    InOneState,
    Kept,
    MapValues,
    PlaceResult,
    in_every_state,
    in_one_state,
    place_columns,
    told_margin,
    worst_places,
)
from studies.person_field import REACHES, field_columns
from studies.remarks import remarks
from studies.rows import Row, number
from studies.solving import SolvedCoils
from studies.specification import AS_GIVEN, Candidate
from studies.stress import stress_remarks
from studies.tuning import tuning_remarks
from studies.verdict import Verdict, verdict
from studies.vessel_margins import vessel_columns, vessel_rows

OF_THE_WORST = ("margin_limited_by", "power_margin_dB", "reply_margin_dB", "dead_time_margin_dB")
"""Columns of the state with the least margin, beside those of the worst place."""

JUDGED_GREATEST = {
    "coil_voltage": "coil_voltage_V",
    "capacitor_voltage": "capacitor_voltage_V",
    "current": "base_current_A",
    "supply_current": "supply_current_A",
    "current_density": "current_density_rms_A_per_m2",
    "neighbour_voltage": "worst_neighbour_voltage_V",
    "volts_per_turn": "most_volts_per_turn_V",
    "input_power": "input_power_W",
    "field_at_10_m": "field_at_10_m_rms_A_per_m",
    "wire_temperature": "wire_temperature_degC",
}
"""Required quantities of which no state may have too much, and their columns."""


@dataclass(frozen=True, slots=True, eq=False)
class Evaluation:
    """All that is known of one candidate.

    ``row`` tells coils, tuning and errors as given, extremes and margins over all its states; ``map`` has the worst
    margin of all states, all else as given; ``profiles`` and ``places`` are in the state that is worst at each height
    and place. ``states`` are the rows of each state by itself, its name under ``state``, ``vessels``
    those of each vessel that the puck may lie in.
    """

    candidate: Candidate
    coils: SolvedCoils
    row: Row
    map: MapValues
    profiles: tuple[Profile, ...]
    places: tuple[PlaceResult, ...]
    verdict: Verdict
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    states: tuple[Row, ...] = ()
    vessels: tuple[Row, ...] = ()


def evaluated(candidate: Candidate) -> Evaluation:
    """Solve a candidate in all its states, map it, run its link and judge it.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where it cannot be computed; the text is fit for the designer.

    Notes
    -----
    Turns and capacitors are found in the state named by ``tuned_in``, or as given, and kept in all others.
    """
    given, *others = found = in_every_state(candidate, _by_name)
    lines = _worst_lines(found)
    places = worst_places(found)
    worst = min(range(len(places)), key=lambda i: told_margin(places[i]))
    row = extremes([one.row for one in found]) | place_columns(places)
    row |= _of_the_worst(found, places[worst].state) | _reading_columns(lines)
    row |= {"states": "; ".join(one.asked.state for one in found)}
    row |= _farthest_field(found, number(row, "field_at_10_m_rms_A_per_m"))
    row |= ladder_columns(found, _tuned(found), worst)
    row |= bias_row(candidate, given.candidate, given.tags, given.coupling, given.at_places)
    vessels = vessel_rows(candidate, found)
    row |= vessel_columns(vessels)
    told = list(_told(given, row))
    told += [f"state {one.asked.state}: {text}" for one in others for text in _told_besides(one, told)]
    judged = _judged(candidate, found, row, places, lines)
    return Evaluation(
        candidate,
        given.coils,
        row | {"verdict": "pass" if judged.passed else "fail", "unmet": "; ".join(c.sentence for c in judged.failures)},
        _worst_map(found),
        lines,
        places,
        judged,
        (*remarks(given.typical, given.coils, row, lines), *told),
        candidate_cautions(candidate, [row]),
        tuple(_state_row(one) for one in found),
        vessels,
    )


def _state_row(one: InOneState) -> Row:
    return {"state": one.asked.state, **one.row, **_reading_columns(one.profiles)}


def _by_name(specified: Candidate, kept: Kept | None) -> InOneState:
    """The candidate in a state, which is named where it cannot be computed in that one."""
    try:
        return in_one_state(specified, kept)
    except LinkError as error:
        if specified.state == AS_GIVEN:
            raise
        raise LinkError(error.quantity, f"{error.message} (state {specified.state})") from error
    except GeometryError as error:
        if specified.state == AS_GIVEN:
            raise
        raise GeometryError(error.key, f"{error.message} (state {specified.state})") from error


def _tuned(found: Sequence[InOneState]) -> InOneState:
    """The state in which turns and capacitors were found."""
    name = found[0].asked.tuned_in
    return next((one for one in found if one.asked.state == name), found[0])


def _of_the_worst(found: Sequence[InOneState], state: str) -> Row:
    one = next(one for one in found if one.asked.state == state)
    return {name: one.row[name] for name in OF_THE_WORST if name in one.row}


def _farthest_field(found: Sequence[InOneState], far: float) -> Row:
    """Reaches of the reference levels, the greatest of all states; margin of the ``far`` field at 10 m [A/m rms]."""
    # Of states that share a field the one with the most current reaches farthest.
    strongest: dict[int, InOneState] = {}
    for one in sorted(found, key=lambda state: number(state.row, "base_current_A")):
        strongest[id(one.coils.base.field)] = one
    rows = [
        field_columns(one.candidate, one.coils, number(one.row, "base_current_A"), far) for one in strongest.values()
    ]
    reached = {
        name: [value for row in rows if isinstance(value := row[name], float)]
        for name in rows[0]
        if name.startswith(tuple(level for level, _ in REACHES))
    }
    return rows[0] | {name: max(values, default=None) for name, values in reached.items()}


def _worst_lines(found: Sequence[InOneState]) -> tuple[Profile, ...]:
    """Each line with the least margin of all states at every height."""
    return tuple(map(_worst_line, zip(*(one.profiles for one in found), strict=True)))


def _worst_line(states: tuple[Profile, ...]) -> Profile:
    first = states[0]
    if len(states) == 1:
        return first
    margin, low, high = (
        np.min([np.interp(first.heights, one.heights, getattr(one, name)) for one in states], axis=0)
        for name in ("margin", "margin_low", "margin_high")
    )
    window = reading_window(first.heights, margin)
    return replace(first, margin=margin, margin_low=low, margin_high=high, window=window)


def _worst_map(found: Sequence[InOneState]) -> MapValues:
    return replace(found[0].map, worst_margin=np.min([one.map.worst_margin for one in found], axis=0))


def _told(one: InOneState, row: Row) -> Iterable[str]:
    """What a designer should know of the link in a state; a ``row`` of extremes tells what is worst in any."""
    yield from () if one.tags is None else bias_warnings(one.tags)
    yield from lead_remarks(one.candidate, one.coils.base)
    yield from exchange_remarks(one.candidate, one.links, row)
    yield from stress_remarks(one.candidate, row)


def _told_besides(one: InOneState, told: Sequence[str]) -> Iterable[str]:
    """What is to be said of another state and is not said as given."""
    keys = {text.partition(":")[0] for text in told}
    yield from tuning_remarks(one.typical, one.coils)
    yield from (text for text in _told(one, one.row) if text.partition(":")[0] not in keys)


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


def _judged(
    candidate: Candidate,
    found: Sequence[InOneState],
    row: Row,
    places: tuple[PlaceResult, ...],
    lines: tuple[Profile, ...],
) -> Verdict:
    """The worst of all states held against what is required."""
    reached = [line.window.upper for line in lines]
    quantities: dict[str, float | None] = {
        name: value if isinstance(value := row.get(column), float) else 0.0 for name, column in JUDGED_GREATEST.items()
    }
    quantities |= {
        "margin": min(place.margin for place in places),
        "read_height": None if any(upper is None for upper in reached) else min(u for u in reached if u is not None),
    }
    worst = min(range(len(lines)), key=lambda i: lines[i].window.upper or 0.0)
    where = {"margin": f"{row['worst_place']}, {row['margin_limited_by']}", "read_height": lines[worst].label}
    if len(found) > 1:
        where |= {name: _state_of_greatest(found, column) for name, column in JUDGED_GREATEST.items()}
        where["margin"] += f", {row['worst_state']}"
        where["read_height"] += f", {_state_of_least_reach(found, worst)}"
    return verdict(candidate.require, quantities, where)


def _state_of_greatest(found: Sequence[InOneState], column: str) -> str:
    def value(one: InOneState) -> float:
        given = one.row.get(column)
        return given if isinstance(given, float) else 0.0

    return max(found, key=value).asked.state


def _state_of_least_reach(found: Sequence[InOneState], line: int) -> str:
    return min(found, key=lambda one: one.profiles[line].window.upper or 0.0).asked.state
