"""What ``trivet check`` says: the design as understood, how many there are, and what they will cost."""

from math import ceil
from pathlib import Path

from geometries.errors import GeometryError
from links.limits import field_limit_at_10_m, reference_level_public
from studies.engineering import engineering, millimetres
from studies.files import RESULTS
from studies.progress import duration
from studies.sharing import field_count, shared_field
from studies.sizing import disk_bytes, disk_fault
from studies.specification import Candidate, state_names
from studies.states import state_lines
from studies.study import Study
from studies.sweep import Value
from studies.vessel_places import beyond_the_map, in_vessels, refusal

SECONDS_A_FIELD = 3.0
"""Rough time of one base-coil field with its tag near metal, on one core of a small machine."""

SECONDS_A_CANDIDATE = 0.3
"""Rough time of one more candidate that shares its field with another."""

COUNTED = 500
"""Designs that are looked at, spread over the sweep; the fields of a larger one are told from its axes."""


NAMED = 5
"""Impossible designs, and warnings of single designs, that are named."""


def check_lines(study: Study) -> list[str]:
    """The study in words."""
    base, grid = study.base, study.base.grid
    coil = base.coil
    wanted = (
        f"{coil.turns} turns"
        if coil.turns is not None
        else f"as many turns as {engineering(coil.inductance or 0.0, 'H')} takes"
    )
    places = len(grid.heights) * len(grid.offsets) * len(grid.tilts)
    lines = [
        f"{study.name}: {engineering(base.frequency, 'Hz')}, accuracy {base.accuracy:g}",
        f"Base coil: {wanted}, mean diameter {coil.mean_diameter * 1e3:.4g} mm, "
        f"under {coil.under or 'the plate surface'}",
        f"Stack: {', '.join(f'{layer.name} ({layer.kind})' for layer in base.stack.layers) or 'no layers'}"
        + "".join(f", {solid.name}" for solid in base.stack.solids),
        f"Map: {len(grid.heights)} heights × {len(grid.offsets)} offsets × {len(grid.tilts)} tilts, "
        f"{places} places a design",
    ]
    for key, values in study.axes:
        lines.append(f"Swept: {key}, {_extent(values, study.sampling is not None)}")
    if study.sampling is not None:
        lines.append(f"Sampled: {study.sampling.text}")
    lines += state_lines(study.states)
    if base.states:
        lines.append(f"Judged in each of {len(base.states) + 1} states: {', '.join(state_names(base))}")
    lines += _vessel_lines(base)
    fields, impossible, warned = _surveyed(study)
    seconds = fields * SECONDS_A_FIELD + study.count * (1 + len(base.states)) * SECONDS_A_CANDIDATE
    size = disk_bytes(study.count, places)
    lines.append(
        f"Designs: {study.count}, {fields} field{'s' * (fields > 1)} to solve; about {duration(seconds)} on one core, "
        f"{engineering(float(size), 'B', 3)} on disk"
    )
    short = disk_fault(study.count, places, RESULTS)
    lines += [] if short is None else [f"Warning: {short}"]
    lines += [f"Impossible: {text}" for text in _few(impossible)]
    unknown = _unknown_limits(base.frequency)
    lines += [f"Warning: {text}" for text in (*unknown, *base.warnings, *_few(warned, "warnings"))]
    lines += [f"Assumed: {a.key} = {a.value} ({a.reason})" for a in base.assumptions]
    return lines


def _vessel_lines(base: Candidate) -> list[str]:
    """Where the puck brings the tag in each vessel, or why it does not get in."""
    if base.puck is None:
        return []
    lines = []
    for one in in_vessels(base):
        said = refusal(base.puck, one.vessel)
        if not said:
            wider = beyond_the_map(base, one.vessel)
            said = f"tag {millimetres(one.held[0].height)} up" + (f"; {wider}" if wider else "")
        lines.append(f"Vessel {one.vessel.name}: {said}")
    return lines


def _unknown_limits(frequency: float) -> tuple[str, ...]:
    """What the field of a run cannot be held against."""
    missing = {
        "limit of the field at 10 m": field_limit_at_10_m(frequency),
        "reference level of exposure": reference_level_public(frequency),
    }
    at = engineering(frequency, "Hz")
    return tuple(f"no {what} is known here at {at}" for what, known in missing.items() if known is None)


def _extent(values: tuple[Value, ...], sampled: bool) -> str:
    if not sampled:
        return f"{len(values)} values from {values[0]} to {values[-1]}"
    numbers = [value for value in values if not isinstance(value, str)]
    if len(numbers) == len(values):
        return f"from {min(numbers):.6g} to {max(numbers):.6g}"
    return f"among {', '.join(sorted({str(value) for value in values}))}"


def _surveyed(study: Study) -> tuple[int, list[str], list[str]]:
    """How many fields the sweep takes, which of the designs looked at cannot be built, and what others warn of.

    A warning of the base design's is left out; any other stands once, with the first design that has it.
    """
    fields, impossible = set(), []
    warned: dict[str, list[str]] = {}
    for index in range(0, study.count, ceil(study.count / COUNTED)):
        name = study.design_name(index)
        try:
            candidate = study.candidate(index)
        except GeometryError as fault:
            impossible.append(f"{name}: {fault}")
            continue
        fields |= {shared_field(one) for one in (candidate, *candidate.states)}
        for text in candidate.warnings:
            warned.setdefault(text, []).append(name)
    told = [
        f"{designs[0]}{f' and {len(designs) - 1} more' if len(designs) > 1 else ''}: {text}"
        for text, designs in warned.items()
        if text not in study.base.warnings
    ]
    return len(fields) if study.count <= COUNTED else field_count(study), impossible, told


def _few(texts: list[str], what: str = "designs") -> list[str]:
    more = len(texts) - NAMED
    return texts if more <= 0 else [*texts[:NAMED], f"and {more} more {what}"]


def draw_study(study: Study, path: Path | None) -> Path:
    """Draw the base design's section, to ``path`` or beside the study's runs."""
    from studies.drawing import save_section
    from studies.outputs import check_target

    place = path or RESULTS / study.name / "section.svg"
    check_target(place, study.path, option="--drawing")
    save_section(study.base, place)
    return place
