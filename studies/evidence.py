"""How far a run's numbers can be trusted, on its own base design (DESIGN 4.6, 4.7).

Two formulations that share little but the elements are evidence of accuracy. Reciprocity, and inductance and loss by
fields, follow from the symmetric matrix whatever the mesh: they are tests of the code, and are called so.
"""

from dataclasses import asdict, dataclass, replace
from math import pi
from typing import Any

import numpy as np

from fem.balances import linkage_by_energy
from fem.base_solution import BaseSolution
from fem.coil_family import FamilyCoil
from fem.elements import Elements
from fem.errors import AccuracyError
from fem.model import joined, stack_model, tag_model
from fem.reaction_field import ReactionProblem, ReactionSolution, reaction_solution
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, COARSE_CORNER, TAG_WINDING, axis_plan
from geometries.section import WindingSection
from geometries.tag import Tag
from studies.asked_places import probe_heights, reference_places
from studies.engineering import millimetres
from studies.solving import SolvedBase, base_field, field_tag, solved_base, solved_tag
from studies.specification import Candidate

REACTION_SHARES = (0.05, 0.5)
"""Shares of the wanted accuracy to which the reaction field is solved, the first that can be met: a tenth of the total
field's, so that what they differ by is the total field's error."""

IDENTITY_BOUND = 1e-9
"""What rounding leaves of an identity, relative."""


@dataclass(frozen=True, slots=True)
class Formulations:
    """The base coil as installed by both formulations: accuracy evidence.

    The field is that of one ampere in one turn, on the axis at ``height_m``. ``stated_…`` is what both say of their own
    errors, added up: relative for L and the field, [Ω] for the reflected resistance.
    """

    total_inductance_H: float  # noqa: N815 - units as in run.json
    reaction_inductance_H: float  # noqa: N815
    inductance_rel_difference: float
    stated_inductance_rel_error: float
    total_reflected_resistance_ohm: float
    reaction_reflected_resistance_ohm: float
    stated_reflected_resistance_error_ohm: float
    height_m: float
    total_axial_field_T_per_A: float  # noqa: N815
    reaction_axial_field_T_per_A: float  # noqa: N815
    field_rel_difference: float
    stated_field_rel_error: float
    accuracy: float


@dataclass(frozen=True, slots=True)
class Identities:
    """What the symmetric matrix makes equal, base coil and tag on one axis and one turn each: tests of the code."""

    height_m: float
    mutual_inductance_base_to_tag_H: float  # noqa: N815
    mutual_inductance_tag_to_base_H: float  # noqa: N815
    reciprocity_rel_difference: float
    inductance_by_flux_linkage_H: float  # noqa: N815
    inductance_by_energy_H: float  # noqa: N815
    energy_rel_difference: float
    resistance_by_input_power_ohm: float
    resistance_by_losses_ohm: float
    loss_rel_difference: float


@dataclass(frozen=True, slots=True)
class SharedSolve:
    """The base coil as the sweep's coils are solved, all from one factorisation, beside its own total field.

    ``coils`` says for what windings that factorisation serves: their radii and heights.
    """

    inductance_H: float  # noqa: N815
    inductance_rel_difference: float
    stated_inductance_rel_error: float
    reflected_resistance_ohm: float
    reflected_resistance_difference_ohm: float
    stated_reflected_resistance_error_ohm: float
    axial_field_T_per_A: float  # noqa: N815
    field_rel_difference: float
    stated_field_rel_error: float
    coils: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """All, and what to warn of; ``shared`` where the sweep's coils are solved together and the base coil can be."""

    accuracy_evidence: Formulations
    code_tests: Identities
    warnings: tuple[str, ...]
    shared: SharedSolve | None = None

    def record(self) -> dict[str, Any]:
        """As it stands in ``run.json``."""
        return asdict(self)


def evidence(candidate: Candidate) -> Evidence:
    """Solve a candidate's base coil both ways, and hold the code's identities against each other.

    Raises
    ------
    GeometryError, MeshingError, FieldError
        Where it cannot be computed.
    """
    base = solved_base(replace(candidate, formulation="total field"))
    formulations = _formulations(candidate, base)
    shared = _shared_solve(candidate, base) if candidate.formulation == "reaction field" else None
    tag = solved_tag(candidate.tag, candidate.frequency, 0.5 * candidate.accuracy).tag
    identities = _identities(candidate, base.section, tag)
    warnings = evidence_warnings(formulations, identities) + shared_warnings(shared, candidate.accuracy)
    return Evidence(formulations, identities, warnings, shared)


def _formulations(candidate: Candidate, base: SolvedBase) -> Formulations:
    accuracy, frequency = candidate.accuracy, candidate.frequency
    height = reference_places(candidate)[0].height
    reaction, total = _reaction(candidate, base.section, height), base.field
    assert isinstance(total, BaseSolution), "solved by its total field"
    by_reaction = complex(reaction.axial_fields[0, 0])
    by_sources = complex(sum(rings.axial_flux_density(np.array([height]))[0] for rings in total.sources))
    linkage, squared = complex(reaction.flux_linkages[0]), float(base.turns) ** 2
    ohms = 2.0 * pi * frequency * squared
    return Formulations(
        base.inductance,
        squared * linkage.real,
        linkage.real / total.flux_linkage.real - 1.0,
        total.inductance_error + float(reaction.inductance_errors[0]) / linkage.real,
        base.reflected_resistance,
        0.0 - ohms * linkage.imag,
        ohms * (total.resistance_error + float(reaction.resistance_errors[0])),
        height,
        abs(by_sources),
        abs(by_reaction),
        _relative(by_sources, by_reaction),
        max(total.field_errors) + float(reaction.field_errors[0, 0]) / abs(by_reaction),
        accuracy,
    )


def _shared_solve(candidate: Candidate, base: SolvedBase) -> SharedSolve | None:
    total, shared = base.field, base_field(candidate, base.section)
    if not isinstance(shared, FamilyCoil):
        return None
    assert isinstance(total, BaseSolution), "solved by its total field"
    height = probe_heights(candidate)[0]
    fields = (
        complex(sum(rings.axial_flux_density(np.array([height]))[0] for rings in total.sources)),
        complex(shared.weights @ shared.family.axial_fields[:, 0]),
    )
    squared, cell = float(base.turns) ** 2, shared.family.problem.cell
    ohms = 0.0 - 2.0 * pi * candidate.frequency * squared
    return SharedSolve(
        squared * shared.flux_linkage.real,
        shared.flux_linkage.real / total.flux_linkage.real - 1.0,
        total.inductance_error + shared.inductance_error,
        0.0 + ohms * shared.flux_linkage.imag,
        abs(ohms * (shared.flux_linkage.imag - total.flux_linkage.imag)),
        abs(ohms) * (total.resistance_error + shared.resistance_error),
        abs(fields[1]),
        _relative(*fields),
        total.field_errors[0] + shared.field_errors[0],
        f"{millimetres(cell.inner_radius)} to {millimetres(cell.outer_radius)} from the axis, {millimetres(-cell.top)} "
        f"to {millimetres(-cell.bottom)} below the plate's top",
    )


def shared_warnings(shared: SharedSolve | None, accuracy: float) -> tuple[str, ...]:
    """A sentence for each difference between shared solve and total field that is larger than it may be."""
    if shared is None:
        return ()
    found = []
    for what, difference in (
        ("inductance", abs(shared.inductance_rel_difference)),
        ("field on the axis", shared.field_rel_difference),
    ):
        if difference > accuracy:
            found.append(
                f"the base design's {what} differs by {100.0 * difference:.2g} % between the coils' shared solve "
                f"and one of its own, more than the wanted accuracy of {100.0 * accuracy:.2g} %: "
                'study.formulation = "total field" solves each coil by itself'
            )
    return tuple(found)


def _reaction(candidate: Candidate, section: WindingSection, height: float) -> ReactionSolution:
    tight, loose = (
        ReactionProblem(candidate.stack, (section,), candidate.frequency, share * candidate.accuracy, (height,))
        for share in REACTION_SHARES
    )
    try:
        return reaction_solution(tight)
    except AccuracyError:
        return reaction_solution(loose)


def _identities(candidate: Candidate, section: WindingSection, tag: Tag) -> Identities:
    height, frequency = reference_places(candidate)[0].height, candidate.frequency
    alone = field_tag(tag)
    mesh = section_mesh(axis_plan(candidate.stack, section, alone, height, frequency, COARSE_CORNER))
    system = System(Elements(mesh, 2), joined(stack_model(candidate.stack, frequency), tag_model(alone, frequency)))
    windings = ((BASE_WINDING, section.area), (TAG_WINDING, tag.section.area))
    loads = np.stack([system.winding_load(*winding) for winding in windings], axis=1)
    potentials = system.solve(loads)
    linkages = 2.0 * pi / MAGNETIC_CONSTANT * (loads.T @ potentials)
    own, by_energy = complex(linkages[0, 0]), linkage_by_energy(system, potentials[:, 0])
    omega = 2.0 * pi * frequency
    return Identities(
        height,
        abs(complex(linkages[1, 0])),
        abs(complex(linkages[0, 1])),
        _relative(complex(linkages[1, 0]), complex(linkages[0, 1])),
        own.real,
        by_energy.real,
        _relative(own.real, by_energy.real),
        0.0 - omega * own.imag,
        0.0 - omega * by_energy.imag,
        _relative(own.imag, by_energy.imag),
    )


def _relative(first: complex, second: complex) -> float:
    """Their difference over the larger; two nothings agree."""
    largest = max(abs(first), abs(second))
    return abs(first - second) / largest if largest else 0.0


def evidence_warnings(formulations: Formulations, identities: Identities) -> tuple[str, ...]:
    """A sentence for each difference that is larger than it may be."""
    found = []
    wanted = f"{100.0 * formulations.accuracy:.2g} %"
    for what, difference in (
        ("inductance", abs(formulations.inductance_rel_difference)),
        ("field on the axis", formulations.field_rel_difference),
    ):
        if difference > formulations.accuracy:
            found.append(
                f"the base design's {what} differs by {100.0 * difference:.2g} % between total and reaction field, "
                f"more than the wanted accuracy of {wanted}: ask for a smaller study.accuracy"
            )
    apart = abs(formulations.total_reflected_resistance_ohm - formulations.reaction_reflected_resistance_ohm)
    if apart > formulations.stated_reflected_resistance_error_ohm:
        found.append(
            f"the base design's reflected resistance differs by {apart:.2g} Ω between total and reaction field, more "
            f"than the {formulations.stated_reflected_resistance_error_ohm:.2g} Ω that both state: ask for a smaller "
            "study.accuracy"
        )
    for name, value in (
        ("reciprocity", identities.reciprocity_rel_difference),
        ("inductance by energy", identities.energy_rel_difference),
        ("loss by fields", identities.loss_rel_difference),
    ):
        if value > IDENTITY_BOUND:
            found.append(f"a test of the code fails on the base design: {name} is off by {value:.1e}; please report it")
    return tuple(found)
