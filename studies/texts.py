"""Results as plain text for a terminal."""

from studies.engineering import engineering
from studies.rows import Row
from studies.stored import StoredDesign
from studies.swept import SweptAxis, phrase

PREFIXED = {
    "H": "H",
    "ohm": "Ω",
    "F": "F",
    "V": "V",
    "A": "A",
    "W": "W",
    "J": "J",
    "s": "s",
    "Hz": "Hz",
    "m": "m",
    "T": "T",
}
"""Endings of column names whose values take an SI prefix."""

SCALED = {
    "dB": ("dB", 1.0),
    "m2": ("cm²", 1e4),
    "A_per_m2": ("A/mm²", 1e-6),
    "A_per_m": ("µA/m", 1e6),
    "kg": ("g", 1e3),
    "spread": ("%", 100.0),
    "detuning": ("%", 100.0),
    "degC": ("°C", 1.0),
}
"""Endings whose values take another unit, and the factor to it."""

ENDINGS = sorted((*PREFIXED, *SCALED), key=len, reverse=True)

ERROR = "_rel_error"
HEADINGS = DESIGN, BASE, TAG, DRIVEN, WIRE, LINK, MESHES = (
    "Design",
    "Base coil, as installed",
    "Tag, in free air unless said otherwise",
    "Drive: the greatest, with and without the tag",
    "The base coil's wire and what it stands",
    "Link, at the worst of the places asked for",
    "Meshes",
)
DRIVE = (
    "base_current", "source_current", "drive_", "coil_voltage", "capacitor_", "input_", "third_harmonic", "supply_",
    "field_at", "flux_density",
)  # fmt: skip
WIRED = (
    "volts_per_turn", "most_volts", "neighbour_turns", "worst_neighbour", "wire_", "current_density", "bend_radius",
    "least_bend",
)  # fmt: skip


def row_lines(row: Row) -> list[str]:
    """A design's numbers under headings, a line each: name, value, unit, and its estimated error where it has one."""
    shown = {name: value for name, value in row.items() if value not in (None, "") and not name.endswith(ERROR)}
    width = max(len(_name(name)) for name in shown)
    lines: list[str] = []
    for heading in HEADINGS:
        members = [name for name in shown if _heading(name) == heading]
        lines += ["", heading] if lines and members else [heading][: len(members)]
        lines += [f"  {_name(name):<{width}}  {_value(name, shown[name])}{_error(name, row)}" for name in members]
    return lines


def _heading(name: str) -> str:
    if name.startswith(("mesh_", "tag_mesh_")):
        return MESHES
    if name.startswith(DRIVE):
        return DRIVEN
    if name.startswith(WIRED):
        return WIRE
    if name.startswith(("base_", "tuning_")):
        return BASE
    if name.startswith("tag_"):
        return TAG
    return DESIGN if name == "design" or "." in name else LINK


def _error(name: str, row: Row) -> str:
    error = row.get(_name(name).replace(" ", "_") + ERROR)
    return f"  ± {100.0 * error:.2g} %" if isinstance(error, float) else ""


def _ending(name: str) -> str | None:
    return next((ending for ending in ENDINGS if name.endswith(f"_{ending}")), None)


def _name(name: str) -> str:
    ending = _ending(name)
    return (name if ending in (None, "spread", "detuning") else name.removesuffix(f"_{ending}")).replace("_", " ")


def _value(name: str, value: float | int | str | bool | None) -> str:
    ending = _ending(name)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, float):
        return str(value)
    if ending in PREFIXED:
        return engineering(value, PREFIXED[ending])
    unit, factor = SCALED.get(ending or "", ("", 1.0))
    return f"{value * factor:.4g} {unit}".rstrip()


def candidate_lines(designs: tuple[StoredDesign, ...], axes: tuple[SweptAxis, ...]) -> list[str]:
    """One line a candidate: name, verdict, swept values and what it misses."""
    lines = []
    for stored in designs:
        if stored.status == "failed":
            word, rest = "failed", stored.message
        elif stored.passed:
            word, rest = "pass", f"margin {stored.row['margin_dB']:.1f} dB"
        else:
            word, rest = "fail", stored.failures[0].sentence
        lines.append(f"{stored.design}  {word:<6}  {': '.join(part for part in (phrase(axes, stored), rest) if part)}")
    return lines
