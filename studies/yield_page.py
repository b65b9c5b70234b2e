"""Units as built, as one page and as a table."""

import csv
from io import StringIO
from pathlib import Path
from typing import Any

from studies.figures import Picture
from studies.figures_style import styled
from studies.figures_yield import shares_picture, spread_picture
from studies.files import write_text
from studies.hazards import candidate_cautions
from studies.templating import page_template
from studies.yield_texts import yield_headlines, yield_notes
from studies.yields import FITTED, PAGE, RETUNED, TABLE, Yields

ABOUT = {
    "spread": "How many units come to which value. Filled: capacitors as fitted; outlined: the base coil tuned on each "
    "unit.",
    "shares": "As fitted. How much of the differences between units each spread brings about by itself; lines: how "
    "sure that is.",
}


def write_yield(found: Yields, folder: Path, seed: int) -> Path:
    """Write the page and the table of units into their folder."""
    with styled():
        drawn = {"spread": spread_picture(found)}
        if found.fitted.shares:
            drawn["shares"] = shares_picture(found)
        pictures = [Picture(key, title, ABOUT[key], figure) for key, (figure, title) in drawn.items()]
    write_text(folder / TABLE, units_table(found))
    page = folder / PAGE
    write_text(page, page_template("yield.html.j2").render(_context(found, pictures, seed)))
    return page


def _context(found: Yields, pictures: list[Picture], seed: int) -> dict[str, Any]:
    first, *others = yield_headlines(found)
    rows = [one.row for one in (*found.fitted.units, *found.retuned.units)]
    return {
        "name": found.study.name,
        "design": found.design,
        "headline": first,
        "lines": others,
        "spreads": [spread.text for spread in found.units.spreads],
        "pictures": pictures,
        "notes": yield_notes(found, seed),
        "cautions": candidate_cautions(found.study.base, rows),
    }


def units_table(found: Yields) -> str:
    """Every unit as CSV: what was drawn, and what came out as fitted and retuned."""
    fitted = found.units.fitted
    keys = [axis.key for axis in fitted.swept_axes]
    columns = ("margin_dB", "coil_voltage_V", "base_current_A", "input_power_W", "worst_place", "worst_state", "unmet")
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    kinds = ((FITTED, found.fitted), (RETUNED, found.retuned))
    told = [f"{name} {column}" for name, _ in kinds for column in ("status", "verdict", *columns)]
    writer.writerow(["unit", *keys, *told])
    for number, (one, other) in enumerate(zip(found.fitted.units, found.retuned.units, strict=True)):
        row: list[object] = [number + 1, *(value for _, value in fitted.swept(number))]
        for stored in (one, other):
            verdict = "" if stored.status == "failed" else ("pass" if stored.passed else "fail")
            row += [stored.status, verdict, *(stored.row.get(column) for column in columns)]
        writer.writerow(row)
    return text.getvalue()
