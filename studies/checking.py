"""What ``trivet check`` says: the design as understood, how many there are, and what they will cost."""

from pathlib import Path

from studies.progress import duration
from studies.sizing import map_bytes
from studies.store import ROOT
from studies.study import Study
from studies.texts import engineering

SECONDS_A_FIELD = 3.0
"""Rough time of one base-coil field with its tag near metal, on one core of a small machine."""

SECONDS_A_CANDIDATE = 0.3
"""Rough time of one more candidate that shares its field with another."""

COUNTED = 2000
"""Designs up to which the different fields are counted; beyond, every design is taken to need its own."""


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
        lines.append(f"Swept: {key}, {len(values)} values from {values[0]} to {values[-1]}")
    fields = _fields(study)
    seconds = fields * SECONDS_A_FIELD + study.count * SECONDS_A_CANDIDATE
    size = map_bytes(study.count, places)
    lines.append(
        f"Designs: {study.count}, {fields} field{'s' * (fields > 1)} to solve; about {duration(seconds)} on one core, "
        f"{engineering(float(2 * size), 'B', 3)} on disk"
    )
    lines += [f"Impossible: {text}" for text in _impossible(study)]
    lines += [f"Warning: {text}" for text in base.warnings]
    lines += [f"Assumed: {a.key} = {a.value} ({a.reason})" for a in base.assumptions]
    return lines


def _fields(study: Study) -> int:
    if study.count > COUNTED:
        return study.count
    from studies.engine import plan

    return len(plan(study, Path("/nonexistent")).groups)


def _impossible(study: Study) -> list[str]:
    """Designs of the sweep that cannot be built, the first few by name."""
    from geometries.errors import GeometryError

    found = []
    for index in range(min(study.count, COUNTED)):
        try:
            study.candidate(index)
        except GeometryError as fault:
            found.append(f"{study.design_name(index)}: {fault}")
    if len(found) > 5:
        return [*found[:5], f"and {len(found) - 5} more designs"]
    return found


def draw_study(study: Study, path: Path | None) -> Path:
    """Draw the base design's section, to ``path`` or beside the study's runs."""
    from studies.drawing import save_section

    place = path or ROOT / study.name / "section.svg"
    place.parent.mkdir(parents=True, exist_ok=True)
    save_section(study.base, place)
    return place
