"""``trivet export``: finds the design, writes it in each of the formats asked for; nothing is overwritten."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import click

from studies.errors import RunError
from studies.exported import AtPlace, RunDesign, at_place, run_design
from studies.files import whole_file
from studies.netlist import netlist
from studies.space_places import read_place
from studies.specification import Place


@dataclass(frozen=True, eq=False)
class Wanted:
    """A design with what was typed of place and state; it is solved once, where a format needs its fields."""

    design: RunDesign
    place: Place | None
    state: str | None

    @cached_property
    def at_place(self) -> AtPlace:
        """The link at the place."""
        return at_place(self.design, self.place, self.state)


def _write_netlist(wanted: Wanted, path: Path) -> None:
    design = wanted.design
    title = f"{design.run.study.name}, design {design.stored.design}: base coil and tag, coupled circuits"
    path.write_text(netlist(title, wanted.at_place, design.stored.cautions), encoding="ascii")


@dataclass(frozen=True, slots=True)
class Format:
    """How the file's name ends, and what writes it."""

    ending: str
    write: Callable[[Wanted, Path], None]


FORMATS = {
    "spice": Format(".cir", _write_netlist),
}
"""By the word that is typed."""


def export_design(
    folder: Path, design: str, formats: Sequence[str], out: Path, place: str | None, state: str | None
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
    wanted = Wanted(run_design(folder, design), None if place is None else read_place(place), state)
    targets = {name: out / f"{wanted.design.name}{FORMATS[name].ending}" for name in formats}
    for target in targets.values():
        if target.exists():
            raise RunError(f"{target} exists already; nothing is overwritten. Give another folder with --out")
    out.mkdir(parents=True, exist_ok=True)
    for name, target in targets.items():
        with whole_file(target) as partial:
            FORMATS[name].write(wanted, partial)
        click.echo(f"{name}: {target}")
    for text in wanted.design.stored.cautions:
        click.echo(f"Caution: {text}")
