"""The page that a reviewer keeps open, as one file."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from links.cautions import CALCULATION_ONLY
from studies.files import write_text
from studies.findings import findings, headlines
from studies.hazards import candidate_cautions
from studies.review_data import review_data
from studies.stored import Arrays, Run, StoredDesign
from studies.templating import page_template

PAGE = "review.html"
_TEMPLATES = Path(__file__).parent / "templates"


def write_review(run: Run, arrays: Callable[[StoredDesign], Arrays]) -> Path:
    """Write ``review.html`` into a run's folder.

    Parameters
    ----------
    run : Run
        Complete or not.
    arrays : callable
        Gives map and lines of a computed candidate.
    """
    from plotly.offline import get_plotlyjs

    done = [stored.row for stored in run.designs if stored.status == "done"]
    page = run.folder / PAGE
    context = {
        "name": run.study.name,
        "headline": headlines(findings(run))[0],
        "complete": len(run.designs) == run.study.count,
        "cautions": candidate_cautions(run.study.base, done) if done else (CALCULATION_ONLY,),
        "data": as_script(review_data(run, arrays)),
        "plotting": get_plotlyjs(),
        "script": (_TEMPLATES / "review.js").read_text(encoding="utf-8"),
    }
    write_text(page, page_template("review.html.j2").render(context))
    return page


def as_script(data: Any) -> str:
    """JSON that can stand in a script element: no name in it can end the element or begin a comment."""
    return json.dumps(data, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")
