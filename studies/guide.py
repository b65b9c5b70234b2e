"""What ties reach, coil size, inductance and power together over one stack with one tag: the curves of the guide."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
from scipy.interpolate import CubicSpline

from fem.arrays import Array
from fem.errors import FieldError
from geometries.errors import GeometryError, MeshingError
from links.errors import LinkError
from studies.assembly import Particulars, assembled
from studies.guide_coils import Reached, Takes, Wound, driven_by, wound, wounds
from studies.linking import exchange_table, lines_at, profiles_on
from studies.reach_plane import (
    Plane,
    base_coil,
    heights_of,
    held_voltage,
    looking_higher,
    plane,
    powers_about,
    spread,
)
from studies.specification import Candidate
from studies.state_candidates import in_all_states
from studies.study import Study
from studies.surroundings import without_each
from studies.sweep import with_value

SMALLEST, LARGEST, DIAMETERS = 0.45, 4.0, 15
"""Mean diameters looked at, in those of the base design, and how many."""

FEWEST, MOST, TURNS = 0.4, 2.2, 13
"""Turns looked at, in those of the base design, and how many."""

OFFSETS = 9

MOST_TILTS = 4
"""Curves of the picture of offset and tilt: so many of the map's tilts, spread over them."""

RAYS = {"ampere-turns": 2.0 * sqrt(2.0), "power": 2.0, "inductance and current": 2.0 * 0.89}
"""Best mean diameter over the height above the winding's middle where coil and tag are alone, by closed form (README).

The last lies between 0.87 and 0.91 with a section of 3 × 3 mm and heights of 15 to 45 mm, twice that for the diameter.
"""

UNSOLVED = (GeometryError, MeshingError, FieldError, LinkError)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Reading height against one quantity.

    ``name`` says what is kept; ``at`` (n,) are the values, in SI; ``axis`` and ``worst`` (n,) the heights [m], nan
    where nothing is read; ``taken`` what the coil takes at each, ``capacitance`` (n,) what tunes it [F].
    """

    name: str
    at: Array
    axis: Array
    worst: Array
    taken: tuple[Takes, ...]
    capacitance: Array

    @property
    def best(self) -> tuple[float, float] | None:
        """Where the height on the axis is greatest, and that height, by a cubic through the nodes; None at an end."""
        return greatest(self.at, self.axis)


@dataclass(frozen=True, slots=True)
class Cost:
    """Reading height with something changed [m]; None where nothing is read, or it could not be computed."""

    name: str
    reached: Reached | None


@dataclass(frozen=True, slots=True, eq=False)
class Leaning:
    """Reading height against offset [m] for each of some tilts [rad], (n_tilt, n_offset) [m]; nan where nothing is."""

    offsets: Array
    tilts: Array
    heights: Array


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """All curves of a guide, its base design among them."""

    candidate: Candidate
    base: Wound
    source_voltage: float
    middle: float
    plane: Plane
    by_diameter: tuple[Curve, ...]
    by_power: Curve
    by_turns: tuple[Curve, ...]
    costs: tuple[Cost, ...]
    leaning: Leaning
    left_out: tuple[float, ...]

    @property
    def taken(self) -> Takes:
        """What the base design takes."""
        return self.base.takes(self.source_voltage)


def guide(study: Study) -> Guide:
    """Work out the guide of a study's base design.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where the base design cannot be computed.
    """
    candidate = looking_higher(study.base)
    base, section = base_coil(candidate)
    voltage = held_voltage(candidate, base)
    diameters = tuple(base.diameter * ratio for ratio in spread(SMALLEST, LARGEST, DIAMETERS))
    coils = [base if one.diameter == base.diameter else one for one in wounds(candidate, diameters, section)]
    left_out = tuple(d for d in diameters if d not in [coil.diameter for coil in coils])
    kept = base.takes(voltage)
    return Guide(
        candidate,
        base,
        voltage,
        -0.5 * (base.base.section.bottom + base.base.section.top),
        plane(candidate, base, coils, kept),
        tuple(curves_by_diameter(coils, base, voltage)),
        _curve("power", [(base, base.voltage_for("input_power", p)) for p in powers_about(kept)], powers_about(kept)),
        tuple(curves_by_turns(base, voltage, candidate.drive.current_limit)),
        tuple(costs(study, candidate, base, section, voltage)),
        leaning(base, voltage),
        left_out,
    )


def _curve(name: str, driven: Sequence[tuple[Wound, float]], at: Sequence[float] | Array) -> Curve:
    reached = [coil.reached(voltage) for coil, voltage in driven]
    return Curve(
        name,
        np.array(at),
        heights_of([one.axis for one in reached]),
        heights_of([one.worst for one in reached]),
        tuple(coil.takes(voltage) for coil, voltage in driven),
        np.array([coil.tuning_capacitance for coil, _ in driven]),
    )


def curves_by_diameter(coils: Sequence[Wound], base: Wound, voltage: float) -> Iterator[Curve]:
    """Reading height against the mean diameter, each curve with something kept as in the base design."""
    kept, at = base.takes(voltage), [coil.diameter for coil in coils]
    same = [coil.with_turns(base.turns) for coil in coils]
    alike = [coil.with_inductance(base.base.inductance) for coil in coils]
    yield _curve("ampere-turns", [(coil, coil.voltage_for("current", kept["current"])) for coil in same], at)
    yield _curve("power", [(coil, coil.voltage_for("input_power", kept["input_power"])) for coil in same], at)
    yield _curve("source voltage", [(coil, voltage) for coil in same], at)
    currents = [(coil, coil.voltage_for("current", kept["current"])) for coil in alike]
    yield _curve("inductance and current", currents, at)


def curves_by_turns(base: Wound, voltage: float, limit: float | None) -> Iterator[Curve]:
    """Reading height against the turns in the base design's section: at its source voltage, and at its input power."""
    turns = [base.turns * ratio for ratio in spread(max(FEWEST, 1.0 / base.turns), MOST, TURNS)]
    coils = [base.with_turns(one) for one in turns]
    inductances = [coil.base.inductance for coil in coils]
    power = base.takes(voltage)["input_power"]

    def held(coil: Wound) -> float:
        return voltage if limit is None else min(voltage, coil.voltage_for("current", limit))

    yield _curve("source voltage", [(coil, held(coil)) for coil in coils], inductances)
    yield _curve("power", [(coil, coil.voltage_for("input_power", power)) for coil in coils], inductances)


def costs(
    study: Study, candidate: Candidate, base: Wound, section: tuple[float, float], voltage: float
) -> Iterator[Cost]:
    """Reading height as designed, with each thing around taken away, and with the coil under each layer."""
    yield Cost("as designed", base.reached(voltage))
    for name, stack in without_each(candidate):
        states = tuple(replace(one, stack=dict(without_each(one))[name]) for one in candidate.states)
        yield _cost(f"without {name}", replace(candidate, stack=stack, states=states), base, section, voltage)
    for layer in candidate.stack.layers:
        if layer.name != candidate.coil.under and layer.kind != "gap":
            moved = _under(study, layer.name)
            if moved is not None:
                yield _cost(f"coil under {layer.name}", looking_higher(moved), base, section, voltage)


def _cost(name: str, candidate: Candidate, base: Wound, section: tuple[float, float], voltage: float) -> Cost:
    try:
        coil = wound(candidate, base.diameter, section).with_turns(base.turns)
        return Cost(name, coil.reached(min(voltage, held_voltage(candidate, coil))))
    except UNSOLVED:
        return Cost(name, None)


def _under(study: Study, layer: str) -> Candidate | None:
    """The base design with its coil under another layer; None where it cannot be."""
    raw, particulars = with_value(study.raw, ("base_coil", "under"), layer), Particulars(largest_tag=study.largest_tag)
    candidate, _ = assembled(raw, particulars)
    try:
        return None if candidate is None else in_all_states(candidate, raw, particulars, study.states)
    except GeometryError:
        return None


def leaning(base: Wound, voltage: float) -> Leaning:
    """Reading height of the base design off the axis and leaning the worst way, the worst of all states."""
    candidate = base.states[0][0]
    offsets = np.linspace(0.0, max(candidate.grid.offsets), OFFSETS)
    known = np.unique(np.abs(candidate.grid.tilts))
    tilts = known[np.unique(np.linspace(0, known.size - 1, MOST_TILTS).round().astype(int))]
    lines = [(float(offset), float(tilt)) for tilt in tilts for offset in offsets]
    found = []
    for (state, coupling), (_, most) in zip(base.states, base.fields, strict=True):
        driven = driven_by(state, voltage)
        table = exchange_table(driven, coupling, most)
        read = profiles_on(driven, coupling, table, lines_at(driven, coupling, lines))
        found.append(heights_of([line.window.upper for line in read]))
    return Leaning(offsets, tilts, np.min(found, axis=0).reshape(tilts.size, offsets.size))


def greatest(at: Array, values: Array) -> tuple[float, float] | None:
    """Where a curve is greatest, and its value there, by a cubic spline in the logarithm; None at either end."""
    known = np.isfinite(values)
    if known.sum() < 4:
        return None
    x, y = np.log(at[known]), values[known]
    peak = int(np.argmax(y))
    if peak in (0, x.size - 1):
        return None
    spline = CubicSpline(x, y)
    tops = [root for root in spline.derivative().roots(extrapolate=False) if x[peak - 1] <= root <= x[peak + 1]]
    where = max(tops, key=lambda root: float(spline(root)), default=float(x[peak]))
    return float(np.exp(where)), float(spline(where))


def crossing(curve: Curve, middle: float) -> tuple[float, float] | None:
    """Where a curve meets its closed form's ray, diameter = ratio × (height + ``middle`` of the winding below 0)."""
    ratio = RAYS.get(curve.name)
    if ratio is None:
        return None
    known = np.isfinite(curve.axis)
    gap = curve.at[known] - ratio * (curve.axis[known] + middle)
    sign = np.flatnonzero((gap[:-1] < 0.0) & (gap[1:] >= 0.0))
    if sign.size == 0:
        return None
    at, heights = curve.at[known], curve.axis[known]
    share = gap[sign[0]] / (gap[sign[0]] - gap[sign[0] + 1])
    where = at[sign[0]] + share * (at[sign[0] + 1] - at[sign[0]])
    return float(where), float(np.interp(where, at, heights))
