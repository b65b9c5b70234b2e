"""``trivet sheet``: finds the design, writes its page or prints it as JSON."""

import json
from collections.abc import Sequence
from pathlib import Path

import click

from studies.errors import RunError
from studies.files import write_text
from studies.outputs import check_target
from studies.quantities import QuantityError, bare_number, read_quantity
from studies.sheet import PROBE, WIRE_TOLERANCE, sheet_json, sheet_of, sheet_page
from studies.specification import Candidate
from studies.store import read_run
from studies.study import Study, read_study

MOST_PROBE = 1e-9
MOST_WIRE_TOLERANCE = 0.2


def write_sheet(
    source: Path,
    design: str | None,
    overrides: Sequence[str],
    options: tuple[str | None, str | None],
    target: Path | None,
) -> None:
    """Write the page of a design, or print it as JSON where there is no ``target``.

    Parameters
    ----------
    source : Path
        A run's folder or a study file.
    design : str or None
        Name of a candidate; None is the base design of a study.
    overrides : sequence of str
        Set over a study file.
    options : tuple of str or None
        The probe's capacitance and the wire's tolerance as typed.
    target : Path or None
        Of the page.

    Raises
    ------
    RunError, StudyFaults
        Where there is no such design, or an option is wrong.
    """
    probe, tolerance = _probe(options[0]), _wire_tolerance(options[1])
    if target is not None:
        check_target(target, source)
    study, candidate = _design(source, design, overrides)
    sheet = sheet_of(study.name, candidate, probe, tolerance)
    if target is None:
        click.echo(json.dumps(sheet_json(sheet), allow_nan=False))
        return
    write_text(target, sheet_page(sheet))
    click.echo(f"Sheet: {target}")


def _design(source: Path, design: str | None, overrides: Sequence[str]) -> tuple[Study, Candidate]:
    if source.is_dir():
        if overrides:
            raise RunError("--set goes with a study file: the designs of a run are as they were run")
        run = read_run(source)
        stored = [one.design for one in run.designs]
        if design is None:
            raise RunError(
                f"{source} holds {len(stored)} designs: name the one wanted, as in {' or '.join(stored[:2])}"
            )
        study = run.study
    else:
        study = read_study(source, tuple(overrides))
    if design in (None, study.base.design):
        return study, study.base
    names = {study.design_name(index): index for index in range(study.count)}
    if design not in names:
        first, last = study.design_name(0), study.design_name(study.count - 1)
        raise RunError(f'no design of {study.name} is called "{design}"; {first} to {last} are')
    return study, study.candidate(names[design])


def _probe(text: str | None) -> float:
    if text is None:
        return PROBE
    try:
        probe = read_quantity(text, "capacitance")
    except QuantityError as error:
        raise RunError(f"--probe: {error}") from None
    if not 0.0 <= probe <= MOST_PROBE:
        raise RunError(f'--probe: "{text}" was given; 0 pF to {MOST_PROBE * 1e9:g} nF are allowed')
    return probe


def _wire_tolerance(text: str | None) -> float:
    if text is None:
        return WIRE_TOLERANCE
    try:
        share = 1e-2 * bare_number(text.strip().removesuffix("%"))
    except ValueError:
        share = -1.0
    if not text.strip().endswith("%") or not 0.0 <= share <= MOST_WIRE_TOLERANCE:
        raise RunError(
            f'--wire-tolerance: "{text}" was given; 0 % to {100.0 * MOST_WIRE_TOLERANCE:g} % of the diameter is allowed'
        )
    return share
