"""The documentation site: built with warnings as errors, every page reachable, nothing fetched from elsewhere."""

import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from docs.generate.modules import PACKAGES, module_names
from docs.generate.study_keys import ROOT

pytestmark = pytest.mark.slow

LOADING = {"script": "src", "img": "src", "iframe": "src", "source": "src", "link": "href"}


class Page(HTMLParser):
    """Links of a page, and what a browser would load for it."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.links: list[str] = []
        self.loads: list[str] = []
        self.feed(path.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "a":
            self.links.append(given.get("href") or "")
        if tag == "form":
            self.links.append(given.get("action") or "")
        if tag in LOADING:
            self.loads.append(given.get(LOADING[tag]) or "")
        self.loads += re.findall(r"url\(([^)]*)\)", given.get("style") or "")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    built = subprocess.run(
        [sys.executable, "-m", "sphinx", "-n", "-W", "--keep-going", "-q", "docs", str(folder)],
        cwd=ROOT, capture_output=True, text=True, timeout=600,
    )  # fmt: skip
    assert built.returncode == 0, built.stderr
    return folder


def pages(site: Path) -> dict[str, Page]:
    return {path.relative_to(site).as_posix(): Page(path) for path in site.rglob("*.html")}


def test_every_page_can_be_reached_from_the_first(site: Path) -> None:
    found, seen, ahead = pages(site), set(), ["index.html"]
    while ahead:
        name = ahead.pop()
        if name in seen or name not in found:
            continue
        seen.add(name)
        for link in found[name].links:
            target = urlsplit(link)
            if not target.scheme and target.path:
                path = (site / name).parent / unquote(target.path)
                ahead.append(path.resolve().relative_to(site.resolve()).as_posix())
    assert set(found) == seen


def test_every_link_within_the_site_leads_somewhere(site: Path) -> None:
    broken = []
    for name, page in pages(site).items():
        for link in page.links + page.loads:
            target = urlsplit(link.split("?")[0])
            within = not target.scheme and target.path
            if within and not ((site / name).parent / unquote(target.path)).exists():
                broken.append(f"{name}: {link}")
    assert broken == []


def test_nothing_is_loaded_from_elsewhere(site: Path) -> None:
    outside = [
        f"{name}: {load}"
        for name, page in pages(site).items()
        for load in page.loads
        if urlsplit(load).scheme not in ("", "data") or load.startswith("//")
    ]
    for sheet in site.rglob("*.css"):
        urls = re.findall(r"url\(\s*['\"]?([^'\")]+)|@import\s+['\"]([^'\"]+)", sheet.read_text(encoding="utf-8"))
        outside += [f"{sheet.name}: {one}" for pair in urls for one in pair if re.match(r"(https?:)?//", one)]
    assert outside == []


def test_every_module_has_its_page(site: Path) -> None:
    names = [name for package in PACKAGES for name in module_names(ROOT, package)]
    missing = [name for name in names if not (site / "reference" / "modules" / f"{name}.html").is_file()]
    assert missing == []


def test_formulas_need_no_script(site: Path) -> None:
    path = site / "reference" / "api.html"
    assert re.search(r"<math[^>]*>.*</math>", path.read_text(encoding="utf-8"), re.DOTALL)
    assert not [load for load in Page(path).loads if "mathjax" in load.lower()]
