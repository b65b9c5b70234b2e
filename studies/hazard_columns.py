"""The columns that cautions hang on: volts, heat and field of a candidate in one state."""

import numpy as np

from links.budget import LinkBudget
from links.drive import standing_voltage
from links.limits import dipole_field_on_axis
from studies.hazards import HOTTEST, hottest_part
from studies.leads import at_the_coil
from studies.linking import rms
from studies.rows import Row
from studies.solving import SolvedBase, SolvedCoils
from studies.specification import Candidate


def field_columns(base: SolvedBase, current: float) -> Row:
    """The field that a base coil makes far off and on its plate at a current [A peak]."""
    ampere_turns = rms(current) * base.turns
    return {
        "field_at_10_m_rms_A_per_m": float(dipole_field_on_axis(ampere_turns * abs(base.field.moment), 10.0)),
        "flux_density_on_plate_rms_T": ampere_turns * base.field.greatest_on_plate(base.section.outer_radius),
    }


def greatest_capacitor_voltage(candidate: Candidate, budget: LinkBudget) -> float:
    """The most across the base coil's tuning capacitor [V peak], a half bridge's mean included."""
    drive = candidate.drive
    standing = standing_voltage(drive.bridge, candidate.link.tuning, drive.source_voltage)
    return float(budget.capacitor_voltage.max()) + standing


def hazard_columns(asked: Candidate, coils: SolvedCoils, budget: LinkBudget) -> Row:
    """What cautions hang on, of one state: the same columns as a whole row has."""
    volts, amperes = at_the_coil(asked, coils.base, budget)
    return {
        "coil_voltage_V": float(np.abs(volts).max()),
        "capacitor_voltage_V": greatest_capacitor_voltage(asked, budget),
        HOTTEST: hottest_part(asked),
        **field_columns(coils.base, float(np.abs(amperes).max())),
    }
