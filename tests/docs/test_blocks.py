"""Every command and every code block of the tutorial, of the how-to pages and of the README does what its page says."""

import re
import shutil
from pathlib import Path

import pytest

from studies.command import main
from tests.docs.blocks import Block, BlockError, Ran, blocks_of, make_tools, run_blocks
from tests.studies.browser import looked_at

ROOT = Path(__file__).parents[2]
TUTORIAL = ROOT / "docs" / "tutorial.md"
HOW_TOS = sorted((ROOT / "docs" / "how-to").glob("*.md"))
LARGEST_LEFT_OUT = 3
"""Lines of all pages together that set up an environment or that take minutes."""

NARROWEST = 600.0
"""A picture of 62 rem that is drawn narrower than this has letters of less than 5 points [CSS pixels]."""


@pytest.fixture(scope="module")
def tools(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_tools(tmp_path_factory.mktemp("tools") / "bin")


@pytest.fixture(scope="module")
def tutorial(tools: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    """The folder that the tutorial leaves behind, from which every other page starts."""
    folder = tmp_path_factory.mktemp("tutorial")
    return folder, run_blocks(blocks_of(TUTORIAL), folder, tools)


@pytest.mark.slow
def test_the_tutorial_does_what_it_says(tutorial: tuple[Path, Ran]) -> None:
    folder, ran = tutorial
    assert len(ran.commands) >= 8
    pages = ("results/first/report.html", "results/my-bench/guide.html", "results/picked/pick.html", "sheet.html")
    assert [page for page in pages if not (folder / page).is_file()] == []


@pytest.fixture(scope="module")
def how_tos(
    tutorial: tuple[Path, Ran], tools: Path, tmp_path_factory: pytest.TempPathFactory
) -> dict[Path, tuple[Path, Ran | BlockError]]:
    """The folder that each page leaves behind, and what was run or where it failed."""
    found: dict[Path, tuple[Path, Ran | BlockError]] = {}
    for page in HOW_TOS:
        folder = tmp_path_factory.mktemp(page.stem) / "bench"
        shutil.copytree(tutorial[0], folder)
        try:
            found[page] = folder, run_blocks(blocks_of(page), folder, tools)
        except BlockError as error:
            found[page] = folder, error
    return found


@pytest.mark.slow
@pytest.mark.parametrize("page", HOW_TOS, ids=lambda page: page.stem)
def test_a_how_to_does_what_it_says(page: Path, how_tos: dict[Path, tuple[Path, Ran | BlockError]]) -> None:
    ran = how_tos[page][1]
    if isinstance(ran, BlockError):
        raise ran
    assert ran.commands


@pytest.mark.slow
@pytest.mark.parametrize("width", [390, 1280])
def test_every_kind_of_page_fits_a_phone_and_a_desk(
    width: int,
    tutorial: tuple[Path, Ran],
    how_tos: dict[Path, tuple[Path, Ran | BlockError]],
    tmp_path: Path,
) -> None:
    """Nothing reaches out of the page or is cut off; what is wider scrolls within itself, pictures stay readable."""
    at = {page.stem: folder / "results" for page, (folder, _) in how_tos.items()}
    first = tutorial[0] / "results"
    pages = [
        first / "first" / "report.html", at["vessels-and-puck"] / "glass" / "report.html",
        first / "my-bench" / "guide.html", first / "picked" / "pick.html", tutorial[0] / "sheet.html",
        at["tolerances-and-yield"] / "yield" / "yield.html",
        at["bench-readings"] / "first" / "bench-c0006" / "bench.html",
        at["compare-and-review"] / "first" / "compare" / "compare.html",
        at["compare-and-review"] / "first" / "review.html", at["compare-and-review"] / "index.html",
    ]  # fmt: skip
    found = looked_at(pages, width, tmp_path)
    assert len(found) == len(pages)
    for one in found:
        assert (one.wide, one.out, one.cut) == (width, [], []), one.page
        assert one.narrowest >= NARROWEST, one.page


def test_little_is_left_out() -> None:
    blocks = [block for page in (TUTORIAL, *HOW_TOS) for block in blocks_of(page)]
    unrun = [block for block in blocks if block.mark == "not run"]
    assert len(unrun) <= LARGEST_LEFT_OUT
    assert all(len(block.said) > 20 for block in unrun)


def test_every_command_is_shown_at_work() -> None:
    typed = "\n".join(
        block.text
        for page in (TUTORIAL, *HOW_TOS)
        for block in blocks_of(page)
        if block.kind == "sh" and not block.mark
    )
    shown = set(re.findall(r"^trivet (\w+)", typed, re.MULTILINE))
    assert shown | {"new"} == set(main.commands)  # the tutorial writes its own file, and names the starter


def test_every_block_of_every_page_is_of_a_kind_that_is_run() -> None:
    kinds = {block.kind for page in ROOT.glob("docs/**/*.md") for block in blocks_of(page)}
    assert kinds <= {"sh", "toml", "csv", "python", "text"}


@pytest.mark.slow
def test_the_readmes_commands_are_those_of_the_command(tools: Path, tmp_path: Path) -> None:
    """Its runs are the demo's: here each line is asked for its help, which fails for what is not there."""
    for block in blocks_of(ROOT / "README.md"):
        for line in block.text.splitlines() if block.kind == "sh" else ():
            if line.startswith(".venv/bin/trivet"):
                words = line.partition("#")[0].split("[")[0].split()
                asked = Block("README.md", block.line, "sh", " ".join([*words[:2], "--help"]))
                run_blocks([asked], tmp_path, tools)


BROKEN = {
    "sh": ("trivet no-such-thing\n", "No such command"),
    "pipe": ("false | true\n", "ended with 1"),
    "toml": ('key = "no end\n', "is no TOML"),
    "python": ("import no_such_module\n", "ModuleNotFoundError"),
    "text": ("this was never printed\n", "was not printed"),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_a_broken_block_is_told_with_page_and_line(kind: str, tools: Path, tmp_path: Path) -> None:
    text, told = BROKEN[kind]
    page = tmp_path / "page.md"
    page.write_text(
        f"# Page\n\n```sh\necho fine\n```\n\n```{'sh' if kind == 'pipe' else kind}\n{text}```\n", encoding="utf-8"
    )
    with pytest.raises(BlockError, match=rf"page\.md:7: (.|\n)*{told}"):
        run_blocks(blocks_of(page), tmp_path, tools)


def test_what_a_page_writes_adds_to_and_expects(tools: Path, tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text(
        "```toml\n# file: a.toml\nx = 1\n```\n```toml\n# add to a.toml\ny = 2\n```\n"
        "<!-- file: a.csv -->\n```csv\nu,v\n```\n```sh\nmake nothing\ncat a.toml a.csv\n```\n"
        "```text\nx = … y = 2 u,v\n```\n"
        "<!-- not run: it would fail -->\n```sh\nfalse\n```\n",
        encoding="utf-8",
    )
    ran = run_blocks(blocks_of(page), tmp_path, tools)
    assert ran.commands == ["cat a.toml a.csv"]
    assert ran.left_out == ["make nothing", "false\n"]
