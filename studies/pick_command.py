"""``trivet pick``: searches, solves the picks in full, writes the page and says the answer."""

import json
import os
from pathlib import Path
from typing import Any

import click

from studies.findings import number
from studies.hazards import candidate_cautions
from studies.pick_page import search_notes, write_pick
from studies.pick_texts import pick_headlines
from studies.picking import RUN, Picked, pick_folder, picked
from studies.stored import StoredDesign
from studies.study import Study

SHOWN = ("margin_dB", "input_power_W", "coil_voltage_V", "base_current_A", "base_inductance_H")


def search_and_tell(
    study: Study, out: Path | None, workers: int | None, search_for: tuple[int, int], picks: int, as_json: bool
) -> bool:
    """Whether some pick meets every requirement, solved in full.

    Parameters
    ----------
    study : Study
        Its ``[sweep]`` is the space.
    out : Path or None
        Folder; ``results/<study>/pick-…`` where there is none.
    workers : int or None
        Processes; one a core where there is none.
    search_for : tuple of two int
        Tries and seed.
    picks : int
        At most so many.
    as_json : bool
        One JSON object on stdout in place of text.
    """
    folder = out or pick_folder(study, *search_for)
    found = picked(study, folder, workers or os.cpu_count() or 1, search_for, picks)
    page = write_pick(found, folder, search_for[1])
    if as_json:
        click.echo(json.dumps(pick_json(found), allow_nan=False))
        return found.met
    if found.taken_over:
        click.echo(f"{found.taken_over} candidates were stored already.")
    for line in pick_headlines(found):
        click.echo(line)
    for note in search_notes(found, search_for[1])[2:]:
        click.echo(note)
    for text in candidate_cautions(study.base, [stored.row for stored in found.run.designs]):
        click.echo(f"Caution: {text}")
    click.echo(f"Picks: {page}")
    if found.picks:
        click.echo(f"Winding sheet of one: trivet sheet {folder / RUN} {found.run.designs[0].design}")
    return found.met


def pick_json(found: Picked) -> dict[str, Any]:
    """The answer for another program; units are in the names."""
    return {
        "study": found.space.study.name,
        "space": found.space.count,
        "tried": len(found.tried),
        "met": found.met,
        "answer": pick_headlines(found)[0],
        "picks": [_pick_json(found, stored) for stored in found.run.designs],
        "lines": list(pick_headlines(found)[1:]),
    }


def _pick_json(found: Picked, stored: StoredDesign) -> dict[str, Any]:
    return {
        "design": stored.design,
        "verdict": "failed" if stored.status == "failed" else ("pass" if stored.passed else "fail"),
        **dict(found.run.study.swept(stored.index)),
        **{name: number(stored, name) for name in SHOWN},
        "unmet": [check.sentence for check in stored.failures],
    }
