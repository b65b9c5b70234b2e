"""A search as one page, and its tables."""

import csv
from io import StringIO
from pathlib import Path
from typing import Any

from studies.figures import Picture
from studies.figures_pick import front_picture, keys_picture
from studies.figures_style import styled
from studies.files import write_text
from studies.findings import number
from studies.hazards import candidate_cautions
from studies.pick_texts import held_by, pick_headlines
from studies.picking import PAGE, RUN, TABLE, Picked
from studies.specification import state_names
from studies.stored import StoredDesign
from studies.swept import swept_axes
from studies.templating import page_template

ABOUT = {
    "front": "Each point is a candidate that was computed. Ringed and named: the picks, solved again in full; the line "
    "joins those that meet all requirements. Up and to the left is better.",
    "keys": "The same candidates over each key that was searched; black: the picks.",
}

COLUMNS = (
    ("margin", "margin_dB", 1.0, "dB", ".1f"),
    ("input power", "input_power_W", 1.0, "W", ".3g"),
    ("coil voltage", "coil_voltage_V", 1.0, "V", ".3g"),
    ("base current", "base_current_A", 1e3, "mA", ".3g"),
    ("base inductance", "base_inductance_H", 1e6, "µH", ".4g"),
    ("read height", "required_read_height_m", 1e3, "mm", ".3g"),
)
"""Of the table of picks: title, column of the row, factor, unit and digits."""


def write_pick(found: Picked, folder: Path, seed: int) -> Path:
    """Write the page and the table of tries into a search's folder."""
    with styled():
        drawn = {"front": front_picture(found), "keys": keys_picture(found)} if _done(found) else {}
        pictures = [Picture(key, title, ABOUT[key], figure) for key, (figure, title) in drawn.items()]
    write_text(folder / TABLE, tries_table(found))
    page = folder / PAGE
    write_text(page, page_template("pick.html.j2").render(_context(found, pictures, seed)))
    return page


def _done(found: Picked) -> list[StoredDesign]:
    return [stored for stored in found.tried if stored.status == "done"]


def _context(found: Picked, pictures: list[Picture], seed: int) -> dict[str, Any]:
    first, *others = pick_headlines(found)
    base = found.space.study.base
    axes = swept_axes(found.run.study) if found.picks else ()
    return {
        "name": found.space.study.name,
        "headline": first,
        "lines": others if not found.met else [line for line in others if "closest to its limit" not in line],
        "titles": [*(axis.title for axis in axes), *(f"{title} [{unit}]" for title, _, _, unit, _ in COLUMNS)],
        "picks": [_pick_row(found, stored) for stored in found.run.designs],
        "pictures": pictures,
        "notes": search_notes(found, seed),
        "cautions": candidate_cautions(base, [stored.row for stored in found.run.designs]),
        "report": f"{RUN}/report.html" if found.picks else "",
    }


def _pick_row(found: Picked, stored: StoredDesign) -> dict[str, Any]:
    axes = swept_axes(found.run.study)
    cells = [axis.text(stored).removesuffix(f" {axis.unit}") if axis.unit else axis.text(stored) for axis in axes]
    for _, column, factor, _, digits in COLUMNS:
        value = number(stored, column)
        cells.append("" if value is None else format(value * factor, digits))
    if stored.status == "failed":
        said = stored.message
    elif stored.passed:
        said = held_by(stored)
    else:
        said = "; ".join(check.sentence for check in stored.failures)
    return {"design": stored.design, "passed": stored.passed, "cells": cells, "said": said}


def search_notes(found: Picked, seed: int) -> tuple[str, ...]:
    """How the search was made, and how far its figures are from those in full."""
    study = found.space.study
    failed = [stored for stored in found.tried if stored.status == "failed"]
    notes = [
        f"{len(found.tried)} of {found.space.count:,} candidates were computed (seed {seed}), each in every state: "
        f"{', '.join(state_names(study.base))}. What to try next was chosen by a multi-objective tree-structured "
        "Parzen estimator (Optuna), then among the neighbours of the best; a range goes in round steps, a list as it "
        "is.",
        "A search of part of a space can miss the best of it: another seed or more tries say how sure it is.",
    ]
    if failed:
        notes.append(
            f"{len(failed)} of them could not be computed or built, as {failed[0].design}: {failed[0].message}."
        )
    apart = [
        (abs((number(full, "margin_dB") or 0.0) - (number(quick, "margin_dB") or 0.0)), full.design)
        for full, quick in zip(found.run.designs, found.picks, strict=False)
        if full.status == "done"
    ]
    if apart:
        most, design = max(apart)
        how = "share a factorisation" if study.formulation == "reaction field" else "are computed the same way"
        notes.append(
            f"Each pick was solved again by itself; in the search candidates {how}. Their margins differ by "
            f"{most:.2g} dB at most ({design})."
        )
    return tuple(notes)


def tries_table(found: Picked) -> str:
    """Every try as CSV: its values, whether it passes, margin, power and what it misses."""
    keys = [axis.key for axis in found.space.study.swept_axes]
    columns = ["margin_dB", "input_power_W", "coil_voltage_V", "base_current_A", "worst_place", "worst_state", "unmet"]
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["try", *keys, "status", "verdict", *columns, "message"])
    for count, stored in enumerate(found.tried, start=1):
        row = stored.row
        verdict = "" if stored.status == "failed" else ("pass" if stored.passed else "fail")
        writer.writerow(
            [count, *(row[key] for key in keys), stored.status, verdict, *(row.get(name) for name in columns),
             stored.message]
        )  # fmt: skip
    return text.getvalue()
