"""Readings from a bench beside the design, as one page and as a table."""

import csv
from io import StringIO
from pathlib import Path
from typing import Any

from studies.bench_fit import Fitted
from studies.bench_model import BenchModel
from studies.bench_port import MeasuredPort
from studies.bench_texts import LABELS, NAMES, headline, notes, shown, unexplained, value_text, where_text
from studies.figures import Picture
from studies.figures_bench import overlay_picture, port_picture, residual_picture
from studies.figures_style import styled
from studies.files import write_text
from studies.templating import page_template

PAGE, TABLE = "bench.html", "readings.csv"

ABOUT = {
    "overlay": "Marks: readings with two standard uncertainties. Lines: computed, grey as the study has it, dark with "
    "the unknowns as found.",
    "residuals": "What the unknowns do not explain, reading by reading, with two standard uncertainties.",
    "port": "The coils as measured at their terminals.",
}


def bench_context(
    name: str, model: BenchModel, fitted: Fitted, ports: list[MeasuredPort], cautions: list[str], files: list[str]
) -> dict[str, Any]:
    """Everything that the page shows but its pictures."""
    errors: dict[str, float] = {}
    for one in fitted.compared:
        errors[one.quantity] = max(errors.get(one.quantity, 0.0), model.relative_error(one.reading))
    return {
        "name": name,
        "files": files,
        "headline": headline(fitted),
        "unknowns": [_unknown_row(one) for one in fitted.unknowns],
        "unexplained": unexplained(fitted, model.found.coils.tag.spread, errors),
        "rows": [
            (
                one.reading.line or one.reading.note,
                where_text(one.reading),
                LABELS[one.quantity],
                ("read" if one.measured else "not read") if one.plain else shown(one.quantity, one.measured),
                shown(one.quantity, one.before),
                shown(one.quantity, one.after),
                ("" if one.residual == 0.0 else f"{one.residual:.1f} dB off")
                if one.plain
                else ("clamped" if one.clamped else f"{100 * one.residual:+.1f} %"),
                "" if one.clamped or one.plain else f"{one.deviation:+.1f}",
            )
            for one in fitted.compared
        ],
        "notes": notes(fitted, model.found.candidate.state),
        "cautions": cautions,
    }


def _unknown_row(one: Any) -> tuple[str, str, str, str]:
    key = one.unknown.key
    interval = one.held or f"{value_text(key, one.low)} to {value_text(key, one.high)}"
    edge = "; at the edge of what is possible" if one.at_edge else ""
    return NAMES[key], value_text(key, one.unknown.nominal), value_text(key, one.value), interval + edge


def write_bench(
    folder: Path, context: dict[str, Any], model: BenchModel, fitted: Fitted, ports: list[MeasuredPort]
) -> Path:
    """Write page and table into their folder."""
    values = {one.unknown.key: one.value for one in fitted.unknowns}
    told = model.predicted(values)
    with styled():
        drawn = [("overlay", overlay_picture(model, fitted, _overlay_title(fitted)))]
        drawn.append(("residuals", residual_picture(fitted)))
        for port in ports:
            at = next(number for number, one in enumerate(model.readings) if one.note == port.file and one.line == 0)
            drawn.append(("port", port_picture(port, model.candidate.frequency, told[at])))
        pictures = [
            Picture(f"{key}{number}", made[1], ABOUT[key], made[0])
            for number, (key, made) in enumerate(drawn)
            if made is not None
        ]
    write_text(folder / TABLE, readings_table(fitted))
    page = folder / PAGE
    write_text(page, page_template("bench.html.j2").render(pictures=pictures, **context))
    return page


def _overlay_title(fitted: Fitted) -> str:
    far = len([one for one in fitted.outlying if not one.plain])
    if far:
        return f"{far} reading{'s' * (far != 1)} far from the curve"
    return "Every reading lies near its curve"


def readings_table(fitted: Fitted) -> str:
    """Every reading as CSV, SI units and °C in the headings' sense, computed with nominal and with found unknowns."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(
        ["line", "height_m", "offset_m", "tilt_rad", "quantity", "measured_SI", "relative_uncertainty", "computed_SI",
         "computed_as_found_SI", "deviation_in_uncertainties"]
    )  # fmt: skip
    for one in fitted.compared:
        reading = one.reading
        height = "" if reading.height is None else reading.height
        writer.writerow(
            [reading.line, height, reading.offset, reading.tilt, one.quantity, one.measured, one.sigma, one.before,
             one.after, "" if one.clamped else one.deviation]
        )  # fmt: skip
    return text.getvalue()
