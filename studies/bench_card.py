"""What the bench should read of a base coil: inductance, resistance, resonance at each setting, a search loop's EMF."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np

from fem.base_solution import base_solution
from fem.closed_forms_windings import winding_self_inductance
from fem.square_field import square_lengths
from fem.volume_integral import base_field
from fem.winding_resistance import winding_resistance
from links.budget import link_budget
from links.resonance import quality_factor, resonant_frequency
from studies.asked_places import height_range
from studies.fitting import made_of, trim_bank
from studies.hazards import hottest_part
from studies.leads import at_the_coil
from studies.one_state import LinkedInState
from studies.solving import SolvedBase, base_problem, solved_base
from studies.specification import Candidate, CapacitorChoice, CapacitorSpecification
from studies.tuning import base_circuit, base_tuning, tag_circuit

METER_FREQUENCIES = (10e3, 100e3)
"""At which inductance meters measure, besides the carrier (common practice, no source) [Hz]."""

LOOP_DIAMETER = 10e-3
"""Of the one-turn search loop [m]."""

ROOM_TEMPERATURE = 20.0


@dataclass(frozen=True, slots=True)
class Reading:
    """The coil at one frequency, its wire cold: alone in air, and installed with no tag near [H], [Ω], [1]."""

    frequency: float
    air_inductance: float
    air_resistance: float
    air_q: float
    installed_inductance: float
    installed_resistance: float
    installed_q: float


@dataclass(frozen=True, slots=True)
class Trim:
    """One setting of the tuning capacitor: its capacitance [F], where the coil resonates with it, and with a probe."""

    setting: str
    capacitance: float
    resonance: float
    resonance_with_probe: float
    fitted: bool


@dataclass(frozen=True, slots=True)
class LoopReading:
    """What a search loop picks up, coaxial at one ``height`` above the plate [m], with no tag there.

    Flux density averaged over the loop [T], EMF for one ampere of the coil and by its current [V].
    """

    height: float
    mean_flux_density_peak: float
    emf_per_ampere: float
    emf_peak: float
    emf_rms: float


@dataclass(frozen=True, slots=True)
class BenchCard:
    """All readings; ``state`` is the one in which the bench finds the coil, ``driven_state`` that of the loop's EMF."""

    state: str
    readings: tuple[Reading, ...]
    trims: tuple[Trim, ...]
    probe_capacitance: float
    own_capacitance_estimate: float
    loop_readings: tuple[LoopReading, ...]
    loop_diameter: float
    loop_current_peak: float
    driven_state: str


def bench_card(specified: Candidate, states: Sequence[LinkedInState], probe: float) -> BenchCard:
    """The readings of a design.

    Parameters
    ----------
    specified : Candidate
        The design with all its states, as its study gives it.
    states : sequence of LinkedInState
        All of them solved, the one as given first.
    probe : float
        Capacitance of the probe that watches the resonance, across the capacitor [F].
    """
    cold, given = bench_state(states), states[0]
    base = cold.coils.base
    frequencies = sorted({*METER_FREQUENCIES, specified.frequency})
    loops, current = _loop_readings(given)
    return BenchCard(
        cold.asked.state,
        tuple(_reading(cold.candidate, base, frequency) for frequency in frequencies),
        _trims(specified, states, probe),
        probe,
        1.0 / ((2.0 * pi * base.self_resonance) ** 2 * base.inductance),
        loops,
        LOOP_DIAMETER,
        current,
        given.asked.state,
    )


def bench_state(states: Sequence[LinkedInState]) -> LinkedInState:
    """The coldest state, wire first: that in which a bench finds the coil before it is switched on."""

    def warmth(state: LinkedInState) -> tuple[float, float]:
        wire = state.asked.coil.wire.temperature
        return abs(wire - ROOM_TEMPERATURE), hottest_part(state.asked)

    return min(states, key=warmth)


def _reading(candidate: Candidate, base: SolvedBase, frequency: float) -> Reading:
    wire = replace(candidate.coil.wire, temperature=ROOM_TEMPERATURE)
    installed = at_frequency(candidate, base, frequency)
    air_inductance = winding_self_inductance(base.section, base.turns)
    square, _ = square_lengths(base.section, lambda r, z: (np.zeros(r.shape, complex), np.zeros(r.shape, complex)))
    air_resistance = winding_resistance(base.section, base.turns, wire, frequency, square).total
    return Reading(
        frequency,
        air_inductance,
        air_resistance,
        float(quality_factor(air_inductance, air_resistance, frequency)),
        installed.inductance,
        installed.resistance,
        float(quality_factor(installed.inductance, installed.resistance, frequency)),
    )


def at_frequency(candidate: Candidate, base: SolvedBase, frequency: float) -> SolvedBase:
    """A coil as wound, installed, at another frequency [Hz], its wire at room temperature."""
    section, coil = base.section, candidate.coil
    wound = replace(
        coil,
        turns=round(base.turns),
        inductance=None,
        radial_build=section.radial_build,
        winding_length=section.winding_length,
        wire=replace(coil.wire, temperature=ROOM_TEMPERATURE),
    )
    return solved_base(replace(candidate, coil=wound, frequency=frequency, formulation="total field"))


def _trims(specified: Candidate, states: Sequence[LinkedInState], probe: float) -> tuple[Trim, ...]:
    """Every setting, as warm as the bench finds it, on the coil as installed there."""
    cold = bench_state(states)
    inductance = float(base_circuit(cold.typical, cold.coils).inductance)

    def trim(setting: str, capacitance: float, fitted: bool = False) -> Trim:
        alone, probed = (float(resonant_frequency(inductance, c)) for c in (capacitance, capacitance + probe))
        return Trim(setting, capacitance, alone, probed, fitted)

    given = specified.coil.capacitor
    if isinstance(given, CapacitorChoice) and given.choose == "bank":
        return tuple(trim(*one) for one in _bank_settings(specified, states, cold))
    capacitor = cold.typical.coil.capacitor if given is not None else None
    found = []
    if given is None:
        found.append(trim("tuned exactly, as the study has it", base_tuning(cold.typical, cold.coils).capacitance))
        capacitor = None if cold.bought is None else cold.bought.coil.capacitor
    if isinstance(capacitor, CapacitorSpecification):
        found.append(trim(f"parts as marked: {_parts_text(capacitor.parts)}", capacitor.capacitance, True))
        if capacitor.least < capacitor.greatest:
            found.append(trim("the least that their tolerance leaves", capacitor.least))
            found.append(trim("the most that it leaves", capacitor.greatest))
    return tuple(found)


def _bank_settings(
    specified: Candidate, states: Sequence[LinkedInState], cold: LinkedInState
) -> list[tuple[str, float, bool]]:
    """Each setting of a bank: which switches are closed, its capacitance in the bench's state, whether it is fitted."""
    tuned = next((one for one in states if one.asked.state == specified.tuned_in), states[0])
    own = {one.state: one.coil.capacitor for one in (specified, *specified.states)}
    choice, there = own[tuned.asked.state], own[cold.asked.state]
    assert isinstance(choice, CapacitorChoice), "a bank is chosen in every state"
    assert isinstance(there, CapacitorChoice), "a bank is chosen in every state"
    bank = trim_bank(choice, base_tuning(tuned.typical, tuned.coils).exact)
    fitted = cold.typical.coil.capacitor
    in_place = fitted.parts if isinstance(fitted, CapacitorSpecification) else ()
    found = []
    for setting in range(2 ** len(bank.switched)):
        closed = [part for k, part in enumerate(bank.switched) if setting >> k & 1]
        parts = tuple(sorted((*bank.fixed, *closed), reverse=True))
        words = _parts_text(closed) or f"all switches open, {_parts_text(bank.fixed)} always in"
        found.append((words, made_of(there, parts, 0.0).capacitance, parts == in_place))
    return sorted(found, key=lambda one: one[1])


def _parts_text(parts: Iterable[float]) -> str:
    return " + ".join(f"{part * 1e12:.6g} pF" for part in parts)


def loop_flux(base: SolvedBase, candidate: Candidate, heights: np.ndarray, radius: float) -> np.ndarray:
    """Flux through a coaxial loop of some ``radius`` at ``heights`` above the plate, per ampere of the coil [Wb/A].

    Notes
    -----
    Φ = ∮ A dl = 2πa A(a, z), which is B_z averaged over the loop times its area.
    """
    field = base_solution(base_problem(candidate, base.section))
    potential, _, _ = base_field(field.sources, np.full(heights.shape, radius), heights)
    return np.asarray(base.turns * 2.0 * pi * radius * potential)


def _loop_readings(state: LinkedInState) -> tuple[tuple[LoopReading, ...], float]:
    """Readings at the lowest place, the highest and between, and the coil's current with no tag there [A peak]."""
    candidate, base, radius = state.typical, state.coils.base, 0.5 * LOOP_DIAMETER
    lowest, highest = height_range(candidate)
    heights = np.array([lowest, round(sqrt(lowest * highest) * 1e3) * 1e-3, highest])
    circuit = base_circuit(candidate, state.coils)
    budget = link_budget(candidate.frequency, circuit, tag_circuit(candidate, state.coils, heights[-1:]), 0j)
    current = float(np.abs(at_the_coil(candidate, base, budget)[1]).max())
    flux = np.abs(loop_flux(base, candidate, heights, radius))
    omega = 2.0 * pi * candidate.frequency
    readings = tuple(
        LoopReading(
            float(height),
            float(one * current / (pi * radius**2)),
            float(omega * one),
            float(omega * one * current),
            float(omega * one * current / sqrt(2.0)),
        )
        for height, one in zip(heights, flux, strict=True)
    )
    return readings, current
