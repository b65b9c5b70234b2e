"""``trivet bench``: readings beside a design, the unknowns found from them, a page, and the answer in the terminal."""

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from studies.bench_fit import Fitted, fitted_to
from studies.bench_model import SHIFT, TEMPERATURE, UNKNOWNS, BenchModel
from studies.bench_page import bench_context, write_bench
from studies.bench_port import ENDINGS, MeasuredPort, read_port
from studies.bench_texts import found_text, value_text
from studies.errors import RunError
from studies.exported import RunDesign, run_design
from studies.findings import findings
from studies.measured_list import Reading, read_measured
from studies.one_state import LinkedInState, in_every_state, linked_in_state
from studies.outputs import check_folder
from studies.quantities import QuantityError, bare_number, read_quantity
from studies.space_places import read_place
from studies.specification import state_names
from studies.store import read_run

MOST_FILES = 20
HELD = {TEMPERATURE: "temperature", SHIFT: "length"}


def bench_and_tell(
    folder: Path,
    files: Sequence[Path],
    design: str | None,
    state: str | None,
    place: str | None,
    hold: Sequence[str],
    out: Path | None,
    as_json: bool,
) -> None:
    """Compare readings with a design and say what they tell.

    Parameters
    ----------
    folder : Path
        A run.
    files : sequence of Path
        Lists of readings as CSV, and Touchstone files.
    design, state : str or None
        The run's best, and the state that the study describes, where there is none.
    place : str or None
        Where the tag stood as two-ports were measured.
    hold : sequence of str
        Unknowns to hold, ``wire`` or ``wire=180 degC``.
    out : Path or None
        Folder; ``bench-<design>`` in the run's folder where there is none.
    as_json : bool
        One JSON object on stdout in place of text.

    Raises
    ------
    RunError, StudyFaults, GeometryError, MeshingError, FieldError, LinkError
        Where something typed or read is wrong, or the design cannot be computed.
    """
    held = _held(hold)
    if out is not None:
        check_folder(out)
    wanted = run_design(folder, design or _best(folder))
    readings, ports = _readings(files, wanted.candidate.frequency, place)
    found = _in_state(wanted, state)
    model = BenchModel(found, readings)
    fitted = fitted_to(model, {key: _within(model, key, value) for key, value in held.items()})
    name = f"{wanted.run.study.name} {wanted.stored.design}"
    cautions = list(wanted.stored.cautions)
    context = bench_context(name, model, fitted, ports, cautions, [path.name for path in files])
    target = out or folder / f"bench-{wanted.stored.design}"
    target.mkdir(parents=True, exist_ok=True)
    page = write_bench(target, context, model, fitted, ports)
    if as_json:
        click.echo(json.dumps(bench_json(name, context, fitted), allow_nan=False))
        return
    click.echo(f"{context['headline']}.")
    for one in fitted.unknowns:
        click.echo(f"  {found_text(one)}")
    for text in context["unexplained"]:
        click.echo(f"  {text}")
    for text in cautions:
        click.echo(f"Caution: {text}")
    click.echo(f"Page: {page}")


def _best(folder: Path) -> str:
    best = findings(read_run(folder)).best
    if best is None:
        raise RunError(f"{folder} holds no design that was computed; `trivet run` with the same study carries on")
    return best.design


def _held(hold: Sequence[str]) -> dict[str, float | None]:
    """Unknowns to hold; None at the study's value."""
    held: dict[str, float | None] = {}
    for text in hold:
        key, equals, value = (part.strip() for part in text.partition("="))
        if key not in UNKNOWNS:
            allowed = f'{", ".join(UNKNOWNS)}, each with a value behind "=" or without'
            raise RunError(f'--hold: "{text}" was given; {allowed}')
        try:
            held[key] = None if not equals else read_quantity(value, HELD[key]) if key in HELD else bare_number(value)
        except (QuantityError, ValueError) as fault:
            allowed = "" if isinstance(fault, QuantityError) else "; a bare number of 1 or more is wanted"
            raise RunError(f"--hold {key}: {fault}{allowed}") from None
    return held


def _within(model: BenchModel, key: str, value: float | None) -> float:
    """What an unknown is held at: the study's value where none was typed."""
    one = next((one for one in model.unknowns if one.key == key), None)
    if one is None:
        raise RunError(f"--hold {key}: the readings or the design have no such unknown")
    if value is not None and not one.low <= value <= one.high:
        ends = f"{value_text(key, one.low)} to {value_text(key, one.high)}"
        raise RunError(f"--hold {key}: {value_text(key, value)} is out of bounds; {ends}")
    return one.nominal if value is None else value


def _readings(
    files: Sequence[Path], frequency: float, place: str | None
) -> tuple[tuple[Reading, ...], list[MeasuredPort]]:
    if len(files) > MOST_FILES:
        raise RunError(f"{len(files)} files of readings; at most {MOST_FILES}")
    at = None if place is None else read_place(place)
    whole = [path.resolve() for path in files]
    for number, path in enumerate(whole):
        if path in whole[:number]:
            raise RunError(f"{files[number]} is given twice: its readings would count twice")
    readings: list[Reading] = []
    ports: list[MeasuredPort] = []
    for path in files:
        if path.suffix.lower() in ENDINGS:
            port = replace(read_port(path), file=str(path))
            readings.append(port.reading(frequency, at))
            ports.append(port)
        else:
            readings += read_measured(path).readings
    return tuple(readings), ports


def _in_state(wanted: RunDesign, state: str | None) -> LinkedInState:
    candidate = wanted.candidate
    known = state_names(candidate)
    name = state or candidate.state
    if name not in known:
        raise RunError(f'no state of {candidate.design} is called "{name}"; {", ".join(known)}')
    return next(one for one in in_every_state(candidate, linked_in_state) if one.candidate.state == name)


def bench_json(name: str, context: dict[str, Any], fitted: Fitted) -> dict[str, Any]:
    """The answer for another program; SI and °C."""
    return {
        "design": name,
        "answer": context["headline"],
        "misfit": fitted.misfit,
        "misfit_before": fitted.misfit_before,
        "degrees_of_freedom": fitted.degrees,
        "unknowns": {
            one.unknown.key: {
                "study": one.unknown.nominal, "found": one.value, "low": one.low, "high": one.high, "held": one.held,
            }
            for one in fitted.unknowns
        },
        "unexplained": context["unexplained"],
        "readings": [
            {
                "line": one.reading.line,
                "quantity": one.quantity,
                "measured": one.measured,
                "computed": one.before,
                "computed_as_found": one.after,
                "deviation": None if one.clamped else one.deviation,
            }
            for one in fitted.compared
        ],
    }  # fmt: skip
