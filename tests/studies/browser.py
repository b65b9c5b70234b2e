"""A real browser without a screen, for tests of pages: Debian's chromium."""

import html
import json
import os
import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

_LOOK = Path(__file__).with_name("look.html").read_text(encoding="utf-8")


@dataclass(frozen=True)
class Looked:
    """A page at some width: how wide it is, what reaches out of it or is cut off, its narrowest picture."""

    page: str
    wide: float
    out: list[str]
    cut: list[str]
    narrowest: float


def dom_of(address: str, profile: Path, *options: str) -> str:
    """A page as the browser has it once all is drawn; the test is left out where there is no browser."""
    if CHROMIUM is None and not os.environ.get("TRIVET_NEEDS_BROWSER"):
        pytest.skip("needs Debian's chromium; CI installs it")
    assert CHROMIUM, "CI needs a browser"
    command = [
        CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
        f"--user-data-dir={profile}", *options, "--dump-dom", address,
    ]  # fmt: skip
    return subprocess.run(command, capture_output=True, text=True, timeout=240, check=True).stdout


def looked_at(pages: Sequence[Path], width: int, folder: Path) -> list[Looked]:
    """Pages as they lie in a window of some width [CSS pixels]; ``folder`` takes what the browser leaves behind."""
    folder.mkdir(parents=True, exist_ok=True)
    wrapper = folder / "look.html"
    addresses = json.dumps([page.resolve().as_uri() for page in pages])
    wrapper.write_text(_LOOK.replace("WIDTH", str(width)).replace("PAGES", addresses), encoding="utf-8")
    options = (
        "--allow-file-access-from-files",
        "--hide-scrollbars",
        f"--virtual-time-budget={10_000 * (len(pages) + 1)}",
    )
    found = re.search(r'<pre id="told">(.*?)</pre>', dom_of(wrapper.as_uri(), folder / "profile", *options), re.DOTALL)
    assert found is not None, "the browser did not come to an end"
    return [Looked(**one) for one in json.loads(html.unescape(found[1]))]
