"""Runs the code blocks of a page, so that what a reader types is what was tried.

A ``toml`` block whose first line is ``# file: NAME`` writes that file, ``# add to NAME`` adds to it; another one is
only read as TOML. A ``csv`` block after ``<!-- file: NAME -->`` is written as it stands. ``sh`` blocks are run by
``bash -e`` with this checkout's ``trivet``, ``python`` blocks by this Python, both in the page's folder. The lines of a
``text`` block must stand in what the block before it printed; ``…`` is whatever. ``make``, ``git`` and ``cd`` lines set
up an environment, which tests have already: they are left out and counted. So is a block after
``<!-- not run: WHY -->``.
"""

import os
import re
import shlex
import subprocess
import sys
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

LONGEST = 240
_BLOCK = re.compile(
    r"^(?:<!-- (?P<mark>file|not run): (?P<said>[^\n]+) -->\n)?```(?P<kind>\w+)\n(?P<text>.*?)^```$", re.M | re.S
)
_FILE = re.compile(r"# (file:|add to) (\S+)\n")
_SET_UP = re.compile(r"(make|git|cd)\b")


class BlockError(AssertionError):
    """A block that does not do what its page says: page and line, and what came of it."""


@dataclass(frozen=True)
class Block:
    """A block of a page: its language, text and place, and what a mark before it says."""

    page: str
    line: int
    kind: str
    text: str
    mark: str = ""
    said: str = ""

    def fault(self, what: str) -> BlockError:
        """This block's, for raising."""
        return BlockError(f"{self.page}:{self.line}: {what}")


@dataclass
class Ran:
    """What was run: commands as typed, and what was left out."""

    commands: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)


def blocks_of(page: Path) -> list[Block]:
    """All blocks of a page that name their language."""
    text = page.read_text(encoding="utf-8")
    return [
        Block(
            page.name,
            text.count("\n", 0, one.start()) + 1,
            one["kind"],
            one["text"],
            one["mark"] or "",
            one["said"] or "",
        )
        for one in _BLOCK.finditer(text)
    ]


def run_blocks(blocks: list[Block], folder: Path, tools: Path) -> Ran:
    """Run blocks one after the other in a folder; ``tools`` holds the commands.

    Raises
    ------
    BlockError
        At the first that does not do what the page says.
    """
    ran, printed = Ran(), ""
    for block in blocks:
        if block.mark == "not run":
            ran.left_out.append(block.text)
        elif block.kind == "toml":
            _write_toml(block, folder)
        elif block.kind == "csv" and block.mark == "file":
            (folder / block.said).write_text(block.text, encoding="utf-8")
        elif block.kind in ("sh", "python"):
            printed = _run(block, folder, tools, ran)
        elif block.kind == "text":
            _compare(block, printed)
    return ran


def _write_toml(block: Block, folder: Path) -> None:
    named = _FILE.match(block.text)
    try:
        tomllib.loads(block.text)
    except tomllib.TOMLDecodeError as error:
        raise block.fault(f"is no TOML: {error}") from None
    if named is None:
        return
    path = folder / named[2]
    before = "" if named[1] == "file:" else path.read_text(encoding="utf-8") + "\n"
    path.write_text(before + block.text[named.end() :], encoding="utf-8")


def _run(block: Block, folder: Path, tools: Path, ran: Ran) -> str:
    if block.kind == "python":
        command, typed = [sys.executable, "-c", block.text], block.text
    else:
        lines = block.text.splitlines()
        ran.left_out += [line for line in lines if _SET_UP.match(line)]
        typed = "\n".join(line for line in lines if not _SET_UP.match(line))
        command = ["bash", "-e", "-o", "pipefail", "-c", typed.replace(".venv/bin/trivet", "trivet")]
    path = f"{tools}{os.pathsep}{os.environ['PATH']}"
    env = os.environ | {"PATH": path, "PYTHONPATH": str(Path(__file__).parents[2]), "OPENBLAS_NUM_THREADS": "1"}
    try:
        done = subprocess.run(
            command, cwd=folder, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=LONGEST
        )
    except subprocess.TimeoutExpired:
        raise block.fault(f"was not done after {LONGEST} s") from None
    if done.returncode != 0:
        raise block.fault(f"ended with {done.returncode}\n{done.stdout}")
    if typed.strip():
        ran.commands.append(typed)
    return done.stdout


def _compare(block: Block, printed: str) -> None:
    flat = " ".join(printed.split())
    for line in block.text.splitlines():
        parts = [re.escape(" ".join(part.split())) for part in line.split("…")]
        if not re.search(".*".join(parts), flat):
            raise block.fault(f'"{line}" was not printed, but\n{printed}')


def make_tools(folder: Path) -> Path:
    """A folder with a ``trivet`` that is this checkout's."""
    folder.mkdir()
    tool = folder / "trivet"
    start = "from studies.command import main; main()"
    tool.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -c "{start}" "$@"\n', encoding="utf-8")
    tool.chmod(0o755)
    return folder
