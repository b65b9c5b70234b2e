"""The reading height over diameter × power of a run's best candidate, kept in the run's folder."""

import json
from pathlib import Path
from typing import Any

from studies.files import write_text
from studies.findings import findings
from studies.outputs import PLANE
from studies.pieces import piece_key
from studies.reach_plane import Plane, plane_from, plane_of, plane_record
from studies.specification import Candidate
from studies.stored import Run, StoredDesign
from studies.work import explained


def keep_plane(run: Run) -> None:
    """Compute the plane of the run's best candidate and store it, unless it is stored already.

    Where it cannot be computed the reason is stored in its place: the run does not hang on a picture.
    """
    best = findings(run).best
    if best is None:
        return
    candidate = run.study.candidate(best.index)
    key = piece_key(candidate, "plane")
    known = _record(run.folder)
    if known.get("key") == key and known.get("design") == best.design and "found" in known:
        return
    record: dict[str, Any] = {"key": key, "design": best.design}
    try:
        record["found"] = plane_record(plane_of(candidate))
    except Exception as fault:  # what cannot be wound or solved elsewhere than as designed: told in the report
        record["fault"] = explained(fault)
    write_text(run.folder / PLANE, json.dumps(record, allow_nan=False) + "\n")


def plane_kept(run: Run, stored: StoredDesign) -> Plane | str:
    """The stored plane of a candidate, or why there is none, in words that end a sentence."""
    record = _record(run.folder)
    if not record:
        return "the run holds none; `trivet run` on the same study adds it"
    if record.get("design") != stored.design:
        return f"the run holds that of {record.get('design')}, its best candidate"
    if "fault" in record:
        return f"it could not be computed: {record['fault']}"
    try:
        return plane_from(record["found"])
    except (KeyError, TypeError, ValueError):
        return f"{PLANE} is broken; `trivet run` on the same study makes it anew"


def plane_of_design(run: Run, stored: StoredDesign, candidate: Candidate) -> Plane | str:
    """The plane of any candidate of a run: as stored, or else computed and not kept; or why there is none."""
    found = plane_kept(run, stored)
    if isinstance(found, Plane):
        return found
    try:
        return plane_of(candidate)
    except Exception as fault:  # as in a run: the page is made without it
        return f"that of {stored.design} could not be computed: {explained(fault)}"


def _record(folder: Path) -> dict[str, Any]:
    """What the file says; nothing where it is missing or broken."""
    try:
        return dict(json.loads((folder / PLANE).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return {}
