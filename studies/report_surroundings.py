"""The report's section on what each layer and solid of the base design does to coupling and base coil."""

from dataclasses import dataclass
from typing import Any

from studies.engineering import engineering
from studies.info_records import from_info
from studies.surroundings import ALL_OF_THEM, Spiral, Surroundings, Taken


@dataclass(frozen=True, slots=True)
class SurroundingsShown:
    """What the page shows: a sentence that says it, a row for each body, a row for each state of a spiral heater."""

    finding: str
    place: str
    taken: tuple[tuple[str, ...], ...] = ()
    spirals: tuple[tuple[str, ...], ...] = ()


def surroundings_shown(info: dict[str, Any]) -> SurroundingsShown | None:
    """From ``run.json``; None where it says nothing yet."""
    kept = info.get("surroundings")
    if not kept:
        return None
    if "found" not in kept:
        return SurroundingsShown(f"The base design of the file could not be computed: {kept.get('fault', '')}", "")
    found = from_info(Surroundings, kept["found"], "surroundings")
    return SurroundingsShown(
        _finding(found), found.place, tuple(_row(found, one) for one in found.taken), tuple(map(_state, found.spirals))
    )


def _finding(found: Surroundings) -> str:
    if not found.taken:
        return "Nothing near the base coil conducts or is magnetic."
    single = [one for one in found.taken if one.name != ALL_OF_THEM]
    costliest = max(single, key=lambda one: -(one.coupling_change_dB or 0.0))
    lossiest = max(single, key=lambda one: one.added_resistance_ohm)
    coupling = (
        f"At {found.place} no layer or solid takes more than the solves can tell from the coupling"
        if _within_error(costliest)
        else f"At {found.place} the {costliest.name} takes the most coupling, {_decibel(costliest)}"
    )
    added, total = lossiest.added_resistance_ohm, found.base_resistance_ohm
    return f"{coupling}; the {lossiest.name} adds the most to the base coil, {_ohms(added)} of {_ohms(total)}."


def _within_error(one: Taken) -> bool:
    return one.coupling_change_dB is None or -one.coupling_change_dB <= (one.coupling_change_error_dB or 0.0)


def _row(found: Surroundings, one: Taken) -> tuple[str, ...]:
    without = one.base_inductance_without_H
    return (
        one.name,
        _decibel(one),
        _ohms(one.added_resistance_ohm),
        _minus(f"{100.0 * (found.base_inductance_H / without - 1.0):+.2f} %"),
        f"{one.base_q_without:.3g} → {found.base_q:.3g}",
    )


def _decibel(one: Taken) -> str:
    if one.coupling_change_dB is None:
        return "no coupling there"
    return _minus(f"{one.coupling_change_dB:+.2f} ± {max(one.coupling_change_error_dB or 0.0, 0.01):.2g} dB")


def _minus(text: str) -> str:
    """A proper minus sign, and none before a zero."""
    return text.replace("-0.00 ", "0.00 ").replace("+0.00 ", "0.00 ").replace("-", "−")


def _state(one: Spiral) -> tuple[str, ...]:
    return (
        one.name,
        one.state + (", as designed" if one.as_designed else ""),
        engineering(one.mutual_inductance_H, "H"),
        f"{one.coupling_coefficient:.4g}",
        engineering(one.base_inductance_H, "H"),
        _ohms(one.base_resistance_ohm),
        f"{one.base_q:.3g}",
        _minus(f"{one.margin_dB:+.1f} dB"),
    )


def _ohms(resistance: float) -> str:
    return _minus(engineering(resistance, "Ω", 3))
