"""Closed forms of coils in air: the public face of ``closed_forms_loops`` and ``closed_forms_windings``."""

from fem.closed_forms_loops import (
    dipole_vector_potential,
    displaced_loops_mutual_inductance,
    loop_flux_density,
    loop_mutual_inductance,
    loop_vector_potential,
)
from fem.closed_forms_windings import (
    displaced_windings_mutual_inductance,
    winding_flux_density,
    winding_mutual_inductance,
    winding_self_inductance,
    winding_vector_potential,
)

__all__ = [
    "dipole_vector_potential",
    "displaced_loops_mutual_inductance",
    "displaced_windings_mutual_inductance",
    "loop_flux_density",
    "loop_mutual_inductance",
    "loop_vector_potential",
    "winding_flux_density",
    "winding_mutual_inductance",
    "winding_self_inductance",
    "winding_vector_potential",
]
