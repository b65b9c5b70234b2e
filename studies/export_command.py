"""``trivet export``: finds the design, writes it in each of the formats asked for; nothing is overwritten."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import click

from studies.drawing import Scene, solved_scene
from studies.errors import RunError
from studies.exported import AtPlace, RunDesign, at_place, run_design
from studies.field_file import write_field
from studies.files import all_or_none, whole_file
from studies.map_csv import write_map_csv
from studies.netlist import netlist
from studies.rows import number
from studies.space_places import check_places, read_place
from studies.specification import Place
from studies.store import arrays_of
from studies.tables import write_map
from studies.two_port import read_frequencies, touchstone, two_port
from studies.workshop_section import section_svg, write_section_dxf


@dataclass(frozen=True, eq=False)
class Wanted:
    """A design with what was typed of place and state; it is solved once, where a format needs its fields."""

    design: RunDesign
    place: Place | None
    state: str | None
    frequencies: tuple[str, ...] = ()

    @cached_property
    def at_place(self) -> AtPlace:
        """The link at the place."""
        return at_place(self.design, self.place, self.state)

    @property
    def title(self) -> str:
        """Study and design."""
        return f"{self.design.run.study.name}, design {self.design.stored.design}"

    @property
    def scene(self) -> Scene:
        """The section with the winding as stored."""
        row, candidate = self.design.stored.row, self.design.candidate
        build, length = number(row, "base_radial_build_m"), number(row, "base_winding_length_m")
        found = solved_scene(candidate, round(float(row["base_turns"] or 0)), build, length)
        if self.place is None:
            return found
        check_places(candidate, (self.place,))
        return replace(found, place=self.place)


def _write_netlist(wanted: Wanted, path: Path) -> None:
    title = f"{wanted.title}: base coil and tag, coupled circuits"
    path.write_text(netlist(title, wanted.at_place, wanted.design.stored.cautions), encoding="ascii")


def _write_svg(wanted: Wanted, path: Path) -> None:
    path.write_text(section_svg(wanted.title, wanted.scene, wanted.design.stored.cautions), encoding="utf-8")


def _write_dxf(wanted: Wanted, path: Path) -> None:
    write_section_dxf(path, wanted.title, wanted.scene, wanted.design.stored.cautions)


def _write_csv(wanted: Wanted, path: Path) -> None:
    design = wanted.design
    write_map_csv(path, design.candidate.grid, arrays_of(design.run, design.stored).map)


def _write_netcdf(wanted: Wanted, path: Path) -> None:
    write_map(wanted.design.run, wanted.design.stored, path)


def _write_touchstone(wanted: Wanted, path: Path) -> None:
    frequencies = read_frequencies(wanted.frequencies, wanted.design.candidate.frequency)
    title = f"{wanted.title}: base coil and tag coil as a two-port"
    found = two_port(wanted.at_place, frequencies)
    path.write_text(touchstone(title, wanted.at_place, found, wanted.design.stored.cautions), encoding="ascii")


def _write_vtu(wanted: Wanted, path: Path) -> None:
    write_field(path, wanted.at_place)


@dataclass(frozen=True, slots=True)
class Format:
    """How the file's name ends, and what writes it."""

    ending: str
    write: Callable[[Wanted, Path], None]


FORMATS = {
    "spice": Format(".cir", _write_netlist),
    "svg": Format("-section.svg", _write_svg),
    "dxf": Format("-section.dxf", _write_dxf),
    "csv": Format("-map.csv", _write_csv),
    "netcdf": Format("-map.nc", _write_netcdf),
    "touchstone": Format(".s2p", _write_touchstone),
    "vtu": Format("-field.vtu", _write_vtu),
}
"""By the word that is typed."""


def export_design(
    folder: Path,
    design: str,
    formats: Sequence[str],
    out: Path,
    place: str | None,
    state: str | None,
    frequencies: tuple[str, ...] = (),
) -> None:
    """Write a design of a run in some formats.

    Raises
    ------
    RunError, StudyFaults
        Where there is no such run, design, state or format, or a file is there already.
    GeometryError, MeshingError, FieldError, LinkError
        Where the map does not cover the place, or the design cannot be computed.
    """
    for name in formats:
        if name not in FORMATS:
            raise RunError(f'"{name}" is no format to export to; {", ".join(FORMATS)}')
    wanted = Wanted(run_design(folder, design), None if place is None else read_place(place), state, frequencies)
    read_frequencies(frequencies, wanted.design.candidate.frequency)
    targets = {name: out / f"{wanted.design.name}{FORMATS[name].ending}" for name in formats}
    for target in targets.values():
        if target.exists():
            raise RunError(f"{target} exists already; nothing is overwritten. Give another folder with --out")
    out.mkdir(parents=True, exist_ok=True)
    with all_or_none(targets.values()):
        for name, target in targets.items():
            with whole_file(target) as partial:
                FORMATS[name].write(wanted, partial)
    for name, target in targets.items():
        click.echo(f"{name}: {target}")
    for text in wanted.design.stored.cautions:
        click.echo(f"Caution: {text}")
