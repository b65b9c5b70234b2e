"""``trivet yield``: draws units, computes them, writes the page and says the share that passes."""

import json
import os
from pathlib import Path
from typing import Any

import click

from studies.hazards import candidate_cautions
from studies.study import Study
from studies.yield_page import write_yield
from studies.yield_texts import yield_headlines
from studies.yields import Batch, Yields, yields, yields_folder


def draw_and_tell(
    study: Study, design: str | None, out: Path | None, workers: int | None, draw: tuple[int, int], as_json: bool
) -> None:
    """Draw units of a design and say how many meet what is required.

    Parameters
    ----------
    study : Study
        With spreads.
    design : str or None
        Name of a candidate; None is the base design.
    out : Path or None
        Folder; ``results/<study>/yield-…`` where there is none.
    workers : int or None
        Processes; one a core where there is none.
    draw : tuple of two int
        Units and seed.
    as_json : bool
        One JSON object on stdout in place of text.
    """
    folder = out or yields_folder(study, design or study.base.design, *draw)
    found = yields(study, design, folder, workers or os.cpu_count() or 1, draw)
    page = write_yield(found, folder, draw[1])
    if as_json:
        click.echo(json.dumps(yields_json(found), allow_nan=False))
        return
    for line in yield_headlines(found):
        click.echo(line)
    for text in candidate_cautions(study.base, [one.row for one in found.fitted.units]):
        click.echo(f"Caution: {text}")
    click.echo(f"Units: {page}")


def yields_json(found: Yields) -> dict[str, Any]:
    """The answer for another program; shares are of 1."""
    return {
        "study": found.study.name,
        "design": found.design,
        "answer": yield_headlines(found)[0],
        "as_fitted": _batch_json(found.fitted),
        "retuned": _batch_json(found.retuned),
    }


def _batch_json(batch: Batch) -> dict[str, Any]:
    return {
        "units": batch.found.count,
        "passed": batch.found.passed,
        "yield": batch.found.share,
        "low": batch.found.low,
        "high": batch.found.high,
        "missed": {one.quantity or "computed": one.count for one in batch.missed},
        "shares_of_variance": {
            quantity: {one.spread.key: one.first for one in shares} for quantity, shares in batch.shares.items()
        },
    }
