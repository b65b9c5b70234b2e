"""What a second station like this one, at a spacing, hears of it: columns, and a word where it is too much."""

from math import isinf, log10, pi

import numpy as np

from fem.side_by_side import side_by_side_mutual_inductance
from geometries.errors import GeometryError
from geometries.section import WindingSection
from links.circuits import BaseCircuit
from links.neighbours import neighbour_link
from studies.leads import apparent_base
from studies.rows import AnyRow, Row
from studies.solving import SolvedCoils
from studies.specification import Candidate

TIGHT = 0.1
"""k Q from which on two tuned coils are no longer two circuits: what either draws moves by k² Q², a hundredth."""


def neighbour_columns(candidate: Candidate, coils: SolvedCoils, circuit: BaseCircuit, current: float) -> Row:
    """The base coil driven with ``current`` [A peak], its like listening; none where the study names no neighbour.

    Raises
    ------
    GeometryError, AccuracyError
        Where the coils, their turns found, overlap or all but touch.

    Notes
    -----
    M is that of the two windings in air, L, R and Q are as installed. Through leads either reader sees M scaled by the
    ratio of its coil's current to its own, and ``current`` is the coil's. What lies about the coils is left out of M;
    far apart it would change M by the square of what it does to a coil's moment, which is told beside it.
    """
    if candidate.neighbour is None:
        return {}
    base, spacing = coils.base, candidate.neighbour.spacing
    if spacing <= 2.0 * base.section.outer_radius:
        across = 2e3 * base.section.outer_radius
        raise GeometryError(
            "neighbour.spacing",
            f"{spacing * 1e3:.4g} mm given; the base coil is {across:.4g} mm across: more than that is needed",
        )
    mutual = base.turns**2 * side_by_side_mutual_inductance(base.section, spacing, candidate.neighbour.level)
    apparent = apparent_base(candidate, base)
    ratio = 1.0 if apparent is None else float(np.abs(apparent.current_ratio))
    link = neighbour_link(candidate.frequency, circuit, ratio**2 * mutual, current / ratio)
    return {
        "neighbour_mutual_inductance_H": mutual,
        "neighbour_coupling_coefficient": abs(mutual) / base.inductance,
        "neighbour_coupling_times_q": link.coupling_times_quality,
        "neighbour_isolation_dB": None if isinf(link.isolation) else link.isolation,
        "neighbour_voltage_V": link.voltage,
        "neighbour_surroundings_dB": 40.0 * log10(abs(base.field.moment) / turn_area(base.section)),
    }


def turn_area(section: WindingSection) -> float:
    """Mean area within a turn, which is its moment for one ampere in air [m²]."""
    outer, inner = section.outer_radius, section.inner_radius
    return pi * (outer**2 + outer * inner + inner**2) / 3.0


def neighbour_remarks(candidate: Candidate, row: AnyRow) -> tuple[str, ...]:
    """Where stations have to take turns, or are one circuit; nothing where the row tells of no neighbour."""
    voltage, tightness = row.get("neighbour_voltage_V"), row.get("neighbour_coupling_times_q")
    if candidate.neighbour is None or not isinstance(voltage, float) or not isinstance(tightness, float):
        return ()
    found, least = list[str](), candidate.link.receiver_minimum_voltage
    if voltage > least:
        found.append(
            f"neighbour.spacing: this coil brings {_volts(voltage)} peak across the next station's listening coil, "
            f"{20.0 * log10(voltage / least):.0f} dB above the {_volts(least)} that its receiver hears: a full bench "
            f"works only if stations take turns ({_surroundings(row)})"
        )
    if tightness > TIGHT:
        found.append(
            f"neighbour.spacing: k Q of the two base coils is {tightness:.2g}; from about {TIGHT:g} on the one takes "
            "power from the other and moves its tuning, whoever's turn it is"
        )
    return tuple(found)


def _surroundings(row: AnyRow) -> str:
    change = row.get("neighbour_surroundings_dB")
    assert isinstance(change, float), "stands beside the voltage"
    more = "more" if change > 0.0 else "less"
    return f"coupled as in air; what lies about both makes it about {abs(change):.2g} dB {more}, far apart"


def _volts(voltage: float) -> str:
    return f"{voltage:.3g} V" if voltage >= 1.0 else f"{voltage * 1e3:.3g} mV"
