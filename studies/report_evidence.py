"""The report's section on how far the numbers can be trusted, from what the run found on its base design."""

from dataclasses import dataclass
from typing import Any

from studies.engineering import engineering, millimetres
from studies.evidence import Evidence, Formulations, Identities, SharedSolve
from studies.info_records import from_info


@dataclass(frozen=True, slots=True)
class Twice:
    """A quantity computed in two ways, and what their difference says."""

    name: str
    first: str
    second: str
    difference: str
    meaning: str


@dataclass(frozen=True, slots=True)
class EvidenceShown:
    """What the page shows: a sentence that says it, and a row for each quantity."""

    finding: str
    rows: tuple[Twice, ...] = ()


def evidence_shown(info: dict[str, Any]) -> EvidenceShown | None:
    """From ``run.json``; None where it says nothing yet."""
    kept = info.get("evidence")
    if not kept:
        return None
    if "found" not in kept:
        return EvidenceShown(
            f"Nothing to show: the base design of the file could not be computed ({kept.get('fault', '')})."
        )
    found = from_info(Evidence, kept["found"], "evidence")
    rows = (*_accuracy_rows(found.accuracy_evidence), *_shared_rows(found.shared), *_code_rows(found.code_tests))
    return EvidenceShown(_finding(found), rows)


def warnings_of(info: dict[str, Any]) -> tuple[str, ...]:
    """What the run warns of in its base design; nothing where that could not be computed."""
    found = (info.get("evidence") or {}).get("found")
    return tuple(from_info(Evidence, found, "evidence").warnings) if found else ()


def _finding(found: Evidence) -> str:
    both = found.accuracy_evidence
    worst = max(abs(both.inductance_rel_difference), both.field_rel_difference)
    within = worst <= both.accuracy
    words = "within" if within else "NOT within"
    return (
        f"Two formulations of the field, one with the base coil meshed and one with its field in closed form, agree on "
        f"inductance and field to {_share(worst)}: {words} the wanted accuracy of {_share(both.accuracy)}. That is "
        "evidence of accuracy; the tests of the code would hold on the coarsest mesh."
    )


def _accuracy_rows(both: Formulations) -> tuple[Twice, ...]:
    stated = both.stated_reflected_resistance_error_ohm
    apart = both.reaction_reflected_resistance_ohm - both.total_reflected_resistance_ohm
    return (
        Twice(
            f"Field on the axis {millimetres(both.height_m)} up, per ampere-turn: total field, reaction field",
            engineering(both.total_axial_field_T_per_A, "T", 6),
            engineering(both.reaction_axial_field_T_per_A, "T", 6),
            _share(both.field_rel_difference),
            f"Accuracy evidence: the two solves state ±{_share(both.stated_field_rel_error)} together.",
        ),
        Twice(
            "Base inductance: total field, reaction field",
            engineering(both.total_inductance_H, "H", 6),
            engineering(both.reaction_inductance_H, "H", 6),
            _share(both.inductance_rel_difference),
            f"Accuracy evidence: they state ±{_share(both.stated_inductance_rel_error)} together.",
        ),
        Twice(
            "Reflected resistance: total field, reaction field",
            engineering(both.total_reflected_resistance_ohm, "Ω", 4),
            engineering(both.reaction_reflected_resistance_ohm, "Ω", 4),
            engineering(abs(apart), "Ω", 3),
            f"Accuracy evidence: they state ±{engineering(stated, 'Ω', 2)} together.",
        ),
    )


def _shared_rows(shared: SharedSolve | None) -> tuple[Twice, ...]:
    if shared is None:
        return ()
    which = f"one factorisation for all windings {shared.coils}"
    own = shared.inductance_H / (1.0 + shared.inductance_rel_difference)
    resistance = engineering(shared.reflected_resistance_difference_ohm, "Ω", 3)
    return (
        Twice(
            "Base inductance: total field, as the sweep's coils are solved",
            engineering(own, "H", 6),
            engineering(shared.inductance_H, "H", 6),
            _share(shared.inductance_rel_difference),
            f"Accuracy evidence, {which}: they state ±{_share(shared.stated_inductance_rel_error)} together. The field "
            f"on the axis differs by {_share(shared.field_rel_difference)} (±{_share(shared.stated_field_rel_error)}), "
            f"the reflected resistance by {resistance} "
            f"(±{engineering(shared.stated_reflected_resistance_error_ohm, 'Ω', 2)}).",
        ),
    )


def _code_rows(tests: Identities) -> tuple[Twice, ...]:
    bound = "equal to 10⁻⁹ on any mesh"
    return (
        Twice(
            "Mutual inductance: base to tag, tag to base",
            engineering(tests.mutual_inductance_base_to_tag_H, "H", 6),
            engineering(tests.mutual_inductance_tag_to_base_H, "H", 6),
            _relative(tests.reciprocity_rel_difference),
            f"Test of the code: reciprocity; {bound}.",
        ),
        Twice(
            "Base inductance: flux linkage, stored energy",
            engineering(tests.inductance_by_flux_linkage_H, "H", 6),
            engineering(tests.inductance_by_energy_H, "H", 6),
            _relative(tests.energy_rel_difference),
            f"Test of the code: energy; {bound}.",
        ),
        Twice(
            "Reflected resistance: power taken in, losses added up",
            engineering(tests.resistance_by_input_power_ohm, "Ω", 6),
            engineering(tests.resistance_by_losses_ohm, "Ω", 6),
            _relative(tests.loss_rel_difference),
            f"Test of the code: loss; {bound}. As in the two rows above, one turn each and the tag "
            f"{millimetres(tests.height_m)} up on the axis.",
        ),
    )


def _share(value: float) -> str:
    return f"{100.0 * abs(value):.2g} %"


def _relative(value: float) -> str:
    """A tiny relative difference."""
    return "none" if value == 0.0 else f"{value:.0e}"
