"""What each step from the coil alone in air to the tag as it will sit costs, at the worst of the places asked for."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fem.closed_forms_windings import winding_flux_density, winding_self_inductance
from links.circuits import BaseCircuit, TagCircuit
from studies.coupling import Asked, Coupling
from studies.fitting import Fit, corner_margins, corners
from studies.leads import seen_through_lead
from studies.linking import linked_circuits
from studies.one_state import InOneState
from studies.rows import Row
from studies.specification import COLD, Candidate
from studies.tuning import base_circuit, tag_circuit, tuned_exactly

STEPS = (
    ("in_air", "coil alone in air, tag upright over it"),
    ("installed", "plate, heater and all else in place"),
    ("detuned", "tag detuned by what is near"),
    ("displaced", "tag off centre, leaning the worst way"),
    ("hot", "as hot as given"),
    ("biased", "its core biased by magnets"),
    ("as_fitted", "tuning parts as bought, at their tolerance"),
    ("worst_state", "the worst of its states"),
)
"""Steps of the ladder: column and words."""


def ladder_columns(states: Sequence[InOneState], tuned: InOneState, worst: int) -> Row:
    """The margin after each step.

    Parameters
    ----------
    states : sequence of InOneState
        All states of a candidate, the one as given first.
    tuned : InOneState
        The one of them in which its capacitors were found.
    worst : int
        The place, of those asked for, that is the worst of all states; the first steps are on the axis above it.

    Returns
    -------
    dict
        ``ladder_<step>_dB``, in the order of `STEPS`; None where a step makes no difference here.

    Notes
    -----
    The first steps are in the cold state, where there is one, tuned exactly, the tag in free air. In air the coil has
    its inductance and field in closed form (fem.closed_forms_windings) and its winding's own resistance as installed.
    With heat the capacitors stay what tunes the design exactly in the state that it is tuned in.
    """
    given, *others = states
    cold = next((one for one in others if one.asked.state == COLD), given)
    asked = given.at_places.at(worst)
    found: dict[str, float | None] = {step: None for step, _ in STEPS} | _first_steps(cold, worst)
    if cold is not given:
        found["hot"] = _margin(given, given.candidate, asked, (tuned.exact,))
    if given.tags is not None:
        typical = corners(given.typical, given.coils)[0]
        found["biased"] = _margin(given, given.candidate, asked, (Fit(tuned.exact.base, typical.tag),))
    if given.bought is not None:
        found["as_fitted"] = _margin(given, given.bought, asked, corners(given.bought, given.coils))
        if others:
            found["worst_state"] = min(
                _margin(one, one.bought, one.at_places.at(worst), corners(one.bought, one.coils))
                for one in states
                if one.bought is not None
            )
    return {f"ladder_{step}_dB": found[step] for step, _ in STEPS}


def _margin(state: InOneState, candidate: Candidate, asked: Asked, fits: tuple[Fit, ...]) -> float:
    return float(corner_margins(candidate, state.coupling, asked, fits).min())


def _first_steps(state: InOneState, worst: int) -> dict[str, float]:
    """From the coil alone in air to the tag in its place, both sides tuned exactly."""
    tuned, coupling, asked = tuned_exactly(state.candidate), state.coupling, state.at_places.at(worst)
    height = asked.heights
    tag = coupling.coils.tag
    near = tag_circuit(tuned, coupling.coils, height)
    free = replace(near, inductance=tag.inductance, resistance=tag.resistance)
    installed = base_circuit(tuned, coupling.coils)
    centred = coupling.extremes_at(height, 0.0, 0.0)[0]

    def margin(base: BaseCircuit, its_tag: TagCircuit, mutual: np.ndarray) -> float:
        return float(linked_circuits(tuned, base, its_tag, mutual, stepped=False).margin.min())

    def seen(mutual: np.ndarray) -> np.ndarray:
        return seen_through_lead(tuned, coupling.coils.base, mutual)

    return {
        "in_air": margin(_in_air(installed, coupling), free, _mutual_in_air(coupling, float(height[0]))),
        "installed": margin(installed, free, seen(centred)),
        "detuned": margin(installed, near, seen(centred)),
        "displaced": margin(installed, near, seen(asked.extremes)),
    }


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
