"""Base coils of other sizes and turns in a study's own stack: what each reaches at any drive, in every state."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from geometries.errors import GeometryError
from geometries.packing import largest_turns
from links.budget import link_budget
from links.drive import standing_voltage
from studies.biased_link import with_bias
from studies.coupling import Coupling, coupling_of
from studies.fitting import in_another_state
from studies.leads import at_the_coil
from studies.linking import Lines, asked_lines, exchange_table, greatest_mutual, profiles_on
from studies.rows import number
from studies.solving import SolvedBase, rewound, solved_coils
from studies.specification import Candidate, CapacitorSpecification, CoilSpecification
from studies.tuning import base_circuit, base_tuning, tag_circuit, tag_tuning
from studies.wire_limits import wire_columns

Takes = dict[str, float]
"""What a coil takes, by the names of `studies.verdict.QUANTITIES`, peak values in SI; ``input_power`` is the mean."""


@dataclass(frozen=True, slots=True)
class Reached:
    """Heights up to which the tag is read [m], in the worst of all states; None where it is read nowhere.

    ``axis``: upright on the axis. ``worst``: on the worst line that the study asks for. ``open_ended``: on the axis it
    is read up to the highest place that was looked at.
    """

    axis: float | None
    worst: float | None
    open_ended: bool


@dataclass(frozen=True, eq=False)
class Wound:
    """A base coil in every state of its study, tuned exactly in the one that the study tunes it in.

    ``turns`` need not be whole; ``room`` is how many of the wire the section takes. ``states`` are candidates with
    their capacitors, the one as given first, each with its coupling; ``fields`` M of each on the lines asked for, and
    its greatest.
    """

    diameter: float
    turns: float
    room: int
    states: tuple[tuple[Candidate, Coupling], ...]
    fields: tuple[tuple[Lines, float], ...]

    @property
    def base(self) -> SolvedBase:
        """As installed, in the state as given."""
        return self.states[0][1].coils.base

    @property
    def fits(self) -> bool:
        """Whether its turns go into the section."""
        return self.turns <= self.room

    @property
    def tuning_capacitance(self) -> float:
        """What tunes it [F]."""
        candidate, coupling = self.states[0]
        return base_tuning(candidate, coupling.coils).capacitance

    @cached_property
    def taken_in_states(self) -> tuple[Takes, ...]:
        """What it takes in each state with no tag there, at a source voltage of 1 V peak."""
        return tuple(_taken(*state) for state in self.states)

    @cached_property
    def taken(self) -> Takes:
        """The greatest of all states."""
        found = self.taken_in_states
        return {name: max(one[name] for one in found) for name in found[0]}

    def takes(self, source_voltage: float) -> Takes:
        """The same at any source voltage [V peak]: all go with it, the power with its square."""
        return {
            name: value * source_voltage ** (2 if name == "input_power" else 1) for name, value in self.taken.items()
        }

    def voltage_for(self, quantity: str, value: float) -> float:
        """Source voltage at which a quantity comes to a value [V peak]."""
        share = value / self.taken[quantity]
        return float(np.sqrt(share)) if quantity == "input_power" else share

    def with_turns(self, turns: float) -> "Wound":
        """The same section with other turns."""
        couplings = [(candidate, _with_turns(candidate, coupling, turns)) for candidate, coupling in self.states]
        factor = turns / self.turns
        fields = tuple((lines.times(factor), factor * greatest) for lines, greatest in self.fields)
        return Wound(self.diameter, turns, self.room, _tuned(couplings), fields)

    def with_inductance(self, inductance: float) -> "Wound":
        """The same section with the turns that give an inductance, as given [H]."""
        return self.with_turns(self.turns * float(np.sqrt(inductance / self.base.inductance)))

    def reached(self, source_voltage: float, limit: float | None = None) -> Reached:
        """How high the tag is read at a source voltage [V peak], the current limited [A peak] or not."""
        lines = []
        for (candidate, coupling), (asked, greatest) in zip(self.states, self.fields, strict=True):
            driven = driven_by(candidate, source_voltage, limit)
            table = exchange_table(driven, coupling, greatest)
            lines.append([line.window for line in profiles_on(driven, coupling, table, asked)])
        axis, worst = [windows[0] for windows in lines], [windows[-1] for windows in lines]
        return Reached(
            _least([window.upper for window in axis]),
            _least([window.upper for window in worst]),
            all(window.reaches_end for window in axis),
        )

    def linkage(self, height: float) -> float:
        """|M| of the upright tag at a height on the axis, the least of all states [H]."""
        found = [abs(coupling.extremes_at(np.array([height]), 0.0, 0.0)[0][0]) for _, coupling in self.states]
        return float(min(found))


def wound(candidate: Candidate, diameter: float, section: tuple[float, float]) -> Wound:
    """A coil of one turn with a mean diameter and a section of radial build and winding length [m], in all states.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where it cannot be built or computed.
    """
    states = [
        replace(state, coil=_of_one_turn(state.coil, diameter, section), states=())
        for state in (candidate, *candidate.states)
    ]
    tuned, _ = with_bias(_tuned_state(states))
    kept = tuned.tag.capacitor
    couplings = []
    for state in states:
        if state.state != tuned.state and isinstance(kept, CapacitorSpecification):
            own = in_another_state(state.tag.capacitor, kept)
            state = replace(state, tag=replace(state.tag, capacitor=own))
        one, _ = with_bias(state)
        couplings.append((one, coupling_of(one, solved_coils(one))))
    base = couplings[0][1].coils.base
    room = largest_turns(base.section, candidate.coil.wire.overall_diameter)
    fields = tuple((asked_lines(*one), greatest_mutual(*one)) for one in couplings)
    return Wound(diameter, 1.0, room, _tuned(couplings), fields)


def driven_by(candidate: Candidate, source_voltage: float, limit: float | None = None) -> Candidate:
    """The candidate on a source of some voltage [V peak], its current held to a limit [A peak] or not."""
    return replace(candidate, drive=replace(candidate.drive, source_voltage=source_voltage, current_limit=limit))


def _of_one_turn(coil: CoilSpecification, diameter: float, section: tuple[float, float]) -> CoilSpecification:
    build, length = section
    return replace(
        coil, turns=1, inductance=None, mean_diameter=diameter, radial_build=build, winding_length=length,
        capacitor=None,
    )  # fmt: skip


def _with_turns(candidate: Candidate, coupling: Coupling, turns: float) -> Coupling:
    base = coupling.coils.base
    changed = rewound(candidate, base.section, turns, base.field)
    return replace(coupling, coils=replace(coupling.coils, base=changed))


def _tuned(states: list[tuple[Candidate, Coupling]]) -> tuple[tuple[Candidate, Coupling], ...]:
    """The states with the capacitors that tune the coil, and the tag where it has none, in the state to be tuned in."""
    bare = [(_without_capacitor(candidate), coupling) for candidate, coupling in states]
    tuned_in = _tuned_state([candidate for candidate, _ in bare])
    candidate, coupling = next(one for one in bare if one[0] is tuned_in)
    base, tag = base_tuning(candidate, coupling.coils).capacitance, tag_tuning(candidate, coupling.coils).capacitance
    return tuple((_with_capacitors(one, base, tag), coupled) for one, coupled in bare)


def _tuned_state(states: Sequence[Candidate]) -> Candidate:
    """The state in which the study tunes its design; as given where there is none of that name."""
    return next((one for one in states if one.state == one.tuned_in), states[0])


def _without_capacitor(candidate: Candidate) -> Candidate:
    return replace(candidate, coil=replace(candidate.coil, capacitor=None))


def _with_capacitors(candidate: Candidate, base: float, tag: float) -> Candidate:
    own = in_another_state(candidate.tag.capacitor, CapacitorSpecification(tag, tag, tag, parts=(tag,)))
    return replace(
        candidate,
        coil=replace(candidate.coil, capacitor=CapacitorSpecification(base, base, base)),
        tag=replace(candidate.tag, capacitor=own),
    )


def _least(heights: list[float | None]) -> float | None:
    known = [height for height in heights if height is not None]
    return min(known) if len(known) == len(heights) else None


def _taken(candidate: Candidate, coupling: Coupling) -> Takes:
    coils = coupling.coils
    circuit = replace(base_circuit(candidate, coils), source_voltage=1.0, current_limit=None)
    tag = tag_circuit(candidate, coils, np.array([coupling.ceiling]))
    budget = link_budget(candidate.frequency, circuit, tag, np.zeros(1, dtype=np.complex128))
    volts, amperes = at_the_coil(candidate, coils.base, budget)
    voltage, current = float(np.abs(volts[0])), float(np.abs(amperes[0]))
    row = wire_columns(candidate, coils, voltage, current)
    return {
        "coil_voltage": voltage,
        "capacitor_voltage": float(budget.capacitor_voltage[0])
        + standing_voltage(candidate.drive.bridge, candidate.link.tuning, 1.0),
        "current": current,
        "current_density": number(row, "current_density_rms_A_per_m2"),
        "neighbour_voltage": number(row, "worst_neighbour_voltage_V"),
        "volts_per_turn": number(row, "most_volts_per_turn_V"),
        "input_power": float(budget.input_power[0]),
    }


def wounds(candidate: Candidate, diameters: tuple[float, ...], section: tuple[float, float]) -> Iterator[Wound]:
    """Coils of several mean diameters, those left out that cannot be built."""
    for diameter in diameters:
        try:
            yield wound(candidate, diameter, section)
        except GeometryError:
            continue
