"""A row as read back: the dictionary that it was made of, in little memory."""

import json
import tracemalloc

import pytest

from studies.rows import AnyRow, Row, StoredRow
from studies.rows import number as number_of

ROW: Row = {"design": "c0001", "turns": 40, "q": 0.1 + 0.2, "limited": False, "margin": float("-inf"), "none": None}


def test_it_says_what_the_dictionary_said_in_order_and_kind() -> None:
    row = StoredRow(ROW)
    assert dict(row) == ROW
    assert row == StoredRow(ROW)
    assert list(row) == list(ROW)
    assert [type(value) for value in row.values()] == [type(value) for value in ROW.values()]
    assert row.get("nothing") is None
    assert "nothing" not in row
    assert "turns" in row
    with pytest.raises(KeyError):
        row["nothing"]
    assert number_of(row, "q") == 0.1 + 0.2


def test_a_column_may_be_a_number_here_and_missing_there() -> None:
    one, other = StoredRow({"a": 1.5, "b": 2.5}), StoredRow({"a": None, "b": 2.5})
    assert (one["a"], one["b"], other["a"], other["b"]) == (1.5, 2.5, None, 2.5)


def test_a_row_of_ninety_columns_takes_a_kilobyte() -> None:
    """As dictionaries of a file each, they took 8 kB and more: 800 MB for a hundred thousand."""
    text = json.dumps(
        {f"a_column_of_some_length_{n}": n + 0.5 for n in range(85)} | {f"word_{n}": "x" for n in range(5)}
    )

    def taken(make: "type[StoredRow] | type[dict]") -> float:  # type: ignore[type-arg]
        tracemalloc.start()
        kept: list[AnyRow] = [make(json.loads(text)) for _ in range(500)]
        size, _ = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return size / len(kept)

    taken(StoredRow)
    assert taken(StoredRow) < 1100.0
    assert taken(dict) > 8000.0
