"""``trivet stock``: reads the list, ranks its parts, prints and writes what they come to."""

import json
from dataclasses import replace
from math import inf, isfinite
from pathlib import Path

import click

from studies.errors import RunError
from studies.files import write_text
from studies.hazards import candidate_cautions
from studies.outputs import check_target
from studies.progress import progress
from studies.quantities import QuantityError, read_quantity
from studies.stock import Room, left_out, ranked
from studies.stock_list import StockPart, read_stock
from studies.stock_texts import stock_lines, stock_rows, stock_table
from studies.study import Study

SHARED_FROM = 200
"""Parts from which on their charge is followed as in a large sweep, where the study does not say how to solve."""


def room_of(largest_diameter: str | None, largest_height: str | None) -> Room:
    """What a part has to fit.

    Raises
    ------
    RunError
        For a text that is no length above 0.
    """
    return Room(_length("--largest-diameter", largest_diameter), _length("--largest-height", largest_height))


def _length(option: str, text: str | None) -> float:
    try:
        length = inf if text is None else read_quantity(text, "length")
    except QuantityError as error:
        raise RunError(f"{option}: {error}") from None
    if not length > 0.0:
        raise RunError(f'{option}: "{text}" was given; a length above 0 is allowed')
    return length


def rank_stock(study: Study, parts: Path, room: Room, as_json: bool, out: Path | None) -> bool:
    """Rank a list; whether some part could not be computed.

    Raises
    ------
    RunError
        For a table that could not be written, or would take the list's or the study's place.
    StudyFaults
        For a list that is wrong.
    """
    if out is not None:
        check_target(out, parts, study.path)
    listed = read_stock(parts)
    if len(listed.parts) >= SHARED_FROM:
        study = replace(study, formulation="reaction field")
    with progress(len(listed.parts), "Stock parts") as count:

        def told(part: StockPart) -> None:
            count(part.line, "done", 0.0)

        found = ranked(study, listed.parts, room, told)
    if as_json:
        rows = [{name: _json_value(value) for name, value in row.items()} for row in stock_rows(found)]
        click.echo(json.dumps(rows, allow_nan=False))
    else:
        for line in stock_lines(found):
            click.echo(line)
    for note in _notes(study, listed.unknown, listed.empty_rows):
        click.echo(note, err=True)
    for text in candidate_cautions(study.base, [row for one in found for row in one.hazards]):
        click.echo(f"Caution: {text}", err=True)
    if out is not None:
        write_text(out, stock_table(found))
        click.echo(f"Table: {out}", err=True)
    return any(one.status == "cannot be computed" for one in found)


def _notes(study: Study, unknown: tuple[str, ...], empty_rows: int) -> list[str]:
    notes = []
    if unknown:
        notes.append(f"Columns not known here are kept as they are: {', '.join(unknown)}.")
    if empty_rows:
        notes.append(f"{empty_rows} empty rows were passed over.")
    keys = left_out(study.raw)
    if keys:
        notes.append(f"Left out, for they are the study's own tag's: {', '.join(keys)}.")
    return notes


def _json_value(value: float | int | str | bool | None) -> float | int | str | bool | None:
    return None if isinstance(value, float) and not isfinite(value) else value
