"""Lines of keys."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studies.keylines import key_lines, line_of
from studies.starter import starter_text
from studies.tomltext import toml_text

LIBRARY = sorted((Path(__file__).parents[2] / "studies" / "library").glob("*.toml"))

TEXT = '''\
# a comment with key = 1
top = 1
dotted.a."b c" = { x = 1, y = [ 1, { z = 2 } ] }   # y is on this line

[table]
text = """
[not.a.table]
key = "no"  \\""" # still inside"""
literal = \'\'\'
a = 1\'\'\'\'
list = [
  1, # one
  [2, 3],
  { name = "#]}" },
]
[[many]]
name = "a"
[many.inner]
x = 1
[[many]]
name = 'b'
[[many.deep]]
y = 2
[[many.deep]]
y = 3
[table.sub."q.r"]
last = 1979-05-27 07:32:00
'''


def paths(value: object, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    """All key paths of what tomllib read."""
    found = {path} if path else set()
    entries = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in entries:
        found |= paths(part, (*path, key))
    return found


def test_lines() -> None:
    lines = key_lines(TEXT)
    assert lines["top",] == 2
    assert lines["dotted", "a", "b c", "y", 1, "z"] == 3
    assert lines["table",] == 5
    assert lines["table", "text"] == 6
    assert lines["table", "literal"] == 9
    assert lines["table", "list"] == 11
    assert lines["table", "list", 0] == 12
    assert lines["table", "list", 1, 1] == 13
    assert lines["table", "list", 2, "name"] == 14
    assert lines["many", 0, "name"] == 17
    assert lines["many", 0, "inner", "x"] == 19
    assert lines["many", 1, "name"] == 21
    assert lines["many", 1, "deep", 0, "y"] == 23
    assert lines["many", 1, "deep", 1, "y"] == 25
    assert lines["table", "sub", "q.r", "last"] == 27


@pytest.mark.parametrize("text", [TEXT, starter_text(), *(file.read_text(encoding="utf-8") for file in LIBRARY)])
def test_finds_exactly_the_keys_there_are(text: str) -> None:
    assert set(key_lines(text)) == paths(tomllib.loads(text))
    with_returns = text.replace("\n", "\r\n")
    assert key_lines(with_returns) == key_lines(text)


def test_line_of_falls_back_to_what_holds_it() -> None:
    lines = {("a",): 1, ("a", "b"): 2}
    assert line_of(lines, ("a", "b")) == 2
    assert line_of(lines, ("a", "c", 3)) == 1
    assert line_of(lines, ("z",)) is None


SCALARS = st.one_of(st.integers(-100, 100), st.text(max_size=8), st.booleans(), st.floats(allow_nan=False))
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(st.text(max_size=6), VALUES, max_size=5))
def test_written_tables_are_read_back_and_every_key_is_found(table: dict[str, object]) -> None:
    text = toml_text(table)
    assert tomllib.loads(text) == table
    assert set(key_lines(text)) == paths(table)
