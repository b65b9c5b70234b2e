"""What ranked stock parts come to, as text for a terminal and as rows for a table."""

import csv
import io
import re
from collections.abc import Sequence

from studies.engineering import engineering
from studies.rows import Row, number
from studies.stock import Judged

MOST_SHOWN = 40
"""Parts listed on a terminal; a table file and JSON have all of them."""

OWN = (
    "rank", "name", "status", "message", "warnings", "inductance_H", "tolerance", "dc_resistance_ohm", "diameter_m",
    "height_m", "outer_diameter_m", "self_resonance_Hz", "saturation_current_A", "temperature_limit_degC", "price",
)  # fmt: skip
"""Columns of every part, whatever came of it."""


def stock_rows(found: Sequence[Judged]) -> list[Row]:
    """A row a part, the best first; columns that a list has besides ours follow as written."""
    return [_row(rank, one) for rank, one in enumerate(found, 1)]


def _row(rank: int, one: Judged) -> Row:
    part = one.part
    row: Row = {
        "rank": rank if one.status == "ranked" else None,
        "name": part.name,
        "status": one.status,
        "message": one.message,
        "warnings": "; ".join(one.warnings),
        "inductance_H": part.inductance,
        "tolerance": part.tolerance,
        "dc_resistance_ohm": part.dc_resistance,
        "diameter_m": part.diameter,
        "height_m": part.height,
        "outer_diameter_m": part.outer_diameter,
        "self_resonance_Hz": part.self_resonance,
        "saturation_current_A": part.saturation_current,
        "temperature_limit_degC": part.temperature_limit,
        "price": part.price,
    }
    row |= one.row
    return row | {heading: text for heading, text in part.others if heading not in row}


def stock_table(found: Sequence[Judged]) -> str:
    """All rows as CSV; cells of what a part does not have are empty.

    What a list has in words is kept, but with an apostrophe before what a spreadsheet would take for a formula.
    """
    rows = stock_rows(found)
    names = dict.fromkeys([*OWN, *(name for row in rows for name in row)])
    text = io.StringIO()
    writer = csv.DictWriter(text, names, restval="", lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _cell(value) for name, value in row.items()})
    return text.getvalue()


def _cell(value: float | int | str | bool | None) -> float | int | str | bool:
    if value is None:
        return ""
    formula = isinstance(value, str) and re.match(r"[=@\t]|[+-](?!\d)", value)
    return f"'{value}" if formula else value


def stock_lines(found: Sequence[Judged]) -> list[str]:
    """The ranking, a line a part with its warnings under it, then those that cannot be used and why."""
    best = [one for one in found if one.status == "ranked"]
    others = [one for one in found if one.status != "ranked"]
    width = max([4, *(len(one.part.name) for one in found)])
    lines = [_headline(best, others)]
    if best:
        heads = f"{'margin':>9}  {'off by its':>10}  {'chip':>9}  {'Q':>5}  {'to fit':>8}"
        lines += [f"      {'':<{width}}  {heads}", f"rank  {'part':<{width}}  {'':>9}  {'tolerance':>10}"]
    for rank, one in enumerate(best[:MOST_SHOWN], 1):
        lines.append(f"{rank:>4}  {one.part.name:<{width}}  {_figures(one)}")
        lines += [f"{'':>{6 + width}}  {text}" for text in one.warnings]
    lines += [f"   –  {one.part.name:<{width}}  {one.status}: {one.message}" for one in others[:MOST_SHOWN]]
    hidden = max(0, len(best) - MOST_SHOWN) + max(0, len(others) - MOST_SHOWN)
    return [*lines, f"and {hidden} more: --out and --json have all of them"] if hidden else lines


def _headline(best: Sequence[Judged], others: Sequence[Judged]) -> str:
    count = len(best) + len(others)
    if not best:
        return f"None of {count} parts can be used."
    first = best[0]
    passing = sum(number(one.row, "margin_dB") >= 0.0 for one in best)
    return (
        f"{first.part.name} is the best of {count} parts: {number(first.row, 'margin_dB'):.1f} dB at "
        f"{first.row['worst_place']}, {first.row['worst_state']}. {passing} of them are read at every place asked for, "
        f"{len(others)} cannot be used."
    )


def _figures(one: Judged) -> str:
    row = one.row
    off = f"{number(row, 'margin_at_tolerance_dB'):.1f} dB" if one.part.tolerance else "not given"
    cells = (
        (f"{number(row, 'margin_dB'):.1f} dB", 9),
        (off, 10),
        (engineering(number(row, "chip_voltage_V"), "V", 3), 9),
        (f"{number(row, 'tag_q'):.0f}", 5),
        (engineering(number(row, "capacitor_to_fit_F"), "F", 3), 8),
    )
    return "  ".join(f"{text:>{width}}" for text, width in cells)
