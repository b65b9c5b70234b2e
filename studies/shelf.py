"""All runs in a folder on one page: what each says, when it ran, and which to compare."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from links.cautions import CALCULATION_ONLY
from studies.errors import RunError
from studies.files import write_text
from studies.findings import findings, headlines
from studies.outputs import INFO
from studies.store import read_run
from studies.templating import page_template
from studies.work import explained

PAGE = "index.html"
DEEPEST = 4
"""Folders below the shelf that are looked into: results/<study>/<run>, and the picks of a search one lower."""

THUMBNAIL = Path("figures") / "section.png"
PAGES = (("report.html", "report"), ("review.html", "review"))


CAUTIONS = (
    "Hot parts burn, hundreds of volts stand on a tuned coil, mains parts lie beside it, and strong fields disturb "
    "implants: what holds for a run stands on its own pages.",
    CALCULATION_ONLY,
)


@dataclass(frozen=True, slots=True)
class Standing:
    """One run on the shelf; ``fault`` says why one cannot be read."""

    folder: str
    study: str
    state: str
    finished: str
    designs: str
    answer: str
    verdict: str
    pages: tuple[tuple[str, str], ...]
    thumbnail: str
    fault: str = ""


def standing_in(shelf: Path) -> tuple[Standing, ...]:
    """The runs below a folder, the latest first.

    Raises
    ------
    RunError
        Where there is no such folder.
    """
    if not shelf.is_dir():
        raise RunError(f"{shelf} is not a folder; runs lie in results/<study>/<run>")
    found = [_standing(shelf, folder) for folder in _runs(shelf, DEEPEST)]
    return tuple(sorted(found, key=lambda one: (one.finished, one.folder), reverse=True))


def write_shelf(shelf: Path) -> tuple[Path, tuple[Standing, ...]]:
    """Write ``index.html`` into a folder of runs.

    Raises
    ------
    RunError
        Where there is no such folder, no run in it, or the page there is somebody else's.
    """
    found = standing_in(shelf)
    if not found:
        raise RunError(f"{shelf} holds no run; trivet run STUDY makes one")
    page = shelf / PAGE
    if (shelf / INFO).exists():
        raise RunError(f"{shelf} is a run itself; give the folder that holds the runs")
    if page.exists() and "trivet shelf" not in page.read_text(encoding="utf-8", errors="replace")[:400]:
        raise RunError(f"{page} was not written by trivet shelf and is left alone; move it, or give another folder")
    context = {"shelf": shelf.name or str(shelf), "runs": found, "cautions": CAUTIONS}
    write_text(page, page_template("shelf.html.j2").render(context))
    return page, found


def _runs(folder: Path, deeper: int) -> Iterator[Path]:
    """Folders that hold a run; nothing is looked for inside one, and links are not followed."""
    if (folder / INFO).is_file():
        yield folder
        return
    if deeper == 0:
        return
    try:
        inner = sorted(one for one in folder.iterdir() if one.is_dir() and not one.is_symlink())
    except OSError:
        return
    for one in inner:
        if not one.name.startswith("."):
            yield from _runs(one, deeper - 1)


def _standing(shelf: Path, folder: Path) -> Standing:
    name = folder.relative_to(shelf).as_posix()
    pages = tuple((quote(f"{name}/{file}"), text) for file, text in PAGES if (folder / file).is_file())
    thumbnail = quote(f"{name}/{THUMBNAIL.as_posix()}") if (folder / THUMBNAIL).is_file() else ""
    try:
        run = read_run(folder)
        found = findings(run)
        answer = headlines(found)[0]
    except Exception as fault:  # what a damaged run makes of its readers cannot be listed, and the others stay
        return Standing(
            name, _named(folder), "cannot be read", "", "", "", "unknown", pages, thumbnail, explained(fault)
        )
    return Standing(
        folder=name,
        study=run.study.name,
        state=run.state,
        finished=str(run.info.get("finished") or run.info.get("started") or ""),
        designs=f"{len(run.designs)} of {run.study.count}",
        answer=answer,
        verdict="pass" if found.passing else "fail" if found.failing else "unknown",
        pages=pages,
        thumbnail=thumbnail,
    )


def _named(folder: Path) -> str:
    """What a run that cannot be read calls its study, as far as that is known."""
    try:
        return str(json.loads((folder / INFO).read_text(encoding="utf-8")).get("study", ""))
    except (OSError, ValueError, AttributeError):
        return ""
