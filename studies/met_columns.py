"""What drive, coils, capacitors and chip meet at most, whatever the capacitors are within their ranges."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from links.budget import LinkBudget, link_budget
from studies.extremes import extremes
from studies.fitting import Fit, at_corner, fits_within
from studies.hazard_columns import field_columns, greatest_capacitor_voltage
from studies.hazards import HOTTEST, hottest_part
from studies.leads import at_the_coil
from studies.neighbour_columns import neighbour_columns
from studies.rows import Row, number
from studies.solving import SolvedCoils
from studies.specification import Candidate
from studies.stress import stress_columns
from studies.tuning import base_circuit
from studies.wire_limits import wire_columns


def met_columns(typical: Candidate, coils: SolvedCoils, at_places: LinkBudget, on_map: LinkBudget) -> Row:
    """The greatest currents, voltages, powers and fields met.

    Parameters
    ----------
    typical : Candidate
        Every choice of parts made, each capacitor typical.
    coils : SolvedCoils
        Its coils.
    at_places : LinkBudget
        With no tag, then with the tag at each reference place; any of its capacitors.
    on_map : LinkBudget
        With the tag anywhere on the map, for the chip's voltage.

    Notes
    -----
    The parts that leave the least margin are off tune, and take the least: what a built unit has to stand is met with
    others. Each column is the greatest of all combinations that `fits_within` looks at.
    """
    drives, rows = [], []
    for candidate, (places, anywhere) in with_each_fit(typical, coils, at_places, on_map):
        drive = _drive_columns(candidate, coils, places)
        current = number(drive, "base_current_A")
        drives.append(drive)
        rows.append(
            {"critical_coupling": float(places.critical_coupling[-1])}
            | stress_columns(candidate, coils, places)
            | neighbour_columns(candidate, coils, base_circuit(candidate, coils), current)
            | {"greatest_chip_voltage_V": max(float(one.chip_voltage.max()) for one in (places, anywhere))}
        )
    drive = extremes(drives)
    voltage, current = number(drive, "coil_voltage_V"), number(drive, "base_current_A")
    wire = wire_columns(typical, coils, voltage, current)
    return drive | wire | field_columns(coils.base, current) | extremes(rows)


def met_hazards(typical: Candidate, coils: SolvedCoils, at_places: LinkBudget) -> Row:
    """The greatest of what cautions hang on: columns that a whole row has too; arguments as of `met_columns`."""
    each = with_each_fit(typical, coils, at_places)
    drive = extremes([_drive_columns(one, coils, budget) for one, (budget,) in each])
    return {
        "coil_voltage_V": drive["coil_voltage_V"],
        "capacitor_voltage_V": drive["capacitor_voltage_V"],
        HOTTEST: hottest_part(typical),
        **field_columns(coils.base, number(drive, "base_current_A")),
    }


def with_each_fit(
    typical: Candidate, coils: SolvedCoils, *budgets: LinkBudget
) -> Iterator[tuple[Candidate, tuple[LinkBudget, ...]]]:
    """The candidate with each of the capacitances that it may have, and its budgets with them."""
    fits = fits_within(typical, coils)
    if len(fits) == 1:
        yield typical, budgets
        return
    for fit in fits:
        yield at_corner(typical, fit), tuple(_with(budget, fit) for budget in budgets)


def _with(budget: LinkBudget, fit: Fit) -> LinkBudget:
    """The same link with other capacitances."""
    base, tag = replace(budget.base, capacitance=fit.base), replace(budget.tag, capacitance=fit.tag)
    return link_budget(budget.frequency, base, tag, budget.mutual_inductance)


def _drive_columns(candidate: Candidate, coils: SolvedCoils, budget: LinkBudget) -> Row:
    """The greatest currents and voltages with no tag there and with the tag at each reference place."""

    def greatest(name: str) -> float:
        return float(np.abs(getattr(budget, name)).max())

    volts, amperes = at_the_coil(candidate, coils.base, budget)
    return {
        "base_current_A": float(np.abs(amperes).max()),
        "source_current_A": greatest("source_current"),
        "drive_limited": bool(budget.drive_limited.any()),
        "coil_voltage_V": float(np.abs(volts).max()),
        "capacitor_voltage_V": greatest_capacitor_voltage(candidate, budget),
        "input_power_W": greatest("input_power"),
    }
