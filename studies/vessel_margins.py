"""The link in each vessel: held where the drive holds the puck, and lost where it is thrown to the wall."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fem.arrays import Array, ComplexArray
from geometries.errors import GeometryError
from geometries.pucks import lift, needed_bore
from studies.asked_places import solved_heights
from studies.coupling import Coupling, coupling_of
from studies.engineering import place_text
from studies.fitting import Fit, corners, fits_within, margins_with
from studies.one_state import InOneState
from studies.rows import Row
from studies.specification import Candidate, MapGrid, Place, Requirement
from studies.vessel_places import InVessel, beyond_the_map, held_closer, in_vessels, refusal

LEANS = 5
"""Sizes of M looked at between those of the least and the greatest lean, where the greatest margin is wanted."""

LEAST_MARGIN = -400.0
"""Stands for no coupling at all, so that it can be written down [dB]."""


@dataclass(frozen=True, slots=True)
class _At:
    """A margin [dB] with the place and the state that it is of."""

    margin: float
    place: Place
    state: str


def vessel_rows(candidate: Candidate, found: Sequence[InOneState]) -> tuple[Row, ...]:
    """What is known of each vessel, by columns; none where the study names no puck.

    Parameters
    ----------
    candidate : Candidate
        With its vessels and its puck.
    found : sequence of InOneState
        The candidate in each of its states.

    Notes
    -----
    The vessels are asked for by themselves, in air of their own: they may be wider than the map. A store's charge is
    the quick one, as in the map.
    """
    vessels = in_vessels(candidate)
    inside = [one for one in vessels if one.held]
    fields = _fields(candidate, found, inside)
    return tuple(_row(candidate, found, one, fields.get(one.vessel.name)) for one in vessels)


def vessel_columns(rows: Sequence[Row]) -> Row:
    """Columns of the candidate's own row: how many vessels there are, in how many it does, and which fail."""
    if not rows:
        return {}
    failed = [str(row["vessel"]) for row in rows if row["vessel_verdict"] != "pass"]
    return {"vessels": len(rows), "vessels_passed": len(rows) - len(failed), "vessels_failed": ", ".join(failed)}


def required_margin(candidate: Candidate) -> float:
    """Margin that is required [dB]; 0 where the study asks for none."""
    return max((one.value for one in candidate.require.at_least if one.quantity == "margin"), default=0.0)


_Fields = tuple[Coupling, ...] | str
"""The field in every state, or why there is none."""


def _fields(candidate: Candidate, found: Sequence[InOneState], inside: Sequence[InVessel]) -> dict[str, _Fields]:
    """The field of all vessels together, or of each apart where together they ask for too much room."""
    if not inside:
        return {}
    together = _couplings(candidate, found, inside)
    if not isinstance(together, str):
        return {one.vessel.name: together for one in inside}
    return {one.vessel.name: _couplings(candidate, found, [one]) for one in inside}


def _couplings(candidate: Candidate, found: Sequence[InOneState], inside: Sequence[InVessel]) -> _Fields:
    try:
        return tuple(_coupling(candidate, one, inside) for one in found)
    except GeometryError as error:
        return error.message


def _coupling(candidate: Candidate, one: InOneState, inside: Sequence[InVessel]) -> Coupling:
    """The field of a state, ready for the places in some vessels."""
    places = tuple(place for vessel in inside for place in vessel.places)
    low, (_, high) = min(place.height for place in places), solved_heights(candidate)
    if all(z <= 0.0 for solid in candidate.stack.solids for _, z in solid.outline):
        low = min(low, 0.5 * one.coupling.ceiling)  # a family's field reaches no higher than the candidate's own places
    grid = MapGrid((low, high), (0.0,), (0.0,))
    asked = replace(one.candidate, grid=grid, require=Requirement(places), puck=None, vessels=())
    found = coupling_of(asked, one.coils)
    return replace(found, probe_heights=one.coupling.probe_heights)


def _row(candidate: Candidate, found: Sequence[InOneState], one: InVessel, fields: _Fields | None) -> Row:
    puck, vessel = candidate.puck, one.vessel
    assert puck is not None, "without a puck there are no rows"
    required = required_margin(candidate)
    row: Row = {
        "vessel": vessel.name,
        "vessel_shape": vessel.shape,
        "vessel_outer_diameter_m": vessel.outer_diameter,
        "stands": vessel.stands,
        "standing_height_m": vessel.standing,
        "neck_bore_m": vessel.bore,
        "needed_bore_m": needed_bore(puck),
        "required_margin_dB": required,
    }
    why = refusal(puck, vessel)
    if not why and isinstance(fields, str):
        why = f"not computed: {fields}"
    if why or fields is None or isinstance(fields, str):
        return row | {"vessel_verdict": "fail", "why": why, "remark": ""}
    held, read_out_to = _least(found, fields, one.held), _read_out_to(found, fields, one.outward)
    row |= {
        "puck_lift_m": lift(puck, vessel),
        "tag_height_m": one.held[0].height,
        "tag_tilt_rad": max(place.tilt for place in one.held),
        "least_offset_m": min(place.offset for place in one.held),
        "greatest_offset_m": max(place.offset for place in one.held),
        "held_margin_dB": held.margin,
        "held_place": place_text(held.place),
        "held_state": held.state,
        "read_out_to_m": read_out_to,
        "looked_out_to_m": one.outward[-1].offset,
        "wall_distance_m": one.wall_distance,
    }
    reasons = [] if held.margin >= required else [_not_held(held, required)]
    if one.wall:
        wall = _greatest(found, fields, one.wall)
        row |= {"wall_margin_dB": wall.margin, "wall_place": place_text(wall.place), "wall_state": wall.state}
        reasons += [] if wall.margin < 0.0 else [_not_lost(wall, read_out_to)]
    return row | {
        "vessel_verdict": "fail" if reasons else "pass",
        "why": "; ".join(reasons),
        "remark": _remark(candidate, one),
    }


def _not_held(held: _At, required: float) -> str:
    where = f"{place_text(held.place)}, {held.state}"
    return f"held, the margin falls to {_dB(held.margin)}, {_dB(required)} required ({where})"


def _not_lost(wall: _At, read_out_to: float | None) -> str:
    still = "still reads" if read_out_to is None or wall.place.offset <= read_out_to else "reads again"
    return f"thrown to the wall the tag {still}, margin {_dB(wall.margin)} ({place_text(wall.place)}, {wall.state})"


def _remark(candidate: Candidate, one: InVessel) -> str:
    found = []
    if one.held and not one.wall:
        bottom = "a round bottom" if one.vessel.shape == "round" else "a flat narrower than the puck"
        found.append(f"{bottom} brings the puck back to the middle: there is no wall to lose it at")
    assert candidate.puck is not None, "without a puck there are no rows"
    found += held_closer(candidate.puck, one.vessel), beyond_the_map(candidate, one.vessel)
    return "; ".join(text for text in found if text)


def _least(found: Sequence[InOneState], fields: tuple[Coupling, ...], places: tuple[Place, ...]) -> _At:
    """The least margin of all states, leans and capacitors."""
    told = []
    for one, coupling in zip(found, fields, strict=True):
        margin = _least_margins(one, coupling, places)
        at = int(np.argmin(margin))
        told.append(_At(float(margin[at]), places[at], one.asked.state))
    return min(told, key=lambda at: at.margin)


def _greatest(found: Sequence[InOneState], fields: tuple[Coupling, ...], places: tuple[Place, ...]) -> _At:
    """The greatest margin of all states, leans and capacitors."""
    told = []
    for one, coupling in zip(found, fields, strict=True):
        margin = _margins(one, coupling, places, LEANS, fits_within(one.typical, one.coils)).max(axis=0)
        at = int(np.argmax(margin))
        told.append(_At(float(margin[at]), places[at], one.asked.state))
    return max(told, key=lambda at: at.margin)


def _read_out_to(found: Sequence[InOneState], fields: tuple[Coupling, ...], places: tuple[Place, ...]) -> float | None:
    """Offset from the coil's axis up to which the tag reads in every state and lean [m]; None where nowhere."""
    pairs = zip(found, fields, strict=True)
    margin = np.min([_least_margins(one, field, places) for one, field in pairs], axis=0)
    offsets = np.array([place.offset for place in places])
    lost = np.flatnonzero(margin < 0.0)
    if lost.size == 0:
        return float(offsets[-1])
    first = int(lost[0])
    if first == 0:
        return None
    share = margin[first - 1] / (margin[first - 1] - margin[first])
    return float(offsets[first - 1] + share * (offsets[first] - offsets[first - 1]))


def _margins(
    one: InOneState, coupling: Coupling, places: tuple[Place, ...], leans: int, fits: tuple[Fit, ...]
) -> Array:
    """Margins [dB] at places, shape (n_fit × n_lean, n): with each fit, from the lean of least coupling to the most."""
    mutual, heights = _between(_extremes(coupling, places), leans), np.array([place.height for place in places])
    margin = margins_with(one.candidate, coupling, heights, mutual, fits).reshape(-1, len(places))
    return np.asarray(np.maximum(np.nan_to_num(margin, nan=LEAST_MARGIN, neginf=LEAST_MARGIN), LEAST_MARGIN))


def _least_margins(one: InOneState, coupling: Coupling, places: tuple[Place, ...]) -> Array:
    """Least over both leans and all that the capacitors may be, shape (n,) [dB]."""
    return np.asarray(_margins(one, coupling, places, 2, corners(one.typical, one.coils)).min(axis=0))


def _extremes(coupling: Coupling, places: tuple[Place, ...]) -> ComplexArray:
    """M of the leans of least and of greatest coupling, shape (2, n) [H]; all offsets of a height and tilt at once."""
    found = np.empty((2, len(places)), dtype=np.complex128)
    for height, tilt in dict.fromkeys((place.height, place.tilt) for place in places):
        alike = [i for i, place in enumerate(places) if (place.height, place.tilt) == (height, tilt)]
        offsets = np.array([places[i].offset for i in alike])
        ring = coupling.grid(np.array([height]), offsets, np.array([tilt]))
        found[:, alike] = ring.worst_mutual_inductance[0, :, 0], ring.greatest_mutual_inductance[0, :, 0]
    return found


def _between(extremes: ComplexArray, count: int) -> ComplexArray:
    """M between that of least and that of greatest magnitude: as the tag's lean turns, M takes every value between."""
    shares = np.linspace(0.0, 1.0, count)[:, None]
    return np.asarray(extremes[0] + shares * (extremes[1] - extremes[0]))


def _dB(margin: float) -> str:  # noqa: N802 - the unit's own spelling
    return f"{margin:.1f} dB".replace("-", "−")
