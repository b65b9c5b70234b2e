"""docs/validation.md says what the checks give.

Identical: sources, quantities, printed values, tolerances, reasons, status. Values that are computed may differ by a
tenth of what the row allows, or by two of the last digit shown. Another linear algebra library or processor moves
them by less than a millionth of themselves; a change of the program that moves one by more wants the table written
anew (make validation).
"""

import pytest

from tests.published.records import ROWS, Means, Record, Row, Source, Status
from tests.published.table import PRINTED, TABLE, cells, counts, read_table, validation_table

PUBLISHED, COMPUTED, DIFFERENCE = 1, 2, 3
STATED = read_table(TABLE.read_text(encoding="utf-8"))


def faults(row: Row, stated: list[str]) -> list[str]:
    """How the table's cells differ from those of a row."""
    found, given = [], cells(row)
    for number, (mine, theirs) in enumerate(zip(given, stated, strict=True)):
        loose = number == COMPUTED or (number == PUBLISHED and row.status not in PRINTED)
        if loose:
            jitter = max(0.1 * row.allowed, 2.0 * 10.0**row.place)
            value = row.computed if number == COMPUTED else row.published
            if not abs(float(theirs) - value) <= max(jitter, 4e-15 * abs(value)):
                found.append(f"{row.source.name}, {row.quantity}: {theirs} in the table, {mine} here")
        elif number != DIFFERENCE and mine != theirs:
            found.append(f"{row.source.name}, {row.quantity}: {theirs!r} in the table, {mine!r} here")
    return found


def test_rows_of_the_table_are_those_of_the_checks(all_checks_ran: bool) -> None:
    if not ROWS:
        pytest.skip("no check has run before the table's own test")
    missing = [f"{r.source.name}, {r.quantity}: no such row" for r in ROWS if (r.source.name, r.quantity) not in STATED]
    other = [fault for row in ROWS for fault in faults(row, STATED.get((row.source.name, row.quantity), cells(row)))]
    assert not missing + other, "run make validation:\n" + "\n".join(missing + other)
    if all_checks_ran:
        ours = {(row.source.name, row.quantity) for row in ROWS}
        assert not set(STATED) - ours, "rows in docs/validation.md without a check: run make validation"
        assert counts(list(ROWS)) in TABLE.read_text(encoding="utf-8")


def test_enough_checks_and_sources(all_checks_ran: bool) -> None:
    # Promised: at least 20 checks against at least 12 independent sources; none of them a transcription.
    if not all_checks_ran:
        pytest.skip("some checks of tests/published were left out")
    acting = [row for row in ROWS if row.source.kind != "none" and row.means is not Means.TRANSCRIPTION]
    assert len(acting) >= 20
    assert len({row.source.counted_as for row in acting}) >= 12


def row(**changes: object) -> Row:
    source = Source("Nobody 1900", "N. Nobody, *Nothing*, 1900.", "book")
    given = {"source": source, "quantity": "q | r [m]", "published": 2.5, "computed": 2.5004, "allowed": 1e-3,
             "relative": None, "why": "because", "status": Status.MEMORY, "means": Means.INTEGRAL}  # fmt: skip
    return Row(**{**given, **changes})  # type: ignore[arg-type]


def test_the_page_reads_back() -> None:
    text = validation_table([row(), row(quantity="other", published=1e-9, computed=1.0005e-9, allowed=1e-12)])
    found = read_table(text)
    assert found["Nobody 1900", "q | r [m]"] == cells(row())
    assert found["Nobody 1900", "q | r [m]"][1:4] == ["2.5", "2.5004", "+0.0004"]
    assert found["Nobody 1900", "other"][1:4] == ["1e-09", "1.0005e-09", "+5e-13"]
    assert not faults(row(), found["Nobody 1900", "q | r [m]"])


@pytest.mark.parametrize(
    "changes",
    [{"published": 2.6}, {"allowed": 2e-3}, {"why": "no reason"}, {"status": Status.SEEN}, {"computed": 2.5007},
     {"means": Means.TRANSCRIPTION}],
)  # fmt: skip
def test_another_row_is_noticed(changes: dict[str, object]) -> None:
    assert faults(row(**changes), cells(row()))


def test_a_check_that_does_not_hold_fails_and_leaves_its_row() -> None:
    record = Record(row().source, Status.MEMORY, Means.INTEGRAL, "because")
    try:
        with pytest.raises(AssertionError, match=r"published 2\.5, computed 2\.6, 0\.1 apart where 0\.001 is allowed"):
            record.compare("fails", 2.5, 2.6, absolute=1e-3)
        with pytest.raises(ValueError, match="two checks are called 'fails'"):
            record.compare("fails", 2.5, 2.5, absolute=1e-3)
        assert not ROWS[-1].holds
    finally:
        ROWS[:] = [r for r in ROWS if r.source.name != "Nobody 1900"]


def test_a_tolerance_is_stated_once_and_is_not_nothing() -> None:
    record = Record(row().source, Status.MEMORY, Means.INTEGRAL, "because")
    with pytest.raises(TypeError, match="either an absolute or a relative tolerance"):
        record.compare("none", 2.5, 2.5)
    with pytest.raises(ValueError, match="a tolerance of nothing"):
        record.compare("zero", 0.0, 0.0, relative=0.1)
