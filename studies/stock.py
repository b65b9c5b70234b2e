"""Stock inductors as the tag of a study: each in this very stack, judged at the worst of its places and states."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Literal

import numpy as np

from fem.errors import FieldError
from geometries.errors import GeometryError, MeshingError
from links.budget import link_budget
from links.errors import LinkError
from links.resonance import quality_factor, self_resonance_ratio, stray_capacitance
from studies.assembly import Particulars, assembled
from studies.assembly_tag import Extent
from studies.bias import bias_columns, bias_warnings
from studies.coupling import asked_of, coupling_of
from studies.engineering import engineering, millimetres, place_text
from studies.faults import Finding
from studies.fitting import corner_margins, corners
from studies.keypaths import Raw, label, replaced, value_at
from studies.leads import seen_through_lead
from studies.linking import LEAST_MUTUAL
from studies.met_columns import met_hazards, with_each_fit
from studies.one_state import (
    LinkedInState,
    in_every_state,
    linked_in_state,
    place_columns,
    worst_places,
)
from studies.quantities import QuantityError, read_quantity
from studies.rows import Row, number
from studies.solving import solved_coils
from studies.specification import Candidate, CapacitorSpecification, Place
from studies.state_candidates import in_all_states
from studies.stock_list import StockPart
from studies.study import Study
from studies.tuning import base_circuit, tag_circuit, tag_tuning

Status = Literal["ranked", "does not fit", "cannot be tuned", "cannot be computed"]
STATUSES: tuple[Status, ...] = ("ranked", "cannot be tuned", "does not fit", "cannot be computed")
"""In the order in which they are listed."""

LEAST_RESONANCE = 3.0
"""Self-resonant over working frequency under which a part is told of (DESIGN 4.4)."""

AXIS_HEIGHTS = 81
"""Heights on the axis at which the current in a tag coil is looked at."""

USUAL_INDUCTANCES, USUAL_SIZES = (1e-7, 0.1), (0.4e-3, 0.1)
"""Least and greatest of wound parts for low frequencies (common practice, no source) [H], [m]."""

KEPT_OF_TAG = ("chip", "shield", "temperature", "correction")
"""Keys of ``tag`` that hold whatever part is in it; its material and a capacitor to be chosen stay as well."""

LINKING_FAULTS = (GeometryError, MeshingError, FieldError, LinkError)


@dataclass(frozen=True, slots=True)
class Room:
    """The largest part that may be used, across and along its coil's axis [m]."""

    diameter: float = inf
    height: float = inf


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """A part with what it comes to.

    ``row`` is empty unless it is ranked; ``message`` says why it is not; ``warnings`` are sentences for the designer;
    ``hazards`` is what cautions hang on, a row a state.
    """

    part: StockPart
    status: Status
    message: str
    row: Row
    warnings: tuple[str, ...] = ()
    hazards: tuple[Row, ...] = ()


def ranked(
    study: Study, parts: Sequence[StockPart], room: Room, count: Callable[[StockPart], None]
) -> tuple[Judged, ...]:
    """Every part, the one of greatest margin first, then those that cannot be used.

    Parameters
    ----------
    study : Study
        Its base design, with each part in the place of its tag.
    parts : sequence of StockPart
        Names all different.
    room : Room
        What a part has to fit besides the study's own places.
    count : callable
        Is told of each part as it is done.

    Notes
    -----
    All parts share one map, so that the base coil is solved for once; parts of one size share the tag's fields too,
    and are taken one after the other.
    """
    particulars = _particulars(study, [part for part in parts if not _too_large(part, room)])
    found = []
    for part in sorted(parts, key=lambda one: (one.diameter, one.height)):
        found.append(judged(study, part, room, particulars))
        count(part)
    return tuple(sorted(found, key=_order))


def _order(one: Judged) -> tuple[int, float, float, int]:
    if one.status != "ranked":
        return STATUSES.index(one.status), 0.0, 0.0, one.part.line
    return 0, -number(one.row, "margin_dB"), -number(one.row, "chip_voltage_V"), one.part.line


def _particulars(study: Study, parts: Iterable[StockPart]) -> Particulars:
    largest = study.largest_tag
    for part in parts:
        largest = largest.joined(Extent(0.5 * part.diameter, 0.5 * part.height))
    paths = frozenset(axis.path for axis in study.swept_axes)
    return Particulars("base", (), paths, largest, study.formulation)


def judged(study: Study, part: StockPart, room: Room, particulars: Particulars) -> Judged:
    """One part in the study's stack."""
    too_large = _too_large(part, room)
    if too_large:
        return Judged(part, "does not fit", too_large, {})
    frequency = study.base.frequency
    if part.self_resonance is not None and part.self_resonance <= frequency:
        text = f"it resonates by itself at {engineering(part.self_resonance, 'Hz')}, below the working frequency"
        return Judged(part, "cannot be tuned", text, {})
    raw = with_part(study.raw, part)
    candidate, findings = assembled(raw, particulars)
    if candidate is None:
        return Judged(part, "does not fit", _said(raw, findings), {})
    try:
        candidate = in_all_states(candidate, raw, particulars, study.states)
        states = in_every_state(candidate, linked_in_state)
        row = _row(part, states)
    except LINKING_FAULTS as fault:
        return Judged(part, "cannot be computed", " ".join(str(fault).split()), {})
    if number(row, "capacitor_to_fit_F") <= 0.0:
        own = engineering(number(row, "stray_capacitance_F"), "F")
        return Judged(part, "cannot be tuned", f"its own capacitance of {own} is more than what tunes it", {})
    hazards = tuple(met_hazards(one.typical, one.coils, one.links.budget) for one in states)
    return Judged(part, "ranked", "", row, tuple(_warnings(part, row, states)), hazards)


def _said(raw: Raw, findings: tuple[Finding, ...]) -> str:
    return "; also ".join(f"{label(raw, finding.path)}: {finding.sentence}" for finding in findings)


def _too_large(part: StockPart, room: Room) -> str:
    """Why a part is too large; empty where it is not."""
    told = []
    if part.outer_diameter > room.diameter:
        told.append(f"{millimetres(part.outer_diameter)} across, {millimetres(room.diameter)} at most")
    if part.height > room.height:
        told.append(f"{millimetres(part.height)} along its axis, {millimetres(room.height)} at most")
    return " and ".join(told)


def with_part(raw: Raw, part: StockPart) -> Raw:
    """A study's tables with a part as its tag.

    What belongs to the study's own tag is left out: its construction, its sensitivity, and a capacitor of a given
    size. Parts are still chosen where the study has a capacitor chosen; what a part brings itself is then stray.
    """
    given = value_at(raw, ("tag",))
    tag = given if isinstance(given, dict) else {}
    material = value_at(tag, ("part", "material")) or (None if tag.get("core") == "none" else tag.get("material"))
    table: Raw = {
        "inductance": f"{part.inductance!r} H",
        "dc_resistance": f"{part.dc_resistance!r} ohm",
        "diameter": f"{part.diameter!r} m",
        "height": f"{part.height!r} m",
    }
    if material is not None:
        table["material"] = material
    kept: Raw = {key: tag[key] for key in KEPT_OF_TAG if key in tag}
    capacitor = tag.get("capacitor")
    if isinstance(capacitor, dict) and "choose" in capacitor:
        kept["capacitor"] = capacitor | {"stray": f"{_given_stray(capacitor) + _stray(part)!r} F"}
    return replaced(raw, ("tag",), kept | {"part": table})


def left_out(raw: Raw) -> tuple[str, ...]:
    """Keys of the study's own tag that say nothing of a stock part, and are left out."""
    tag = value_at(raw, ("tag",))
    found = [key for key in ("sensitivity",) if isinstance(tag, dict) and key in tag]
    capacitor = value_at(raw, ("tag", "capacitor"))
    if isinstance(capacitor, dict) and "choose" not in capacitor:
        found.append("capacitor")
    return tuple(f"tag.{key}" for key in found)


def _given_stray(capacitor: Raw) -> float:
    try:
        return read_quantity(capacitor["stray"], "capacitance") if "stray" in capacitor else 0.0
    except QuantityError:
        return 0.0  # the study would not have been read


def _stray(part: StockPart) -> float:
    """What the part's own capacitance comes to [F]; 0 where its self-resonance is not given."""
    return 0.0 if part.self_resonance is None else stray_capacitance(part.inductance, part.self_resonance)


# -- what it comes to -----------------------------------------------------------------------------------------------


def _row(part: StockPart, states: Sequence[LinkedInState]) -> Row:
    """Columns of a part, as given but for what is said to be the worst."""
    given, frequency = states[0], states[0].asked.frequency
    tag, stray = given.coils.tag, _stray(part)
    current, where = _greatest_current(states)
    capacitance = tag_tuning(given.typical, given.coils).capacitance
    row: Row = {
        "tag_inductance_H": tag.inductance,
        "tag_resistance_ohm": tag.resistance,
        "tag_q": float(quality_factor(tag.inductance, tag.resistance, frequency)),
        "tag_spread": tag.spread,
        **place_columns(worst_places(states)),
        "margin_at_tolerance_dB": min(_margin_at_tolerance(part, state) for state in states),
        "tuning_capacitance_F": capacitance,
        "stray_capacitance_F": stray,
        "capacitor_to_fit_F": capacitance - stray,
        "tag_tuning_parts": _parts_text(given.typical),
        "self_resonance_ratio": _resonance_ratio(part, frequency),
        "greatest_tag_current_A": current,
        "greatest_current_place": where,
        "tag_temperature_degC": max(state.asked.tag.temperature for state in states),
        "states": "; ".join(state.asked.state for state in states),
    }
    return row | ({} if given.tags is None else bias_columns(given.tags, frequency))


def _resonance_ratio(part: StockPart, frequency: float) -> float | None:
    return None if part.self_resonance is None else self_resonance_ratio(part.self_resonance, frequency)


def _parts_text(candidate: Candidate) -> str:
    capacitor = candidate.tag.capacitor
    parts = capacitor.parts if isinstance(capacitor, CapacitorSpecification) else ()
    return " + ".join(f"{part * 1e12:.6g} pF" for part in parts)


def _margin_at_tolerance(part: StockPart, state: LinkedInState) -> float:
    """Least margin in a state with the inductance at either end of its tolerance, with any of its capacitors [dB]."""
    candidate, fits = state.typical, corners(state.typical, state.coils)
    margins = [place.margin for place in state.places]
    for change in (-(part.tolerance or 0.0), part.tolerance or 0.0) if part.tolerance else ():
        assert candidate.tag.part is not None, "only called with a stock part"
        off = replace(candidate.tag.part, inductance=candidate.tag.part.inductance * (1.0 + change))
        other = replace(candidate, tag=replace(candidate.tag, part=off))
        coupling = coupling_of(other, solved_coils(other))
        margins.append(float(corner_margins(other, coupling, asked_of(coupling, state.at_places.places), fits).min()))
    return min(margins)


def _greatest_current(states: Sequence[LinkedInState]) -> tuple[float, str]:
    """Greatest current in the tag coil over all states, on the axis and at the required places [A peak]; where.

    All that the capacitors may be is looked at; what the chip's limiter takes is not counted. Past critical coupling
    the current falls as the tag comes closer: its peak is looked for all the way up.
    """
    found = []
    for state in states:
        candidate, coils, required = state.typical, state.coils, state.at_places
        axis = np.geomspace(min(state.asked.grid.heights), state.coupling.ceiling, AXIS_HEIGHTS)
        heights = np.concatenate((axis, required.heights))
        on_axis = np.array(state.coupling.extremes_at(axis, 0.0, 0.0))
        mutual = seen_through_lead(candidate, coils.base, np.concatenate((on_axis, required.extremes), axis=1))
        budget = link_budget(
            candidate.frequency, base_circuit(candidate, coils), tag_circuit(candidate, coils, heights), mutual
        )
        each = [np.abs(one.tag_current).max(axis=0) for _, (one,) in with_each_fit(candidate, coils, budget)]
        currents = np.max(each, axis=0)
        at = int(np.argmax(currents))
        place = Place(float(axis[at]), 0.0, 0.0) if at < axis.size else required.places[at - axis.size]
        found.append((float(currents[at]), f"{place_text(place)}, {state.asked.state}"))
    return max(found)


def _doubtful(part: StockPart) -> Iterator[str]:
    """Values that no wound part for this job has: as a rule a list's unit is another one."""
    least, most = USUAL_INDUCTANCES
    if not least <= part.inductance <= most:
        yield f"{engineering(part.inductance, 'H')} is unusual for a wound part (common practice, no source): is it so?"
    thinnest, thickest = USUAL_SIZES
    for size, way in ((part.diameter, "across"), (part.height, "along its axis")):
        if not thinnest <= size <= thickest:
            yield f"{millimetres(size)} {way} is unusual for a wound part (common practice, no source): is it so?"


def _warnings(part: StockPart, row: Row, states: Sequence[LinkedInState]) -> Iterator[str]:
    yield from _doubtful(part)
    ratio, current = row["self_resonance_ratio"], number(row, "greatest_tag_current_A")
    if part.self_resonance is None:
        yield "its self-resonance is not given: its own capacitance is not counted"
    elif isinstance(ratio, float) and ratio < LEAST_RESONANCE:
        yield (
            f"it resonates by itself at {engineering(part.self_resonance, 'Hz')}, {ratio:.2g} times the working "
            f"frequency; under {LEAST_RESONANCE:g} times its inductance and losses there are not those of its data "
            "sheet"
        )
    if part.saturation_current is not None and current > part.saturation_current:
        yield (
            f"up to {engineering(current, 'A', 3)} peak is induced in it ({row['greatest_current_place']}, the chip's "
            f"limiter not counted), {engineering(part.saturation_current, 'A', 3)} saturates it"
        )
    warm = number(row, "tag_temperature_degC")
    if part.temperature_limit is not None and part.temperature_limit < warm:
        yield f"it stands {part.temperature_limit:g} °C, the tag reaches {warm:g} °C"
    if number(row, "mutual_inductance_H") <= LEAST_MUTUAL:
        yield "it picks up nothing at the worst place"
    if states[0].tags is not None:
        yield from bias_warnings(states[0].tags)
