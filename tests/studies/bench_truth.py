"""Readings made by solving a design directly with hidden parameters, by way of its study file: no spline in between."""

from dataclasses import dataclass, replace
from math import pi, radians, sqrt

import numpy as np

from fem.arrays import Array
from links.budget import link_budget
from studies.measured_list import Reading
from studies.one_state import Kept, LinkedInState, linked_in_state
from studies.specification import Candidate, MapGrid
from studies.study import Study
from studies.tuning import base_circuit, tag_circuit

PLACES = ((12, 0, 0), (16, 0, 0), (20, 0, 0), (25, 0, 0), (30, 0, 0), (38, 0, 0), (46, 0, 0), (54, 0, 0), (20, 8, 0),
          (30, 8, 0), (40, 12, 0), (25, 5, 15), (25, 5, -15))  # fmt: skip
"""Heights and offsets [mm], tilts [deg]."""


@dataclass(frozen=True, slots=True)
class Hidden:
    """What the readings are made with: the core's relative permeability, the wire [°C], the tag's shift [m]."""

    permeability: float
    temperature: float
    shift: float


def as_designed(study: Study, index: int) -> LinkedInState:
    """The design as the study has it, in the state as given."""
    return linked_in_state(replace(study.candidate(index), states=()))


def hidden_design(designed: LinkedInState, study: Study, index: int, hidden: Hidden) -> LinkedInState:
    """The same design, its capacitors as fitted to the nominal one, solved with the hidden parameters."""
    candidate = replace(study.candidate(index), states=())
    assert candidate.tag.construction is not None
    assert candidate.tag.construction.core is not None
    core = candidate.tag.construction.core
    material = replace(core.material, relative_permeability=hidden.permeability)
    built = replace(candidate.tag.construction, core=replace(core, material=material))
    wire = replace(candidate.coil.wire, temperature=hidden.temperature)
    other = replace(
        candidate,
        coil=replace(candidate.coil, wire=wire),
        tag=replace(candidate.tag, construction=built),
        grid=_wider(candidate),
    )
    return linked_in_state(other, Kept.of(designed))


def _wider(candidate: Candidate) -> MapGrid:
    grid = candidate.grid
    return MapGrid((*grid.heights, 0.064), grid.offsets, tuple(sorted({*grid.tilts, radians(15.0)})))


def effective_permeability(found: LinkedInState, air_inductance: float) -> float:
    """L over L without the core [1]."""
    return found.coils.tag.inductance / air_inductance


def true_readings(found: LinkedInState, shift: float) -> list[Reading]:
    """What instruments without error read: k and chip voltage at places, L, R and Q of both coils."""
    frequency, omega = found.candidate.frequency, 2.0 * pi * found.candidate.frequency
    base = found.coils.base
    readings = []
    for line, (height, offset, tilt) in enumerate(PLACES, 2):
        up, out, lean = 1e-3 * height, 1e-3 * offset, radians(tilt)
        at = np.array([up + shift])
        mutual = found.coupling.grid(at, np.array([out]), np.array([lean])).mutual_inductance[:, 0, 0]
        tag = tag_circuit(found.candidate, found.coils, at)
        budget = link_budget(frequency, base_circuit(found.candidate, found.coils), tag, mutual)
        k = float(abs(mutual[0])) / sqrt(base.inductance * float(np.asarray(tag.inductance)[0]))
        values = {"coupling_coefficient": k, "chip_voltage": float(budget.chip_voltage[0])}
        readings.append(Reading(line, up, out, lean, values, None, 0.02))
    coils = {
        "base_inductance": base.inductance,
        "base_resistance": base.resistance,
        "tag_inductance": found.coils.tag.inductance,
        "tag_quality": omega * found.coils.tag.inductance / found.coils.tag.resistance,
    }
    readings.append(Reading(len(PLACES) + 2, values=coils, uncertainty=0.01))
    return readings


def noisy(readings: list[Reading], generator: np.random.Generator) -> tuple[Reading, ...]:
    """The readings off by their stated uncertainties, independently and lognormally."""
    return tuple(
        replace(one, values={name: value * _off(one, generator) for name, value in one.values.items()})
        for one in readings
    )


def _off(reading: Reading, generator: np.random.Generator) -> float:
    assert reading.uncertainty is not None
    draw: Array = generator.standard_normal(1)
    return float(np.exp(reading.uncertainty * draw[0]))
