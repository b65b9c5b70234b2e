"""What the drive and the tuning capacitors have to stand: harmonics, supply current, volts, amperes, watts."""

from math import pi, sqrt

import numpy as np

from links.budget import LinkBudget, clamped
from links.harmonics import harmonic_source_currents
from studies.rows import Row
from studies.solving import SolvedCoils
from studies.specification import Candidate, CapacitorSpecification
from studies.tuning import base_circuit

ORDERS = np.array([1, 3, 5, 7])
"""Harmonics of a bridge that are counted; the next one carries under a hundredth of the first one's voltage squared."""

LEAST_HARMONIC = 0.01
"""Third harmonic of the source current, as a share of the fundamental, from which on it is told."""


def stress_columns(candidate: Candidate, coils: SolvedCoils, budget: LinkBudget) -> Row:
    """Columns of drive and capacitors.

    Parameters
    ----------
    candidate : Candidate
        With its capacitors as they are.
    coils : SolvedCoils
        Solved.
    budget : LinkBudget
        With no tag first, then at each reference place.

    Returns
    -------
    dict
        The greatest over no tag and all reference places. The supply's mean current holds the harmonics' power; the
        losses of a capacitor are those of its given loss factor.

    Notes
    -----
    The harmonics are those of the drive without a tag. A capacitor's current is that of its voltage at the working
    frequency, and in a base coil driven by a bridge the harmonics besides, whose whole source current it carries.
    """
    harmonics = _harmonics(candidate, coils)
    third = float(abs(harmonics[1])) if harmonics.size > 1 else 0.0
    base = candidate.coil.capacitor
    omega = 2.0 * pi * candidate.frequency
    first = base_circuit(candidate, coils).tuning_capacitance(candidate.frequency) * omega
    volts, amperes = float(budget.capacitor_voltage.max()), float(budget.capacitor_voltage.max() * first)
    with_harmonics = sqrt(0.5 * (amperes**2 + float((np.abs(harmonics[1:]) ** 2).sum())))
    tag_volts = float(clamped(budget.chip_voltage, candidate.tag.chip.clamp_voltage).max())
    tag_amperes = tag_volts * float(np.max(budget.tag.tuning_capacitance(candidate.frequency))) * omega
    row: Row = {
        "third_harmonic_source_current_A": third,
        "capacitor_current_rms_A": with_harmonics,
        "capacitor_loss_W": 0.5 * volts * amperes * _loss_factor(base),
        "tag_capacitor_voltage_V": tag_volts,
        "tag_capacitor_current_rms_A": tag_amperes / sqrt(2.0),
        "tag_capacitor_loss_W": 0.5 * tag_volts * tag_amperes * _loss_factor(candidate.tag.capacitor),
    }
    if candidate.drive.bridge != "sine":
        power = float(budget.input_power.max()) + _harmonic_power(candidate, harmonics)
        row["supply_current_A"] = power / candidate.drive.supply
    return row


def stress_remarks(candidate: Candidate, row: Row) -> list[str]:
    """A capacitor under its voltage, and a drive whose harmonics count."""
    found = []
    for key, capacitor, name in (
        ("base_coil.capacitor", candidate.coil.capacitor, "capacitor_voltage_V"),
        ("tag.capacitor", candidate.tag.capacitor, "tag_capacitor_voltage_V"),
    ):
        volts = row[name]
        rated = capacitor.rated_voltage if isinstance(capacitor, CapacitorSpecification) else None
        if isinstance(volts, float) and rated is not None and volts > rated:
            found.append(
                f"{key}.rated_voltage: {volts:.3g} V peak stands across it, {rated:.3g} V is what it stands; at the "
                "working frequency a part may stand less than its label says (common practice, no source)"
            )
    third, first = row["third_harmonic_source_current_A"], row["source_current_A"]
    if isinstance(third, float) and isinstance(first, float) and third > LEAST_HARMONIC * first:
        found.append(
            f"drive.bridge: its third harmonic drives {third * 1e3:.3g} mA, {100.0 * third / first:.2g} % of the "
            "fundamental's current"
        )
    return found


def _harmonics(candidate: Candidate, coils: SolvedCoils) -> np.ndarray:
    """Peak source currents of the drive's harmonics, the fundamental first; that alone of a sine [A].

    A stage without resistance across a parallel circuit would have no bound: its harmonics are left out.
    """
    boundless = candidate.link.tuning == "parallel" and candidate.drive.resistance == 0.0
    if boundless:
        return np.zeros(1, dtype=np.complex128)
    orders = ORDERS[:1] if candidate.drive.bridge == "sine" else ORDERS
    return harmonic_source_currents(candidate.frequency, base_circuit(candidate, coils), orders)


def _harmonic_power(candidate: Candidate, harmonics: np.ndarray) -> float:
    """Mean power of all harmonics but the fundamental [W]."""
    orders = ORDERS[: harmonics.size]
    return float((0.5 * candidate.drive.source_voltage / orders * harmonics.real)[1:].sum())


def _loss_factor(capacitor: object) -> float:
    return capacitor.loss_factor if isinstance(capacitor, CapacitorSpecification) else 0.0
