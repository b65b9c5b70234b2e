"""The pictures of a run, each with the finding it shows."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from matplotlib.figure import Figure

from studies.drawing import Scene, solved_scene
from studies.figures_coupling import coupling_map
from studies.figures_link import loss_ladder, response
from studies.figures_person import BaseSource, reach_of_field
from studies.figures_plane import plane_picture
from studies.figures_profile import margin_against_height
from studies.figures_section import section_with_margin
from studies.figures_style import PROLOGUE, Drawn, save_png, styled, svg_text, with_own_ids
from studies.figures_sweep import failure_bars, sweep_scatter
from studies.files import whole_file, write_text
from studies.findings import Findings, number, worst_state_of_reach, worst_words
from studies.reach_plane import Plane
from studies.specification import Candidate
from studies.stored import Arrays, StoredDesign


@dataclass(frozen=True, eq=False)
class Picture:
    """A finished picture.

    ``key`` names its files, ``title`` says its finding, ``about`` how it is to be read.
    """

    key: str
    title: str
    about: str
    figure: Figure

    @cached_property
    def svg(self) -> str:
        """The picture as SVG; drawing it takes longer than all else about a page, so that it is done once."""
        with styled():
            return svg_text(self.figure)

    @property
    def inline(self) -> str:
        """SVG for a page, its ids its own."""
        return with_own_ids(self.svg, self.key)


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """A computed candidate with its specification and arrays."""

    stored: StoredDesign
    candidate: Candidate
    arrays: Arrays


ABOUT_SECTION = (
    "Section to scale. Shaded where the tag is read: the darker, the more margin; contours at 0, 3 and 6 dB with the "
    "lean in the worst direction. Crosses, where there are any, mark the other required places."
)
ABOUT_LEVEL = (
    " Brown line: the public reference level of ICNIRP 2010 (rms, no safety distance) at the greatest base current."
)
ABOUT_PLANE = (
    "Contours: reading height at the worst offset and tilt asked for, in the worst of all states, with turns for this "
    "inductance and tuned exactly at every point. Thick lines: what the study allows. Hatched: the turns do not fit "
    "the section with this wire."
)
ABOUT_FIELD = (
    "Shaded where the rms flux density at the greatest base current is above the reference levels of ICNIRP 2010, the "
    "public one full, that at work dashed; no safety distance. It is drawn where a hand gets, into open wells and "
    "vessels too, but not in matter nor in the room closed up under the plate. What a person or a vessel does to it is "
    "left out, and so are harmonics."
)
ABOUT_PROFILE = (
    "Margin against height. The band round the line on the axis is the estimated error, a stock part's unknown "
    "construction included. Below 0 dB the tag is not read."
)
ABOUT_LADDER = (
    "Margin after each step, at the worst of the places asked for: pale what is left, dark what the step costs. Both "
    "sides are tuned exactly up to the last step, whose parts are the study's or, where it names none, the nearest "
    "pair of E24 at 2 %."
)
ABOUT_RESPONSE = (
    "Base current at constant drive, and tag voltage at constant induction, each under its own peak. Bands: the parts "
    "as bought, anywhere in their tolerance. Upright lines: the carrier and the tones of the reply."
)
ABOUT_COUPLING = "Coupling coefficient over offset and height for each tilt, the top of the tag leaning outward."
ABOUT_SWEEP = (
    "Every computed candidate: filled where it meets all requirements, hollow where it misses one, be it the margin "
    "or another limit."
)
ABOUT_BARS = "Pale: candidates that miss the requirement; dark: those that miss it by more than any other."

DECIDING = {
    "section": "The section",
    "profile": "Margin against height",
    "ladder": "The loss ladder",
    "plane": "Reading height over diameter and power",
    "response": "Base and tag response",
}
"""The five pictures that decide a review, in their order."""

NOT_STORED = "the run stores too little of this candidate for it"
NO_PLANE = "it was not computed"


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Pictures of a candidate, and a sentence for each of those that decide a review and cannot be drawn."""

    pictures: tuple[Picture, ...]
    missing: tuple[str, ...]


def candidate_pictures(subject: Subject, plane: Plane | str = NO_PLANE) -> Shown:
    """The five pictures that decide a review, in their order, then field and coupling map.

    ``plane`` is the candidate's reading height over diameter × power, or why there is none.
    """
    state = worst_state_of_reach(subject.stored, subject.arrays.states)
    profiles, require = subject.arrays.profiles, subject.candidate.require
    with styled():
        drawn: list[tuple[str, str, Drawn | str | None]] = [
            ("section", _about_section(subject), _section_of(subject)),
            ("profile", ABOUT_PROFILE, margin_against_height(profiles, require, state)),
            ("ladder", ABOUT_LADDER, loss_ladder(subject.stored)),
            ("plane", ABOUT_PLANE, plane if isinstance(plane, str) else plane_picture(plane)),
            ("response", ABOUT_RESPONSE, response(subject.candidate, subject.stored, subject.arrays.states)),
            ("field", ABOUT_FIELD, _field_of(subject)),
            ("coupling", ABOUT_COUPLING, coupling_map(subject.candidate.grid, subject.arrays.map)),
        ]
    pictures = (Picture(key, one[1], about, one[0]) for key, about, one in drawn if isinstance(one, tuple))
    reasons = {key: one or NOT_STORED for key, _, one in drawn if not isinstance(one, tuple) and key in DECIDING}
    return Shown(tuple(pictures), tuple(f"{DECIDING[key]} is not drawn: {reason}." for key, reason in reasons.items()))


def _section_of(subject: Subject) -> Drawn:
    source, worst = base_source(subject), worst_words(subject.stored)
    return section_with_margin(scene_of_result(subject), subject.arrays.map, worst, source)


def base_source(subject: Subject) -> BaseSource | None:
    """What makes the base field at the greatest current; None where it was not stored."""
    turns, current = number(subject.stored, "base_turns"), number(subject.stored, "base_current_A")
    if turns is None or current is None or subject.arrays.loops is None:
        return None
    return BaseSource(subject.arrays.loops, turns * current)


def _about_section(subject: Subject) -> str:
    rings = " Rings: the tag in each vessel, held, and at the wall on that side." if subject.candidate.puck else ""
    field = ABOUT_LEVEL if base_source(subject) is not None else ""
    return ABOUT_SECTION + rings + field


def _field_of(subject: Subject) -> Drawn | None:
    source = base_source(subject)
    return None if source is None else reach_of_field(scene_of_result(subject), source)


def profile_picture(subject: Subject, key: str) -> Picture:
    """Margin against height of one candidate alone."""
    state = worst_state_of_reach(subject.stored, subject.arrays.states)
    with styled():
        figure, title = margin_against_height(subject.arrays.profiles, subject.candidate.require, state)
    return Picture(key, title, ABOUT_PROFILE, figure)


def study_pictures(found: Findings) -> tuple[Picture, ...]:
    """Scatter of the sweep and reasons of failure, where there are any."""
    with styled():
        made = [("sweep", ABOUT_SWEEP, sweep_scatter(found)), ("reasons", ABOUT_BARS, failure_bars(found))]
    return tuple(Picture(key, m[1], about, m[0]) for key, about, m in made if m is not None)


def scene_of_result(subject: Subject) -> Scene:
    """The section with the winding as solved."""
    row = subject.stored
    turns = int(number(row, "base_turns") or 0)
    build, length = number(row, "base_radial_build_m"), number(row, "base_winding_length_m")
    if build is None or length is None:
        raise AssertionError("a computed candidate has a winding section")
    return solved_scene(subject.candidate, turns, build, length)


def save_pictures(pictures: tuple[Picture, ...], folder: Path) -> None:
    """Write each picture as PNG and SVG."""
    folder.mkdir(parents=True, exist_ok=True)
    with styled():
        for picture in pictures:
            with whole_file(folder / f"{picture.key}.png") as partial:
                save_png(picture.figure, partial)
            write_text(folder / f"{picture.key}.svg", PROLOGUE + picture.svg)
