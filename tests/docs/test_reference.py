"""The reference is made from the code: every key and every option is there, and nothing that is not."""

import re
import tomllib
from pathlib import Path

import click
import pytest

from docs.generate.commands import commands
from docs.generate.modules import PACKAGES, module_names, plain_signs
from docs.generate.study_keys import ROOT, assumed, meanings, study_keys, tables
from docs.generate.text import mended
from studies.command import main
from studies.sampling import LARGEST, METHODS
from studies.schema import StudyFile
from studies.study import NOT_OF_A_CANDIDATE, study_of

DOCS = ROOT / "docs"
KEYS_PAGE = (DOCS / "reference" / "study-keys.md").read_text(encoding="utf-8")
DEMO = (ROOT / "studies" / "library" / "culture-bench.toml").read_text(encoding="utf-8")


def test_every_key_has_a_meaning_and_every_meaning_a_key() -> None:
    known = {table.__name__: set(table.model_fields) for table in tables()}
    assert {name: set(told) for name, told in meanings().items()} == known


def test_meanings_are_sentences() -> None:
    told = [text for table in meanings().values() for text in table.values()]
    assert [text for text in told if not text.endswith(".") or text[0].islower()] == []
    assert [text for text in told if text.count("`") % 2] == []


def test_the_page_defines_every_key_once_a_table() -> None:
    page = study_keys(DOCS)
    defined = re.findall(r"^`(\w+)`\n: ", page, re.MULTILINE)
    assert sorted(defined) == sorted(key for table in tables() for key in table.model_fields)
    assert page.count("**Required.**") == sum(
        field.is_required() for table in tables() for field in table.model_fields.values()
    )


def test_tables_that_stand_in_several_places_name_them_all() -> None:
    page = study_keys(DOCS)
    assert "It stands at `base_coil.wire`, `tag.wire`." in page
    assert "It stands at `base_coil.capacitor`, `tag.capacitor`." in page
    assert "`layers.material`, `solids.material`, `base_coil.wire.conductor`" in page


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("mean_diameter", "A length of 0.1 "),
        ("turns", "A whole number (turns) of 1 to 100000"),
        ("tuning", "One of series, parallel. *Left open:* series (what a low-impedance bridge drives)."),
        ("outline", "A list of corners `[r, z]`"),
        ("size", "Three of them, `[x, y, z]`"),
        ("round_bottom", "`true` or `false`."),
        ("direction", "not all 0"),
    ],
)
def test_what_a_key_may_hold_is_what_the_schema_says(key: str, told: str) -> None:
    entries = study_keys(DOCS).split("\n\n`")
    assert any(entry.startswith(f"{key}`") and told in entry for entry in entries)


def test_every_assumption_stands_at_a_key_of_the_reference() -> None:
    known = {
        f"{place}.{key}".removeprefix(".")
        for table, places in tables().items()
        for place in places
        for key in table.model_fields
    }
    assert len(assumed()) > 30
    assert set(assumed()) <= known


def test_the_tables_outside_the_schema_are_told() -> None:
    headings = set(re.findall(r"^### `\[(\w+)\]`$", KEYS_PAGE, re.MULTILINE))
    assert headings == set(NOT_OF_A_CANDIDATE)
    assert all(f"`{method}`" in KEYS_PAGE for method in METHODS)
    assert LARGEST == 1_000_000
    assert "up to a million" in KEYS_PAGE


def test_the_examples_of_the_page_are_read() -> None:
    blocks = re.findall(r"^```toml\n(.*?)^```$", KEYS_PAGE, re.MULTILINE | re.DOTALL)
    assert len(blocks) == 4
    start = DEMO.partition("[sweep]")[0]
    for block in blocks:
        given = tomllib.loads(start)
        assert not set(tomllib.loads(block)) & set(given)
        study_of(f"{start}\n{block}", Path("example.toml"))


def test_every_command_and_option_is_told() -> None:
    page = commands(DOCS)
    assert re.findall(r"^## `trivet ([\w-]+)`$", page, re.MULTILINE) == sorted(main.commands)
    for name, command in main.commands.items():
        section = page.partition(f"## `trivet {name}`")[2].partition("\n## ")[0]
        options = [one for one in command.params if isinstance(one, click.Option) and not one.hidden]
        assert all(re.search(rf"^`[^`]*{re.escape(one.opts[0])}\b", section, re.MULTILINE) for one in options)


def test_modules_of_every_package_are_found() -> None:
    names = {package: module_names(ROOT, package) for package in PACKAGES}
    assert "studies.command" in names["studies"]
    assert "fem.elements" in names["fem"]
    assert not [name for found in names.values() for name in found if name.rsplit(".", 1)[-1].startswith("_")]


def test_signs_of_a_docstring_stand_as_they_are() -> None:
    lines = ["|M| is a*b, ``c*d`` is code"]
    plain_signs(lines)
    assert lines == [r"\|M\| is a\*b, ``c*d`` is code"]
    assert mended("``a_b`` and c_d <e>\nnext\n\nlast") == "`a_b` and c\\_d \\<e\\> next\n\nlast"


def test_no_key_of_the_file_itself_is_left_out() -> None:
    assert next(iter(tables())) is StudyFile


def test_files_that_the_pages_name_are_there() -> None:
    missing = []
    for page in DOCS.rglob("*.md"):
        text = page.read_text(encoding="utf-8")
        for group in re.findall(
            r"`((?:tests|studies|docs|fem|links)/[\w/.*-]+\.(?:py|toml|csv))`((?:, `test_\w+\.py`)*)", text
        ):
            folder = Path(group[0]).parent
            named = [group[0], *(str(folder / name) for name in re.findall(r"`(\w+\.py)`", group[1]))]
            missing += [f"{page.name}: {name}" for name in named if not list(ROOT.glob(name))]
    assert missing == []
