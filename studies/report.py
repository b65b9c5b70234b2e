"""The report of a run: one page that opens with the decision and needs nothing beside itself."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from links.cautions import CALCULATION_ONLY, HOT_SURFACE
from studies.engineering import engineering
from studies.figures import Picture, Shown, Subject, candidate_pictures, profile_picture, save_pictures, study_pictures
from studies.files import write_text
from studies.findings import Findings, findings, headlines, number
from studies.hazards import HOTTEST
from studies.report_evidence import evidence_shown, warnings_of
from studies.report_numbers import (
    base_lines,
    error_lines,
    followed,
    is_consequence,
    levels,
    place_words,
    requirement_lines,
    tag_lines,
)
from studies.report_states import state_table
from studies.report_surroundings import surroundings_shown
from studies.report_vessels import vessels_shown
from studies.report_wire import wire_lines
from studies.stored import Arrays, Run, StoredDesign
from studies.stored_plane import plane_kept
from studies.templating import page_template

LARGEST_TABLE = 500
"""Candidates listed on the page; the table of all is ``designs.csv``."""

NOT_COMPUTED = (
    "how hot the wire, the tag or the plate become: temperatures are what the study file gives or assumes",
    "parts at the edges of their tolerances: every value here is the nominal one, tuning capacitors as given or exact",
    "the losses of the tuning capacitor, of leads and of connectors",
    "insulation, creepage, and anything else that safety hangs on",
    "bodies that are not round about the base coil's axis, and the heater's leads and bends",
    "how field and parts behave at harmonics of the drive, and radiated emissions beyond the dipole at 10 m",
)


_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")


@dataclass(frozen=True, slots=True)
class Entry:
    """A candidate's row of the table."""

    design: str
    state: str
    swept: tuple[str, ...]
    margin: str
    reach: str
    voltage: str
    current: str
    power: str
    misses: tuple[str, ...]


def write_report(run: Run, arrays: Callable[[StoredDesign], Arrays]) -> Path:
    """Write ``report.html`` and the ``figures`` folder into a run's folder.

    Parameters
    ----------
    run : Run
        Complete or not.
    arrays : callable
        Gives map and lines of a computed candidate.

    Returns
    -------
    Path
        Of the page.
    """
    found = findings(run)
    subject = _subject(run, found.best, arrays)
    shown = _shown(run, subject)
    pictures = (*shown.pictures, *_obstacle_pictures(run, found, subject, arrays), *study_pictures(found))
    _clear(run.folder / "figures")
    save_pictures(pictures, run.folder / "figures")
    page = run.folder / "report.html"
    context = _context(run, found, subject, replace(shown, pictures=pictures))
    write_text(page, page_template("report.html.j2").render(context))
    return page


def _clear(folder: Path) -> None:
    """Remove pictures of an earlier report: they may be of another candidate."""
    for ending in ("png", "svg"):
        for path in folder.glob(f"*.{ending}"):
            path.unlink()


def _subject(run: Run, stored: StoredDesign | None, arrays: Callable[[StoredDesign], Arrays]) -> Subject | None:
    return None if stored is None else Subject(stored, run.study.candidate(stored.index), arrays(stored))


def _shown(run: Run, subject: Subject | None) -> Shown:
    if subject is None:
        return Shown((), ("No candidate is computed: there is nothing to draw.",))
    return candidate_pictures(subject, plane_kept(run, subject.stored))


def _obstacle_pictures(
    run: Run, found: Findings, subject: Subject | None, arrays: Callable[[StoredDesign], Arrays]
) -> tuple[Picture, ...]:
    """Profile of the best of the others, where it is its reach or margin that falls short."""
    other = found.best_other
    if other is None or subject is None or other is subject.stored:
        return ()
    if not any(check.quantity in ("margin", "read_height") for check in other.failures):
        return ()
    shown = _subject(run, other, arrays)
    return () if shown is None else (profile_picture(shown, "profile_of_the_next"),)


def _context(run: Run, found: Findings, subject: Subject | None, shown: Shown) -> dict[str, Any]:
    first, *rest = headlines(found)
    return {
        "study": run.study,
        "found": found,
        "headline": first,
        "supporting": rest,
        "cautions": _cautions(run, subject),
        "verdict": _verdict(found),
        "subject": subject,
        "subject_name": "" if subject is None else found.named(subject.stored),
        "pictures": shown.pictures,
        "not_drawn": shown.missing,
        "other_name": "" if found.best_other is None else found.named(found.best_other),
        "entries": [_entry(found, stored) for stored in _listed(found)],
        "largest_table": LARGEST_TABLE,
        "numbers": _numbers(subject),
        "surroundings": surroundings_shown(run.info),
        "evidence": evidence_shown(run.info),
        "warnings": _warnings(run),
        "comments": leading_comments(run.study.text),
        "provenance": _provenance(run),
        "not_computed": NOT_COMPUTED,
    }


def _verdict(found: Findings) -> str:
    if not found.passing and not found.failing:
        return "unknown"
    return "pass" if found.passing else "fail"


def _listed(found: Findings) -> tuple[StoredDesign, ...]:
    return (*found.passing, *found.failing, *found.failed)[:LARGEST_TABLE]


def _cautions(run: Run, subject: Subject | None) -> tuple[str, ...]:
    """Those of the candidate shown, and of the sweep where another reaches more volts, is too hot or is too strong."""
    if subject is None:
        return (CALCULATION_ONLY,)
    shown = list(subject.stored.cautions) or [CALCULATION_ONLY]
    own = number(subject.stored, "coil_voltage_V") or 0.0
    others = {stored.design: number(stored, "coil_voltage_V") or 0.0 for stored in run.designs}
    worst = max(others, key=lambda name: others[name], default="")
    if others.get(worst, 0.0) > 1.05 * own:
        shown.insert(len(shown) - 1, f"Another candidate, {worst}, reaches {others[worst]:.0f} V peak across its coil.")
    heat = {stored.design: number(stored, HOTTEST) or 0.0 for stored in run.designs}
    hottest = max(heat, key=lambda name: heat[name], default="")
    if heat.get(hottest, 0.0) > max(heat[subject.stored.design], HOT_SURFACE):
        shown.insert(
            len(shown) - 1, f"In another candidate, {hottest}, parts reach {heat[hottest]:.0f} °C and burn skin."
        )
    far = {stored.design: -(number(stored, "field_at_10_m_margin_dB") or 0.0) for stored in run.designs}
    strongest = max(far, key=lambda name: far[name], default="")
    if far.get(strongest, 0.0) > max(far[subject.stored.design], 0.0):
        shown.insert(
            len(shown) - 1,
            f"Another candidate, {strongest}, is {far[strongest]:.1f} dB above the limit of the field at 10 m.",
        )
    return tuple(shown)


def _entry(found: Findings, stored: StoredDesign) -> Entry:
    state = "not computed" if stored.status == "failed" else "meets" if stored.passed else "misses"
    misses = (
        (stored.message,)
        if stored.status == "failed"
        else tuple(replace(check, where="").sentence for check in stored.failures)
    )
    margin, reach = number(stored, "margin_dB"), number(stored, "required_read_height_m")
    return Entry(
        design=stored.design,
        state=state,
        swept=tuple(axis.text(stored) for axis in found.axes),
        margin="" if margin is None else f"{margin:.1f}",
        reach="" if reach is None else f"{reach * 1e3:.1f}",
        voltage=_scaled(stored, "coil_voltage_V", 1.0, 0),
        current=_scaled(stored, "base_current_A", 1e3, 0),
        power=_scaled(stored, "input_power_W", 1.0, 2),
        misses=misses,
    )


def _scaled(stored: StoredDesign, name: str, factor: float, digits: int) -> str:
    value = number(stored, name)
    return "" if value is None else f"{value * factor:.{digits}f}"


def _numbers(subject: Subject | None) -> dict[str, Any] | None:
    if subject is None:
        return None
    candidate, stored = subject.candidate, subject.stored
    return {
        "requirements": requirement_lines(stored),
        "places": place_words(candidate),
        "base": base_lines(candidate, stored),
        "tag": tag_lines(candidate, stored),
        "levels": levels(candidate, stored),
        "wire": wire_lines(candidate, stored),
        "states": state_table(candidate, subject.arrays.states),
        "vessels": vessels_shown(candidate, subject.arrays.vessels),
        "followed": followed(candidate, stored),
        "assumed": [one for one in candidate.assumptions if not is_consequence(one)],
        "errors": error_lines(stored),
    }


def _warnings(run: Run) -> list[tuple[str, str]]:
    """Each warning once, with the candidates it is said of; those that differ in their numbers alone count as one."""
    said: dict[str, list[tuple[str, str]]] = {}
    for stored in run.designs:
        for text in stored.warnings:
            said.setdefault(_NUMBER.sub("#", text), []).append((text, stored.design))
    total = sum(stored.status == "done" for stored in run.designs)
    ordered = sorted(said.values(), key=len, reverse=True)
    of_the_base = [(text, "") for text in warnings_of(run.info)]
    return [*of_the_base, *((alike[0][0], _of(alike, total)) for alike in ordered)]


def _of(alike: list[tuple[str, str]], total: int) -> str:
    names = [name for _, name in alike]
    if len(names) == total:
        whose = "all candidates" if total > 1 else ""
    else:
        whose = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
    differ = len({text for text, _ in alike}) > 1
    return f"{whose}; with other figures in some of them" if differ else whose


def leading_comments(text: str) -> str:
    """The comment block a study file begins with, without its hashes; empty where it has none."""
    lines = []
    for line in text.lstrip("\ufeff").splitlines():
        if not line.startswith("#"):
            break
        lines.append(line.removeprefix("#").strip())
    return "\n".join(lines).strip()


def _provenance(run: Run) -> list[tuple[str, str]]:
    """What was run with what, as far as the run says."""
    info = run.info
    seconds = [float(value) for value in dict(info.get("seconds") or {}).values()]
    meshes = [number(stored, "mesh_triangles") for stored in run.designs]
    triangles = [int(size) for size in meshes if size is not None]
    versions = dict(info.get("versions") or {})
    found = [
        ("study", f"{run.study.name}, {engineering(run.study.base.frequency, 'Hz')}, "
                  f"wanted accuracy {run.study.base.accuracy:g}"),
        ("study hash", str(info.get("study_hash", ""))),
        ("state", f"{run.state}, {len(run.designs)} of {run.study.count} candidates stored"),
        ("started", str(info.get("started", ""))),
        ("finished", str(info.get("finished", ""))),
        ("time a candidate", f"{min(seconds):.2g} to {max(seconds):.2g} s" if seconds else ""),
        ("mesh", f"{min(triangles)} to {max(triangles)} triangles about the base coil" if triangles else ""),
        ("versions", ", ".join(f"{name} {text}" for name, text in versions.items())),
    ]  # fmt: skip
    return [(name, text) for name, text in found if text]
