"""docs/validation.md: the rows of tests/published as a table, written by ``make validation`` and read back by a test.

Run as ``python -m tests.published.table``: runs every check of tests/published, then writes the table.
"""

import re
import sys
from collections.abc import Iterable
from math import floor, log10
from pathlib import Path

from tests.published.records import ROWS, Means, Row, Source, Status

TABLE = Path(__file__).parents[2] / "docs" / "validation.md"
HEADINGS = ("Quantity", "Published", "Computed", "Difference", "Allowed", "Why that much", "Value", "Exercises")
PRINTED = (Status.SEEN, Status.MEMORY)
NAMED = (Status.SEEN, Status.MEMORY, Status.FORMULA, Status.EMPIRICAL)

INTRODUCTION = """# Checks against published values

Written by `make validation` from the checks in `tests/published/`; do not edit. The table cannot differ from the
tests: each row is the assertion itself. `make test` compares it with what the checks give.

{counts}

**Value** says where the published value comes from: *printed value, seen* — its digits were read in a public document;
*printed value, from memory* — recalled from the named publication before it was recomputed, the digits not looked up
again; *exact published formula* — evaluated in the test, apart from the program; *published empirical formula* — the
same, of stated accuracy; *derived here, no source* and *common practice, no source* are what they say and count as no
source.

**Exercises** says what of the program the row puts to the test: *finite elements* — the meshed solution; *field
integrals* — the closed forms and integrals for coils in air and over layers, and the map's integrals; *other form of
the formula* — the program evaluates a formula of the same physics in another form or by another route; *transcription
only* — the program holds this very formula or constant, so the row shows that it was copied rightly and no more.

**Difference** is computed less published. **Computed** is shown to one digit beyond the first digit of what is allowed.
"""


def validation_table(rows: Iterable[Row]) -> str:
    """The whole page."""
    rows = list(rows)
    sources = sorted({row.source for row in rows}, key=_order)
    parts = [INTRODUCTION.format(counts=counts(rows))]
    for source in sources:
        own = [row for row in rows if row.source == source]
        parts += [f"## {source.name}", "", source.reference, "", _line(HEADINGS), _line(["---"] * len(HEADINGS))]
        parts += [_line(cells(row)) for row in own] + [""]
    return "\n".join(parts).rstrip() + "\n"


def counts(rows: list[Row]) -> str:
    """The sentence that counts checks and independent sources."""
    named = [row for row in rows if row.source.kind != "none" and row.status in NAMED]
    acting = [row for row in named if row.means is not Means.TRANSCRIPTION]
    fields = [row for row in acting if row.means is Means.ELEMENTS]
    printed = [row for row in acting if row.status in PRINTED]
    return (
        f"**{len(rows)} checks; {len(named)} of them against {_sources(named)} independent published sources.** "
        f"{len(acting)} of these, against {_sources(acting)} sources, put a computation of the program to the test and "
        f"not only a transcription: {len(fields)} against {_sources(fields)} sources go through the finite elements, "
        f"{len(printed)} against {_sources(printed)} are of digits as printed. The other {len(rows) - len(named)} "
        "checks have no published source. Publications of one author, or of which one reprints the other, count once."
    )


def _sources(rows: list[Row]) -> int:
    return len({row.source.counted_as for row in rows})


def cells(row: Row) -> list[str]:
    """A row's cells as text."""
    return [
        row.quantity,
        f"{row.published:.12g}" if row.status in PRINTED else shown(row.published, row),
        shown(row.computed, row),
        _difference(row),
        f"{row.allowed:.2g}" if row.relative is None else f"{row.allowed:.2g} ({_share(row.relative)})",
        row.why,
        row.status.value,
        row.means.value,
    ]


def shown(value: float, row: Row) -> str:
    """A value to the row's last decimal place, at most fifteen digits."""
    if -9 <= row.place <= 0:
        return f"{value:.{-row.place}f}"
    digits = 1 if value == 0.0 else floor(log10(abs(value))) - row.place + 1
    return f"{value:.{min(max(digits, 1), 15)}g}"


def _difference(row: Row) -> str:
    difference = row.computed - row.published
    if abs(difference) < 1e-3 * row.allowed:
        return f"under {1e-3 * row.allowed:.1g}"
    return f"{difference:+.2g}"


def _share(relative: float) -> str:
    return f"{100.0 * relative:.2g} %" if relative >= 1e-4 else f"{relative:.1g} of it"


def _order(source: Source) -> tuple[bool, str, str]:
    years = re.findall(r"\b(1[89]\d\d|20\d\d)\b", source.name)
    return source.kind == "none", years[-1] if years else "9999", source.name


def _line(texts: Iterable[str]) -> str:
    return "| " + " | ".join(text.replace("|", "\\|") for text in texts) + " |"


def read_table(text: str) -> dict[tuple[str, str], list[str]]:
    """Cells of each row of the page, by source and quantity."""
    found: dict[tuple[str, str], list[str]] = {}
    source = ""
    for line in text.splitlines():
        if line.startswith("## "):
            source = line[3:]
        elif source and line.startswith("| ") and not line.startswith(("| ---", f"| {HEADINGS[0]} ")):
            texts = [t.strip().replace("\\|", "|") for t in line.strip("| ").replace("\\|", "\0").split(" | ")]
            texts = [t.replace("\0", "|") for t in texts]
            found[source, texts[0]] = texts
    return found


def main() -> int:
    """Run the checks and write the table; the exit code is pytest's."""
    import pytest

    failed = pytest.main(["-q", str(Path(__file__).parent), "--ignore", str(Path(__file__).parent / "test_table.py")])
    if failed:
        return int(failed)
    TABLE.write_text(validation_table(ROWS), encoding="utf-8")
    print(f"{len(ROWS)} checks written to {TABLE.relative_to(Path.cwd())}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
