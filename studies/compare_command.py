"""``trivet compare``: finds the designs, says what differs and what it does, and writes the page."""

import json
from pathlib import Path

import click

from studies.compare_page import write_comparison
from studies.compare_texts import all_cautions, comparison_json, comparison_lines
from studies.compared import sides
from studies.comparing import compared
from studies.outputs import check_folder


def compare_and_tell(given: tuple[str, ...], out: Path | None, as_json: bool) -> None:
    """Compare designs.

    Parameters
    ----------
    given : tuple of str
        Run folders, or ``FOLDER:DESIGN``; the first is the reference.
    out : Path or None
        Folder of the page; ``compare`` in the first run's folder where there is none.
    as_json : bool
        One JSON object on stdout in place of text.

    Raises
    ------
    RunError, StudyFaults
        Where one is no run or no design that was computed.
    """
    if out is not None:
        check_folder(out)
    found = compared(sides(given))
    page = write_comparison(found, out or found.sides[0].run.folder / "compare")
    if as_json:
        click.echo(json.dumps(comparison_json(found), allow_nan=False))
        return
    for line in comparison_lines(found):
        click.echo(line)
    for text in all_cautions(found):
        click.echo(f"Caution: {text}")
    click.echo(f"Page: {page}")
