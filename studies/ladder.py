"""What each step from the coil alone in air to the tag as it will sit costs, at the worst of the places asked for."""

from dataclasses import replace

import numpy as np

from fem.closed_forms_windings import winding_flux_density, winding_self_inductance
from links.circuits import BaseCircuit, TagCircuit
from studies.coupling import Asked, Coupling
from studies.fitting import Fit, corner_margins, corners
from studies.leads import seen_through_lead
from studies.linking import linked_circuits
from studies.rows import Row
from studies.specification import Candidate
from studies.tuning import base_circuit, tag_circuit, tuned_exactly

STEPS = (
    ("in_air", "coil alone in air, tag upright over it"),
    ("installed", "plate, heater and all else in place"),
    ("detuned", "tag detuned by what is near"),
    ("displaced", "tag off centre, leaning the worst way"),
    ("biased", "its core biased by magnets"),
    ("as_fitted", "tuning parts as bought, at their tolerance"),
)
"""Steps of the ladder: column and words."""


def ladder_columns(
    candidate: Candidate, coupling: Coupling, asked: Asked, bought: Candidate | None, *, biased: bool = False
) -> Row:
    """The margin after each step.

    Parameters
    ----------
    candidate : Candidate
        Its capacitors play no part in the first steps, which are tuned exactly, the tag in free air.
    coupling : Coupling
        Of the solved candidate.
    asked : Asked
        The worst of the places alone; the first three steps are on the axis above it, upright.
    bought : Candidate or None
        With its capacitors chosen, for the last step; None leaves that out.
    biased : bool
        Whether the candidate's tag is one that magnets bias, with the capacitor that it then keeps.

    Returns
    -------
    dict
        ``ladder_<step>_dB``, in the order of `STEPS`.

    Notes
    -----
    In air the coil has its inductance and field in closed form (fem.closed_forms_windings) and its winding's own
    resistance as installed.
    """
    tuned = tuned_exactly(candidate)
    height = asked.heights
    tag = coupling.coils.tag
    near = tag_circuit(tuned, coupling.coils, height)
    free = replace(near, inductance=tag.inductance, resistance=tag.resistance)
    installed = base_circuit(tuned, coupling.coils)
    centred = coupling.extremes_at(height, 0.0, 0.0)[0]

    def margin(base: BaseCircuit, its_tag: TagCircuit, mutual: np.ndarray) -> float:
        return float(linked_circuits(tuned, base, its_tag, mutual, stepped=False).margin.min())

    def seen(mutual: np.ndarray) -> np.ndarray:
        return seen_through_lead(candidate, coupling.coils.base, mutual)

    found: dict[str, float | None] = {
        "in_air": margin(_in_air(installed, coupling), free, _mutual_in_air(coupling, float(height[0]))),
        "installed": margin(installed, free, seen(centred)),
        "detuned": margin(installed, near, seen(centred)),
        "displaced": margin(installed, near, seen(asked.extremes)),
        "biased": None,
        "as_fitted": None,
    }
    if biased:
        typical = corners(candidate, coupling.coils)[:1]
        found["biased"] = float(corner_margins(candidate, coupling, asked, typical)[0])
    if bought is not None:
        fits: tuple[Fit, ...] = corners(bought, coupling.coils)
        found["as_fitted"] = float(corner_margins(bought, coupling, asked, fits).min())
    return {f"ladder_{step}_dB": found[step] for step, _ in STEPS}


def _in_air(installed: BaseCircuit, coupling: Coupling) -> BaseCircuit:
    base = coupling.coils.base
    inductance = winding_self_inductance(base.section, base.turns)
    return replace(installed, inductance=inductance, resistance=base.winding.total)


def _mutual_in_air(coupling: Coupling, height: float) -> np.ndarray:
    """M of the coil by itself and the upright tag on its axis, as a place's array of shape (1,) [H]."""
    base, moments = coupling.coils.base, coupling.moments
    places = height + moments.nodes
    _, axial = winding_flux_density(base.section, base.turns, np.zeros_like(places), places)
    return np.atleast_1d(np.asarray(axial @ moments.weights, dtype=np.complex128))
