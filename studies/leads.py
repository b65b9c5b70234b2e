"""The base coil as its reader sees it, through the lead between the two."""

from math import pi

import numpy as np

from fem.arrays import ComplexArray
from fem.wire_losses import skin_effect_ratio
from links.budget import LinkBudget
from links.errors import LinkError
from links.lead import ApparentCoil, Lead, LeadPart, apparent_coil, lead_notes, lead_resonance
from studies.rows import Row
from studies.solving import SolvedBase
from studies.specification import Candidate


def lead_between(candidate: Candidate, base: SolvedBase) -> Lead | None:
    """The candidate's lead, the coil's own stray capacitance (an estimate) at its end; None where there is none."""
    given = candidate.lead
    if given is None:
        return None

    def part(length: float, resistance: float, conductivity: float) -> LeadPart:
        skin = 1.0 if not conductivity else float(skin_effect_ratio(given.diameter, candidate.frequency, conductivity))
        return LeadPart(length, resistance * skin, given.inductance, given.capacitance)

    stray = 1.0 / ((2.0 * pi * base.self_resonance) ** 2 * base.inductance)
    return Lead(tuple(part(*piece) for piece in given.pieces), stray)


def apparent_base(candidate: Candidate, base: SolvedBase) -> ApparentCoil | None:
    """The coil as the reader sees it; None where it sits at the coil's own terminals.

    Raises
    ------
    LinkError
        Where coil and lead resonate below the carrier: no capacitor at the reader tunes them.
    """
    lead = lead_between(candidate, base)
    if lead is None:
        return None
    found = apparent_coil(lead, base.inductance, base.resistance, candidate.frequency)
    try:
        found.tuning_capacitance(candidate.link.tuning)
    except LinkError as error:
        resonance = lead_resonance(lead, base.inductance)
        raise LinkError(error.quantity, f"{error.message}; they resonate at {resonance / 1e3:.4g} kHz") from None
    return found


def seen_through_lead(candidate: Candidate, base: SolvedBase, mutual_inductance: ComplexArray) -> ComplexArray:
    """M between the reader's end of the lead and the tag, for a given M of the coil itself [H]."""
    apparent = apparent_base(candidate, base)
    return mutual_inductance if apparent is None else apparent.mutual_inductance(mutual_inductance)


def at_the_coil(candidate: Candidate, base: SolvedBase, budget: LinkBudget) -> tuple[ComplexArray, ComplexArray]:
    """Voltage across the coil and current in it, where the budget's are those at the reader's end, peak [V], [A]."""
    voltage, current = budget.held * budget.network.coil_voltage, budget.base_current
    apparent = apparent_base(candidate, base)
    return (voltage, current) if apparent is None else apparent.at_coil(voltage, current)


def lead_columns(candidate: Candidate, base: SolvedBase) -> Row:
    """What the reader sees of the coil; no column without a lead."""
    lead, apparent = lead_between(candidate, base), apparent_base(candidate, base)
    if lead is None or apparent is None:
        return {}
    return {
        "base_apparent_inductance_H": float(apparent.inductance),
        "base_apparent_resistance_ohm": float(apparent.resistance),
        "base_lead_resonance_Hz": lead_resonance(lead, base.inductance),
        "base_lead_current_ratio": float(np.abs(apparent.current_ratio)),
    }


def lead_remarks(candidate: Candidate, base: SolvedBase) -> list[str]:
    """A lead that moves what the reader sees."""
    lead = lead_between(candidate, base)
    if lead is None:
        return []
    notes = lead_notes(lead, base.inductance, base.resistance, candidate.frequency)
    return [f"lead: {note[0].lower()}{note[1:]}" for note in notes]
