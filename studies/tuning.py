"""How well base coil and tag are tuned: capacitors given, or exactly resonant where none is."""

from dataclasses import dataclass, replace

import numpy as np

from fem.arrays import Array
from links.circuits import BaseCircuit, TagCircuit
from links.resonance import off_tune_loss, relative_detuning
from studies.leads import apparent_base
from studies.rows import Row
from studies.solving import SolvedCoils
from studies.specification import Candidate, Capacitor, CapacitorSpecification

LEAST_LOSS = 0.5
"""What being off tune may cost without a word [dB]."""

FAR_OFF = 0.05
"""Share by which a tag is off tune from which on it is doubtful that its chip still replies on its tones (common
practice, no source: the two tones are a thirteenth apart)."""


@dataclass(frozen=True, slots=True)
class Tuning:
    """One side's capacitor.

    Parameters
    ----------
    capacitance, exact : float
        What is there, and what would tune the coil exactly [F].
    quality : float
        Of the loaded circuit [1].
    capacitor : CapacitorSpecification or None
        As given; None is tuned exactly.
    """

    capacitance: float
    exact: float
    quality: float
    capacitor: CapacitorSpecification | None

    @property
    def detuning(self) -> float:
        """(f0 − f)/f, positive where the circuit resonates above the working frequency [1]."""
        return relative_detuning(self.exact, self.capacitance)

    @property
    def loss(self) -> float:
        """What being off tune costs [dB], single pole."""
        return float(off_tune_loss(self.quality, self.detuning))

    @property
    def greatest_loss(self) -> float:
        """The same, anywhere in what the dielectric allows [dB]."""
        if self.capacitor is None:
            return self.loss
        ends = [relative_detuning(self.exact, end) for end in (self.capacitor.least, self.capacitor.greatest)]
        return max(self.loss, *(float(off_tune_loss(self.quality, end)) for end in ends))


def tuned_exactly(candidate: Candidate) -> Candidate:
    """The candidate without capacitors of its own: both sides are tuned exactly, the tag in free air."""
    return replace(candidate, coil=replace(candidate.coil, capacitor=None), tag=replace(candidate.tag, capacitor=None))


def _given(capacitor: Capacitor | None) -> CapacitorSpecification | None:
    """A capacitor that is there; one that is still to be chosen tunes exactly."""
    return capacitor if isinstance(capacitor, CapacitorSpecification) else None


def base_circuit(candidate: Candidate, coils: SolvedCoils) -> BaseCircuit:
    """The base coil as installed, as its reader sees it through a lead, with its capacitor, on its drive."""
    base, drive, capacitor = coils.base, candidate.drive, _given(candidate.coil.capacitor)
    apparent = apparent_base(candidate, base)
    return BaseCircuit(
        inductance=base.inductance if apparent is None else float(apparent.inductance),
        resistance=base.resistance if apparent is None else float(apparent.resistance),
        source_voltage=drive.source_voltage,
        source_resistance=drive.resistance,
        tuning=candidate.link.tuning,
        capacitance=None if capacitor is None else capacitor.capacitance,
        current_limit=drive.current_limit,
    )


def tag_circuit(candidate: Candidate, coils: SolvedCoils, heights: Array) -> TagCircuit:
    """The tag at ``heights`` with its one capacitor, as given or tuned in free air: what is near detunes it."""
    return TagCircuit(
        inductance=coils.tag_inductance(heights),
        resistance=coils.tag_resistance(heights, candidate.frequency),
        load_resistance=candidate.tag.chip.load_resistance,
        capacitance=tag_tuning(candidate, coils).capacitance,
    )


def base_tuning(candidate: Candidate, coils: SolvedCoils) -> Tuning:
    """The base coil's capacitor, no tag near."""
    circuit, frequency = base_circuit(candidate, coils), candidate.frequency
    return Tuning(
        float(circuit.tuning_capacitance(frequency)),
        float(replace(circuit, capacitance=None).tuning_capacitance(frequency)),
        float(circuit.loaded_quality_factor(frequency)),
        _given(candidate.coil.capacitor),
    )


def tag_tuning(candidate: Candidate, coils: SolvedCoils) -> Tuning:
    """The tag's capacitor, in free air."""
    tag, capacitor, frequency = coils.tag, _given(candidate.tag.capacitor), candidate.frequency
    free = TagCircuit(tag.inductance, tag.resistance, candidate.tag.chip.load_resistance)
    exact = float(free.tuning_capacitance(frequency))
    used = exact if capacitor is None else capacitor.capacitance
    return Tuning(used, exact, float(free.loaded_quality_factor(frequency)), capacitor)


def lowest_detuning(candidate: Candidate, coils: SolvedCoils) -> float:
    """How far the tag is off tune at the lowest place of the map [1]: the surroundings move its coil."""
    circuit = tag_circuit(candidate, coils, np.array([min(candidate.grid.heights)]))
    exact = replace(circuit, capacitance=None).tuning_capacitance(candidate.frequency)
    return relative_detuning(float(exact[0]), float(circuit.tuning_capacitance(candidate.frequency)))


def tuning_columns(candidate: Candidate, coils: SolvedCoils) -> Row:
    """Capacitors and how far each side is off tune; what a dielectric allows where one is given."""
    base, tag = base_tuning(candidate, coils), tag_tuning(candidate, coils)
    row: Row = {
        "tuning_capacitance_F": base.capacitance,
        "base_detuning": base.detuning,
        "tag_tuning_capacitance_F": tag.capacitance,
        "tag_detuning": tag.detuning,
        "tag_lowest_detuning": lowest_detuning(candidate, coils),
    }
    for start, side in (("", base), ("tag_", tag)):
        if side.capacitor is not None and side.capacitor.least < side.capacitor.greatest:
            row[f"{start}tuning_capacitance_least_F"] = side.capacitor.least
            row[f"{start}tuning_capacitance_greatest_F"] = side.capacitor.greatest
    return row


def tuning_remarks(candidate: Candidate, coils: SolvedCoils) -> list[str]:
    """Where a given capacitor is so far off that it costs something."""
    base, tag = base_tuning(candidate, coils), tag_tuning(candidate, coils)
    sides = (("base_coil.capacitor", base, "", ""), ("tag.capacitor", tag, " in free air", _reply(candidate, tag)))
    return [_remark(key, side, where) + more for key, side, where, more in sides if side.greatest_loss > LEAST_LOSS]


def _reply(candidate: Candidate, tag: Tuning) -> str:
    """What is taken of a reply whose tones lie far from the tag's own resonance."""
    if candidate.link.mode != "half-duplex" or abs(tag.detuning) < FAR_OFF:
        return ""
    return "; the reply is worked out as if its chip tuned it to each tone all the same"


def _remark(key: str, side: Tuning, where: str) -> str:
    given = side.capacitor
    assert given is not None, "a circuit tuned exactly loses nothing"
    at = f" at {given.temperature:g} degC" if given.dielectric else ""
    text = (
        f"{key}: {given.capacitance * 1e9:.4g} nF{at} where {side.exact * 1e9:.4g} nF would tune it: "
        f"{100.0 * side.detuning:+.2g} % off tune{where}, about {side.loss:.1f} dB lost"
    )
    if given.least == given.greatest or side.greatest_loss < side.loss + LEAST_LOSS:
        return text
    return (
        f"{text}; {given.dielectric or 'the tolerance'} allows {given.least * 1e9:.4g} to {given.greatest * 1e9:.4g} "
        f"nF there, up to {side.greatest_loss:.1f} dB lost"
    )
