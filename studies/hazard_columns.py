"""What columns that cautions hang on are made of: field and volts of a candidate in one state."""

from links.budget import LinkBudget
from links.drive import standing_voltage
from links.limits import dipole_field_on_axis
from studies.linking import rms
from studies.rows import Row
from studies.solving import SolvedBase
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
