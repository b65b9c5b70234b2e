"""Which candidates share a field solve. Light: `check` counts fields without loading what solves them."""

from collections.abc import Hashable

from studies.specification import Candidate


def shared_field(candidate: Candidate | None) -> Hashable:
    """What candidates must have in common to share the base coil's field."""
    if candidate is None:
        return None
    coil = candidate.coil
    shape = (coil.mean_diameter, coil.radial_build, coil.winding_length, coil.under, coil.clearance)
    size = coil.wire.overall_diameter if coil.radial_build is None else 0.0
    turns = coil.turns if coil.radial_build is None else 0
    return candidate.stack, candidate.frequency, candidate.accuracy, shape, size, turns
