"""The tables of a run, every candidate's numbers side by side: designs, verdicts, states, vessels (CSV) and maps."""

import csv
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, replace
from math import prod
from pathlib import Path
from typing import Any

import h5netcdf
import h5py
import numpy as np

from fem.tag_solution import MOMENT_COUNT
from links.cautions import CALCULATION_ONLY
from studies.files import whole_file
from studies.pieces import Content, states_in, vessels_in
from studies.rows import Row
from studies.sink import Sink
from studies.sizing import BYTES_EACH, map_bytes
from studies.store import piece_path
from studies.stored import Run, StoredDesign
from studies.verdict import SI_UNITS, Check

VERDICT_COLUMNS = ("design", "requirement", "bound", "required", "got", "unit", "verdict", "spare", "where")

MAP_VARIABLES = {
    "mutual_inductance_re": ("H", "mutual inductance, real part, lean outward in the plane of the offset"),
    "mutual_inductance_im": ("H", "mutual inductance, imaginary part, lean outward in the plane of the offset"),
    "worst_mutual_inductance_re": ("H", "mutual inductance of least magnitude over all lean directions, real part"),
    "worst_mutual_inductance_im": (
        "H",
        "mutual inductance of least magnitude over all lean directions, imaginary part",
    ),
    "mutual_inductance_error": ("H", "estimated error of the mutual inductance"),
    "coupling_coefficient": ("1", "coupling coefficient, lean outward"),
    "chip_voltage": ("V", "peak chip voltage without clamp, lean outward"),
    "margin": ("dB", "link margin, lean outward"),
    "worst_margin": ("dB", "link margin, worst over all lean directions and states"),
}
HEIGHT_VARIABLES = {
    "tag_inductance": ("H", "tag inductance, upright on the axis"),
    "tag_resistance": ("ohm", "tag resistance, upright on the axis"),
    "map_correction_re": ("1", "factor on the mutual inductance for what is near the tag, real part"),
    "map_correction_im": ("1", "factor on the mutual inductance for what is near the tag, imaginary part"),
}
PLACES = ("heights", "offsets", "tilts")
_BY_DESIGN = (*MAP_VARIABLES, *HEIGHT_VARIABLES, "axial_moment_re", "axial_moment_im", "axial_moment_scale")

LARGEST_BLOCK = 256
BLOCK_BYTES = 50_000_000
"""Candidates written to the maps at once: at most so many, and about so large [bytes]."""

CHUNK_BYTES = 65536
"""About what is read at a time from the maps [bytes]; a map of more is read whole."""

FIRST = ("design",)
LAST = ("status", "message")


def write_designs(run: Run) -> Path:
    """Write ``designs.csv``: a row a candidate, floats in full precision, empty where a value does not exist."""
    names: dict[str, None] = dict.fromkeys(FIRST)
    for stored in run.designs:
        names |= dict.fromkeys(name for name in stored.row if name not in LAST)
    path = run.folder / "designs.csv"
    with whole_file(path) as partial, partial.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [*names, *LAST], restval="")
        writer.writeheader()
        for stored in run.designs:
            writer.writerow({name: "" if value is None else value for name, value in stored.row.items()})
    return path


def write_verdicts(run: Run) -> Path:
    """Write ``verdicts.csv``: a row for each requirement of each candidate computed.

    ``spare`` is by how much it is met, negative where it is missed; it, ``required`` and ``got`` are in ``unit``.
    """
    path = run.folder / "verdicts.csv"
    with whole_file(path) as partial, partial.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(VERDICT_COLUMNS)
        for stored in run.designs:
            writer.writerows((stored.design, *_verdict_row(check)) for check in stored.checks)
    return path


def _verdict_row(check: Check) -> tuple[str | float, ...]:
    got = "" if check.got is None else check.got
    sign = 1.0 if check.bound == "at_least" else -1.0
    spare = "" if check.got is None else sign * (check.got - check.required)
    verdict = "pass" if check.passed else "fail"
    return check.quantity, check.bound, check.required, got, SI_UNITS[check.quantity], verdict, spare, check.where


def write_states(run: Run) -> Path | None:
    """Write ``states.csv``: a row for each state of each candidate computed; nothing where each has one state only."""
    several = any("; " in str(stored.row.get("states")) for stored in run.designs)
    return _write_several(run, "states.csv", "state", states_in if several else None)


def write_vessels(run: Run) -> Path | None:
    """Write ``vessels.csv``: a row for each vessel of each candidate computed; nothing where no puck is in them."""
    looked_at = any("vessels" in stored.row for stored in run.designs)
    return _write_several(run, "vessels.csv", "vessel", vessels_in if looked_at else None)


def _write_several(
    run: Run, table: str, second: str, rows_in: Callable[[Content], tuple[Row, ...]] | None
) -> Path | None:
    """Write a table with several rows a candidate, each from its piece; none where ``rows_in`` is None."""
    path = run.folder / table
    if rows_in is None:
        path.unlink(missing_ok=True)
        return None

    def rows(design: str) -> tuple[Row, ...]:
        return rows_in(Content.read(piece_path(run.folder, design)))

    done = [stored.design for stored in run.designs if stored.status == "done"]
    names: dict[str, None] = dict.fromkeys((*FIRST, second))
    for design in done:
        names |= dict.fromkeys(name for row in rows(design) for name in row)
    with whole_file(path) as partial, partial.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [*names], restval="")
        writer.writeheader()
        for design in done:
            for row in rows(design):
                writer.writerow(
                    {"design": design} | {name: "" if value is None else value for name, value in row.items()}
                )
    return path


def write_tables(run: Run) -> None:
    """Write every table of a run that is complete, or of what there is of it."""
    write_designs(run)
    write_states(run)
    write_verdicts(run)
    write_vessels(run)
    write_maps(run)


def write_maps(run: Run) -> Path:
    """Write ``maps.nc`` (netCDF-4), a few candidates in memory at a time; a failed candidate's values are NaN."""
    grid = run.study.base.grid
    try:
        return _write_maps(run, _Axes([np.array(places) for places in (grid.heights, grid.offsets, grid.tilts)]))
    except _OtherPlacesError:
        return _write_maps(run, _Axes(_all_places(run), joined=True))


def write_map(run: Run, stored: StoredDesign, path: Path) -> None:
    """Write the map of one candidate (netCDF-4) as `write_maps` does all of them, over its own places."""
    alone = replace(run, designs=(stored,))
    _write_maps(alone, _Axes(_all_places(alone)), path)


@dataclass(frozen=True, slots=True)
class _Axes:
    """Heights, offsets and tilts of all maps: the base design's, or ``joined`` from those of every candidate."""

    places: list[Any]
    joined: bool = False


class _OtherPlacesError(Exception):
    """A candidate's map has other places than the base design's: all of them are looked through for theirs."""


def _all_places(run: Run) -> list[Any]:
    grids = sorted({_grid(run, stored.design) for stored in run.designs if stored.status == "done"})
    return [np.unique(np.concatenate([grid[axis] for grid in grids])) for axis in range(len(PLACES))]


def _write_maps(run: Run, axes: _Axes, path: Path | None = None) -> Path:
    path = run.folder / "maps.nc" if path is None else path
    with whole_file(path) as partial, closing(Sink(partial)) as sink:
        with h5netcdf.File(sink, "w") as file:
            _fill_all(file, run, axes, sink)
        sink.check()
    return path


def _fill_all(file: Any, run: Run, axes: _Axes, sink: Sink) -> None:
    file.attrs["title"] = f"coupling maps of {run.study.name}"
    file.attrs["Conventions"] = "CF-1.11"
    file.attrs["comment"] = CALCULATION_ONLY
    _coordinates(file, run, axes.places)
    for name, (unit, text) in MAP_VARIABLES.items():
        _variable(file, name, ("design", "height", "offset", "tilt"), unit, text)
    for name, (unit, text) in HEIGHT_VARIABLES.items():
        _variable(file, name, ("design", "height"), unit, text)
    for part in ("re", "im"):
        text = "axial moment of the tag for the base field's profile (s/scale)^degree along the tag's axis"
        _variable(file, f"axial_moment_{part}", ("design", "degree"), "m2", text)
    _variable(file, "axial_moment_scale", ("design",), "m", "radius of the sphere about the tag")
    size = min(LARGEST_BLOCK, max(1, BLOCK_BYTES // map_bytes(1, prod(axis.size for axis in axes.places))))
    for start in range(0, len(run.designs), size):
        _fill(file, run, start, start + size, axes)
        sink.check()


def _grid(run: Run, design: str) -> tuple[tuple[float, ...], ...]:
    """Places of a candidate's map; as a rule the same for all, so that a set of them stays small."""
    content = Content.read(piece_path(run.folder, design))
    return tuple(tuple(content[name].tolist()) for name in PLACES)


def _coordinates(file: Any, run: Run, axes: list[Any]) -> None:
    file.dimensions = {
        "design": max(1, len(run.designs)),
        **{name: axis.size for name, axis in zip(("height", "offset", "tilt"), axes, strict=True)},
        "degree": MOMENT_COUNT,
    }
    texts = ("height of the tag coil's centre above the plate", "offset of the tag from the base coil's axis", "tilt")
    for name, axis, unit, text in zip(("height", "offset", "tilt"), axes, ("m", "m", "rad"), texts, strict=True):
        _variable(file, name, (name,), unit, text)[...] = axis
    names = np.array([stored.design for stored in run.designs] or [""], dtype=object)
    designs = file.create_variable("design", ("design",), dtype=h5py.string_dtype())
    designs[...], designs.attrs["long_name"] = names, "candidate of the sweep"
    degrees = file.create_variable("degree", ("degree",), dtype="i4")
    degrees[...], degrees.attrs["long_name"] = np.arange(MOMENT_COUNT), "degree of the profile along the tag's axis"


def _variable(file: Any, name: str, dimensions: tuple[str, ...], unit: str, text: str) -> Any:
    sizes = [
        len(file.dimensions[d]) if hasattr(file.dimensions[d], "__len__") else file.dimensions[d].size
        for d in dimensions
    ]
    # A chunk holds the whole of as many candidates as make a few reads of the disk: one map, or the lines of many.
    several = max(
        1, CHUNK_BYTES // (BYTES_EACH * prod(n for d, n in zip(dimensions, sizes, strict=True) if d != "design"))
    )
    chunks = tuple(min(n, several) if d == "design" else max(1, n) for d, n in zip(dimensions, sizes, strict=True))
    made = file.create_variable(name, dimensions, dtype="f8", fillvalue=np.nan, chunks=chunks)
    made.attrs["units"], made.attrs["long_name"] = unit, text
    return made


def _fill(file: Any, run: Run, start: int, stop: int, axes: _Axes) -> None:
    """Write a block of candidates at once: one by one, the netCDF layer takes longer than all else."""
    designs = run.designs[start:stop]
    blocks = {name: np.full((len(designs), *file.variables[name].shape[1:]), np.nan) for name in _BY_DESIGN}
    for place, stored in enumerate(designs):
        if stored.status == "done":
            for name, values in _values(run, stored.design, axes).items():
                blocks[name][(place, *values[0])] = values[1]
    for name, block in blocks.items():
        file.variables[name][start : start + len(designs)] = block


def _values(run: Run, design: str, axes: _Axes) -> dict[str, tuple[Any, Any]]:
    """What each variable holds of one candidate: where along the variable's other axes, and the values."""
    content = Content.read(piece_path(run.folder, design))
    where = _where(content, axes)
    heights = where[0] if isinstance(where[0], slice) else where[0].ravel()
    parts = {name: content[name] for name in content.names if name != "record"}
    moments = parts["axial_moments"]
    return (
        {name: (where, _part(parts, name)) for name in MAP_VARIABLES}
        | {name: ((heights,), _part(parts, name)) for name in HEIGHT_VARIABLES}
        | {"axial_moment_re": ((), moments.real), "axial_moment_im": ((), moments.imag)}
        | {"axial_moment_scale": ((), float(parts["axial_moment_scale"]))}
    )


def _where(content: Content, axes: _Axes) -> tuple[Any, ...]:
    """A candidate's places as an index: where they are all there are, one that is copied to in one go."""
    wanted = [content[name] for name in PLACES]
    if all(np.array_equal(axis, places) for axis, places in zip(axes.places, wanted, strict=True)):
        return (slice(None),) * len(PLACES)
    if not axes.joined:
        raise _OtherPlacesError
    return tuple(np.ix_(*(np.searchsorted(axis, places) for axis, places in zip(axes.places, wanted, strict=True))))


def _part(content: Any, name: str) -> Any:
    stem, _, part = name.rpartition("_")
    if part == "re":
        return content[stem].real
    return content[stem].imag if part == "im" else content[name]
