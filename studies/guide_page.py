"""The guide as one page: pictures with a sentence each that says what they show."""

from pathlib import Path
from typing import Any

import numpy as np

from studies.figures import ABOUT_PLANE, Picture
from studies.figures_guide import (
    costs_picture,
    diameter_picture,
    leaning_picture,
    nothing_read,
    power_picture,
    turns_picture,
    volts_picture,
)
from studies.figures_plane import bound_text, plane_finding, plane_picture
from studies.figures_style import styled
from studies.files import check_writable, write_text
from studies.guide import Guide
from studies.hazard_columns import field_columns
from studies.hazards import HOTTEST, candidate_cautions, hottest_part
from studies.rows import Row
from studies.specification import state_names
from studies.study import Study
from studies.templating import page_template

ABOUT = {
    "plane": ABOUT_PLANE,
    "diameter": "Each curve keeps one thing of the base design while the coil grows in the same section: they meet "
    "there. Dots are the greatest heights computed in this stack; crosses where the closed forms would have them for a "
    "coil and a tag alone: diameter 2√2 times the height above the winding's middle at the same ampere-turns, twice "
    "the height at the same power, 1.78 times at the same inductance and current (docs/reach-guide.md).",
    "volts": "What the coil stands at, and what tunes it, along the same four curves.",
    "power": "The base design at other powers. Far from the coil the field falls with the cube of the height, so that "
    "height goes with the sixth root of power.",
    "turns": "The base design's section with other turns: on its own source and current limit, and at its power.",
    "costs": "The base design with one thing around it taken away at a time, and its coil under each other layer, "
    "turns and source kept, tuned anew.",
    "leaning": "The base design: how high the tag is read off the axis, leaning the worst way.",
}

DRAWN = {
    "plane": lambda found: plane_picture(found.plane),
    "diameter": diameter_picture,
    "volts": volts_picture,
    "power": power_picture,
    "turns": turns_picture,
    "costs": costs_picture,
    "leaning": leaning_picture,
}


def write_guide(study: Study, found: Guide, page: Path) -> Path:
    """Write the page of a guide."""
    check_writable(page)
    with styled():
        empty = nothing_read(found)
        drawn = {key: empty.get(key) or draw(found) for key, draw in DRAWN.items()}
    pictures = [Picture(key, one[1], ABOUT[key], one[0]) for key, one in drawn.items() if isinstance(one, tuple)]
    missing = [f"Not drawn: {one}." for one in drawn.values() if isinstance(one, str)]
    write_text(page, page_template("guide.html.j2").render(_context(study, found, pictures, missing)))
    return page


def headline(found: Guide) -> str:
    """What the guide comes to, in a sentence."""
    plane = found.plane
    if not np.isfinite(plane.heights).any():
        return "The tag is read at no diameter and power looked at, the worst of what is asked for taken"
    return plane_finding(plane) if plane.diameters.size > 1 else "No other diameter can be built in this place"


def _context(study: Study, found: Guide, pictures: list[Picture], missing: list[str]) -> dict[str, Any]:
    return {
        "name": study.name,
        "headline": headline(found),
        "pictures": pictures,
        "missing": missing,
        "notes": guide_notes(found),
        "cautions": candidate_cautions(found.candidate, hazards(found)),
    }


def hazards(found: Guide) -> list[Row]:
    """What cautions hang on, of the base design as the guide drives it: a row a state."""
    volts: Row = {name: found.taken[name.removesuffix("_V")] for name in ("coil_voltage_V", "capacitor_voltage_V")}
    states = zip(found.base.states, found.base.taken_in_states, strict=True)
    return [
        volts
        | field_columns(coupling.coils.base, found.source_voltage * taken["current"])
        | {HOTTEST: hottest_part(candidate)}
        for (candidate, coupling), taken in states
    ]


def guide_notes(found: Guide) -> tuple[str, ...]:
    """What a reader should know of how the guide was made, and what it leaves out."""
    candidate, plane = found.candidate, found.plane
    notes = [f"Every height is the least of the states {', '.join(state_names(candidate))}."]
    if plane.bounds:
        notes.append("Limits of the study: " + "; ".join(f"{bound_text(b)} ({b.key})" for b in plane.bounds) + ".")
    else:
        notes.append(
            "Nothing in the study limits what the coil takes (drive.current_limit, require.at_most, ratings of the "
            "wire): the contours say what it would reach, not what it may."
        )
    wire = candidate.coil.wire
    rated = "" if wire.rated_temperature is None else f"; its covering stands {wire.rated_temperature:g} °C"
    notes.append(
        f"How warm more power makes the wire is not computed: it is taken at {wire.temperature:g} °C, as the study "
        f"says, at every power{rated}."
    )
    if candidate.coil.inductance is None:
        notes.append("The study asks for turns, not for an inductance: the first picture keeps the base design's.")
    if found.left_out:
        sizes = ", ".join(f"{diameter * 1e3:.0f} mm" for diameter in found.left_out)
        notes.append(f"Left out, for they cannot be built in this section or place: mean diameters of {sizes}.")
    notes.append(
        "Turns are not rounded to whole ones. The coil is tuned exactly at every point, in the state that the study "
        "tunes it in; a store's charge is worked out by the quick form throughout."
    )
    return tuple(notes)
