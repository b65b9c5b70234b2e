"""A comparison as one self-contained page: what differs, what it does, and whether to believe it."""

from pathlib import Path
from typing import Any

from studies.compare_texts import (
    all_cautions,
    grids_text,
    headline,
    percent,
    place_change,
    same_grids,
    signed,
    supporting,
    verdict_word,
)
from studies.compared import Side
from studies.comparing import Comparison, Pair, common_spread
from studies.engineering import place_text
from studies.figures import Picture, Subject, base_source, scene_of_result
from studies.figures_compare import Drawn, cuts, ladder_difference, maps_beside, margin_difference, responses
from studies.figures_planes import planes_beside
from studies.figures_section import section_with_margin
from studies.figures_style import styled
from studies.files import write_text
from studies.findings import number, worst_words
from studies.reach_plane import Plane
from studies.stored_plane import plane_of_design
from studies.templating import page_template

PAGE = "compare.html"
MOST_NAMES = 40

ABOUT = {
    "ladder": "Margin left after each step at the worst of the places asked for, in both; right: by how much the other "
    "has more or less, and how much of that this step makes.",
    "margin": "Margin on each design's worst line, the worst of all states, with the band that the estimated error "
    "leaves; below, the difference with the errors of both.",
    "maps": "k, its lean the worst way, on one scale; right their ratio. Hatched: the difference is smaller than the "
    "estimated errors of both together, and is not to be read.",
    "cuts": "Vertical and sideways cut through the coupling maps, upright, with error bands.",
    "plane": "Above: reading height of each over diameter and input power at its own inductance, worst place and "
    "state; a dot where it is designed, thick lines where its study stops it. Below: by how much the other is read "
    "higher; hatched: no more than the estimated errors of k of both make of it.",
    "response": "Base current at constant drive and tag voltage at constant induction, over the reference's peak.",
}


def write_comparison(found: Comparison, folder: Path) -> Path:
    """Write the page into a folder.

    Returns
    -------
    Path
        Of the page.
    """
    page = folder / PAGE
    folder.mkdir(parents=True, exist_ok=True)
    write_text(page, page_template("compare.html.j2").render(**_context(found)))
    return page


def _context(found: Comparison) -> dict[str, Any]:
    planes = () if found.same else tuple(plane_of_design(s.run, s.stored, s.candidate) for s in found.sides)
    return {
        "title": " and ".join(dict.fromkeys(side.name for side in found.sides)),
        "same": found.same,
        "headlines": [headline(found, pair) for pair in found.pairs],
        "lines": list(dict.fromkeys(line for pair in found.pairs for line in supporting(found, pair))),
        "letters": [side.letter for side in found.sides],
        "sides": [_side(side) for side in found.sides],
        "differences": [(one.key, _kind(one.kind), one.values) for one in found.differences],
        "places": [_place(found, place) for place in found.places],
        "pairs": [_pair(found, pair, planes) for pair in found.pairs],
        "sections": [_section(side) for side in found.sides],
        "grids": "" if same_grids(found) else grids_text(found),
        "cautions": all_cautions(found),
    }


def _kind(kind: str) -> str:
    return {"design": "", "question": "what is asked", "follows": "assumed"}[kind]


def _side(side: Side) -> dict[str, Any]:
    row = side.stored.row
    relative = number(side.stored, "coupling_coefficient_rel_error")
    error = "" if relative is None else f" (± {100 * relative:.2g} % of it)"
    return {
        "letter": side.letter,
        "name": side.name,
        "given": side.given,
        "verdict": verdict_word(side),
        "passed": side.stored.passed,
        "misses": [check.sentence for check in side.stored.failures],
        "stands": side.stands,
        "physics": side.physics or "unknown",
        "worst": f"{row.get('worst_place', '')}, {row.get('worst_state', '')}",
        "coupling": percent(number(side.stored, "coupling_coefficient")) + error,
        "margin": signed(number(side.stored, "margin_dB"), plus=""),
    }


def _place(found: Comparison, at: Any) -> tuple[str, list[str], list[str]]:
    levels = ["not mapped" if one is None else f"{100 * one.coupling:.4g} %, {signed(one.margin)}" for one in at.levels]
    changes = []
    for pair in found.pairs:
        change = place_change(at, pair)
        if change is None:
            changes.append("not mapped")
        else:
            coupling, margin, error = change
            changes.append(f"k {signed(coupling)} (± {error:.2g} dB), margin {signed(margin)}")
    return place_text(at.place), levels, changes


def _pair(found: Comparison, pair: Pair, planes: tuple[Plane | str, ...]) -> dict[str, Any]:
    reference, other = found.sides[0], found.sides[pair.other]
    with styled():
        drawn: list[tuple[str, Drawn | str | None]] = [
            ("ladder", ladder_difference(reference, other)),
            ("margin", margin_difference(reference, other)),
            ("plane", _planes(reference, other, planes, pair.other)),
            ("response", responses(reference, other)),
            ("maps", maps_beside(reference, other)),
            ("cuts", cuts(reference, other)),
        ]
    missing = [made or _missing(key, reference, other) for key, made in drawn if not isinstance(made, tuple)]
    return {
        "letter": other.letter,
        "reference": reference.letter,
        "pictures": [
            Picture(f"{other.letter}-{key}", made[1], ABOUT[key], made[0])
            for key, made in drawn
            if isinstance(made, tuple)
        ],
        "missing": missing,
        "common": pair.common,
        "gained": _names(pair.gained),
        "lost": _names(pair.lost),
    }


def _planes(reference: Side, other: Side, planes: tuple[Plane | str, ...], place: int) -> Drawn | str | None:
    """Both planes and their difference, or why not, in a sentence; None where nothing is compared."""
    if not planes:
        return None
    first, second = planes[0], planes[place]
    for side, one in ((reference, first), (other, second)):
        if isinstance(one, str):
            return f"Reading height over diameter and power is not compared: {side.letter}: {one}."
    assert isinstance(first, Plane), "told above"
    assert isinstance(second, Plane), "told above"
    errors = [number(side.stored, "mutual_inductance_rel_error") or 0.0 for side in (reference, other)]
    error = max(sum(errors) - 2.0 * common_spread(reference, other), 0.0)
    made = planes_beside((reference.letter, first), (other.letter, second), error)
    return made if isinstance(made, tuple) else f"Reading height over diameter and power is not compared: {made}."


def _missing(key: str, reference: Side, other: Side) -> str:
    both = f"{reference.letter} and {other.letter}"
    if key in ("maps", "cuts"):
        return f"The maps of {both} have no common part of more than one height and offset: no ratio is drawn."
    words = {"ladder": "loss ladder", "response": "response"}.get(key, key)
    return f"The {words} of {both} was not computed in both."


def _names(names: tuple[tuple[str, str], ...]) -> list[str]:
    told = [one if one == two else f"{one} (there {two})" for one, two in names[:MOST_NAMES]]
    return [*told, f"{len(names) - MOST_NAMES} more"] if len(names) > MOST_NAMES else told


def _section(side: Side) -> tuple[str, Picture]:
    subject = Subject(side.stored, side.candidate, side.arrays)
    with styled():
        figure, title = section_with_margin(
            scene_of_result(subject), side.arrays.map, worst_words(side.stored), base_source(subject)
        )
    about = (
        "Section to scale with contours of the margin, the lean the worst way, at 0, 3 and 6 dB; brown: the public "
        "reference level (ICNIRP 2010, rms) at the greatest base current."
    )
    return side.letter, Picture(f"{side.letter}-section", title, about, figure)
