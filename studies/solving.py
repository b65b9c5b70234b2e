"""From one candidate to its coils: fields solved, whole turns found, resistances added up."""

from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np

from fem.base_solution import BaseProblem, BaseSolution, base_solution
from fem.coil_family import FamilyCoil
from fem.near_metal import AxisProblem, NearMetal, near_metal, near_metal_of
from fem.tag_solution import TagSolution, tag_solution
from fem.winding_resistance import WindingResistance, winding_resistance
from geometries.checks import design_faults
from geometries.constants import MAGNETIC_CONSTANT
from geometries.errors import GeometryError
from geometries.packing import largest_turns
from geometries.parts import part_constructions
from geometries.section import WindingSection
from geometries.tag import Tag
from geometries.winding_capacitance import winding_capacitance
from studies.asked_places import probe_heights, solved_heights
from studies.assembly_coil import probable_turns, winding_section
from studies.shared_field import shared_field
from studies.specification import Candidate, Correction, TagSpecification

BaseField = BaseSolution | FamilyCoil
"""The base coil's field, solved for by itself or taken from its family."""

SPREAD_ACCURACY = 5e-3
"""Accuracy of the other constructions that a stock part might have: their spread is far wider."""

SENSITIVITY_ROOM = 3.0
"""Factor that a stated sensitivity may lie from the computed one: beyond it, size and inductance contradict it."""

SECTION_TRIES = 3


@dataclass(frozen=True, slots=True, eq=False)
class SolvedBase:
    """The base coil as installed, no tag near.

    ``turns`` are whole, but where a guide looks between them (`rewound`). ``inductance`` [H], the parts of its
    ``winding`` resistance, ``reflected_resistance`` [Ω], ``self_resonance`` [Hz, an estimate] and what the field solve
    left per turn.
    """

    section: WindingSection
    turns: float
    inductance: float
    winding: WindingResistance
    reflected_resistance: float
    self_resonance: float
    field: BaseField

    @property
    def resistance(self) -> float:
        """Winding's own and reflected [Ω]."""
        return self.winding.total + self.reflected_resistance

    def resistance_error(self, frequency: float) -> float:
        """Estimated error that the field solve leaves in ``resistance`` [Ω]: of what is reflected, and of proximity."""
        reflected = 2.0 * pi * frequency * self.turns**2 * self.field.resistance_error
        return reflected + self.winding.proximity * self.field.field_square_error


@dataclass(frozen=True, slots=True, eq=False)
class SolvedTag:
    """The tag in free air.

    ``wire_resistance`` [Ω] is that of its winding (given or computed), ``spread`` the relative ± on M and k that
    an unknown construction leaves, ``added_resistance`` [Ω] what a stated correction says.
    """

    tag: Tag
    inductance: float
    wire_resistance: float
    core_resistance: float
    spread: float
    field: TagSolution
    added_resistance: float = 0.0

    @property
    def resistance(self) -> float:
        """Winding, core loss and what a correction adds, together [Ω]."""
        return self.wire_resistance + self.core_resistance + self.added_resistance


@dataclass(frozen=True, slots=True, eq=False)
class SolvedCoils:
    """Both coils and what lies near the tag."""

    base: SolvedBase
    tag: SolvedTag
    near: NearMetal

    def tag_inductance(self, heights: np.ndarray) -> np.ndarray:
        """L of the tag at heights [m] above the plate [H]."""
        change = self.near.linkage_change(heights).real
        return np.asarray(self.tag.inductance + self.tag.tag.turns**2 * change)

    def tag_resistance(self, heights: np.ndarray, frequency: float) -> np.ndarray:
        """R of the tag at heights [m] above the plate [Ω]."""
        change = self.near.linkage_change(heights).imag
        return np.asarray(self.tag.resistance - 2.0 * pi * frequency * self.tag.tag.turns**2 * change)


def solved_coils(candidate: Candidate) -> SolvedCoils:
    """Solve a candidate's fields.

    Raises
    ------
    GeometryError, MeshingError, FieldError
        Where it cannot be built, meshed or solved.
    """
    tag = solved_tag(candidate.tag, candidate.frequency, 0.5 * candidate.accuracy)
    base = solved_base(candidate)
    lowest, highest = solved_heights(candidate)
    problem = AxisProblem(
        candidate.stack,
        base.section,
        field_tag(tag.tag),
        candidate.frequency,
        candidate.accuracy,
        lowest,
        highest,
    )
    if isinstance(base.field, FamilyCoil):
        return SolvedCoils(base, tag, near_metal_of(problem, base.field.linkages))
    return SolvedCoils(base, tag, near_metal(problem))


def solved_base(candidate: Candidate) -> SolvedBase:
    """The base coil; whole turns follow from a wanted inductance, and then the section from the turns."""
    coil = candidate.coil
    turns = float(coil.turns) if coil.turns is not None else probable_turns(coil)
    for _ in range(SECTION_TRIES):
        section = winding_section(coil, candidate.stack, turns)
        field = base_field(candidate, section)
        found = coil.turns if coil.turns is not None else _whole_turns(coil.inductance, field)
        if coil.radial_build is not None or found <= largest_turns(section, coil.wire.overall_diameter):
            break
        turns = float(found)
    faults = design_faults(candidate.stack, section, coil.wire, found)
    if faults:
        raise faults[0]
    return rewound(candidate, section, found, field)


def base_field(candidate: Candidate, section: WindingSection) -> BaseField:
    """The field of a winding in its surroundings, by itself or from what its kind share, as the candidate says."""
    if candidate.formulation == "reaction field":
        shared = shared_field(candidate, nominal_tag(candidate.tag), section)
        if shared is not None:
            return shared
    return base_solution(base_problem(candidate, section))


def nominal_tag(tag: TagSpecification) -> Tag:
    """The tag as constructed, or a stock part's nominal construction."""
    if tag.construction is not None:
        return tag.construction
    assert tag.part is not None, "a tag is a construction or a part"
    return part_constructions(tag.part)[0]


def base_problem(candidate: Candidate, section: WindingSection) -> BaseProblem:
    """What a winding's total field is solved for."""
    accuracy = 0.5 * candidate.accuracy
    return BaseProblem(candidate.stack, section, candidate.frequency, accuracy, probe_heights(candidate))


def _whole_turns(inductance: float | None, field: BaseField) -> int:
    assert inductance is not None, "a base coil has turns or an inductance"
    return max(1, round(sqrt(inductance / field.flux_linkage.real)))


def rewound(candidate: Candidate, section: WindingSection, turns: float, field: BaseField) -> SolvedBase:
    """The base coil with so many turns in its section, whole or not: the field of one turn serves them all."""
    wire = candidate.coil.wire
    inductance = turns**2 * field.flux_linkage.real
    return SolvedBase(
        section,
        turns,
        inductance,
        winding_resistance(section, turns, wire, candidate.frequency, field.field_square_length),
        0.0 - 2.0 * pi * candidate.frequency * turns**2 * field.flux_linkage.imag,  # no loss is 0, never −0
        1.0 / (2.0 * pi * sqrt(inductance * winding_capacitance(section, wire))),
        field,
    )


def solved_tag(tag: TagSpecification, frequency: float, accuracy: float) -> SolvedTag:
    """The tag alone: by its construction, or a stock part as its nominal construction with the spread of the others."""
    if tag.construction is not None:
        built = tag.construction
        solved = _solved_construction(built, built.turns, frequency, accuracy)
    else:
        solved = _solved_part(tag, frequency, accuracy)
    if tag.sensitivity is not None:
        cold = _field_of(cold_tag(solved.tag, tag), frequency, accuracy)
        solved = _scaled_to_sensitivity(solved, cold, tag, frequency)
    return solved if tag.correction is None else _corrected(solved, tag.correction)


def _corrected(solved: SolvedTag, correction: Correction) -> SolvedTag:
    """L, k and R with what is fixed to the tag; M goes as k √L."""
    moments = solved.field.moments.times(correction.coupling * sqrt(correction.inductance))
    return replace(
        solved,
        inductance=correction.inductance * solved.inductance,
        field=replace(solved.field, moments=moments),
        added_resistance=correction.added_resistance,
    )


def cold_tag(tag: Tag, specification: TagSpecification) -> Tag:
    """The same tag with its core at 20 °C, where what a data sheet says of it holds."""
    if tag.core is None or specification.cold_core is None:
        return tag
    return replace(tag, core=replace(tag.core, material=specification.cold_core))


def field_tag(tag: Tag) -> Tag:
    """Turns, wire and resistance play no part in the field: left out, so that such candidates share one solve."""
    return replace(tag, turns=1.0, series_resistance=None, wire=None)


def _field_of(tag: Tag, frequency: float, accuracy: float) -> TagSolution:
    return tag_solution(field_tag(tag), frequency, accuracy)


def _solved_construction(tag: Tag, turns: float, frequency: float, accuracy: float) -> SolvedTag:
    field = _field_of(tag, frequency, accuracy)
    tag = replace(tag, turns=turns)
    if tag.series_resistance is not None:
        wire_resistance = tag.series_resistance
    else:
        assert tag.wire is not None, "a tag has a wire or a series resistance"
        parts = winding_resistance(tag.section, turns, tag.wire, frequency, field.field_square_length)
        wire_resistance = parts.total
    return SolvedTag(
        tag,
        turns**2 * field.flux_linkage.real,
        wire_resistance,
        0.0 - 2.0 * pi * frequency * turns**2 * field.flux_linkage.imag,
        0.0,
        field,
    )


def _solved_part(tag: TagSpecification, frequency: float, accuracy: float) -> SolvedTag:
    assert tag.part is not None, "a tag is a construction or a part"
    nominal, *others = part_constructions(tag.part)
    inductance = tag.part.inductance

    def coupling(field: TagSolution) -> float:
        return float(abs(field.moments.moments[0]) / sqrt(field.flux_linkage.real))

    bare = replace(cold_tag(nominal, tag), shield=None)  # as the data sheet gives its inductance
    field, cold = (_field_of(one, frequency, accuracy) for one in (nominal, bare))
    solved = _solved_construction(nominal, sqrt(inductance / cold.flux_linkage.real), frequency, accuracy)
    loose = max(accuracy, SPREAD_ACCURACY)
    ratios = [coupling(_field_of(other, frequency, loose)) / coupling(field) for other in others]
    return replace(solved, spread=max(abs(ratio - 1.0) for ratio in ratios))


def _scaled_to_sensitivity(solved: SolvedTag, cold: TagSolution, tag: TagSpecification, frequency: float) -> SolvedTag:
    """The moments scaled so that the open coil, cold, gives the stated voltage per A/m, whatever it is made of."""
    assert tag.sensitivity is not None, "only called with a sensitivity"
    stated = tag.sensitivity / (2.0 * pi * (tag.sensitivity_frequency or frequency) * MAGNETIC_CONSTANT)
    computed = abs(cold.moments.moments[0]) * solved.tag.turns
    if not 1.0 / SENSITIVITY_ROOM < stated / computed < SENSITIVITY_ROOM:
        raise GeometryError(
            "tag.sensitivity",
            f"it is {stated / computed:.2g} times what a coil of this inductance and size comes to; within a factor of "
            f"{SENSITIVITY_ROOM:g} is possible",
        )
    field = replace(solved.field, moments=solved.field.moments.times(stated / computed))
    return replace(solved, field=field, spread=0.0)
