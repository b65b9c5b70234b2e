"""The pictures: titles that say what is in the data, whole texts, one hue that survives grey, and fixed bytes."""

import re
from dataclasses import replace
from itertools import pairwise
from math import inf
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from studies.figures import Subject, candidate_pictures, profile_picture, save_pictures, study_pictures
from studies.figures_coupling import coupling_map, map_levels
from studies.figures_profile import margin_against_height, profile_finding
from studies.figures_section import section_with_margin, shown_tilt
from studies.figures_style import DEPTH, TINTS, styled, svg_text, with_own_ids
from studies.figures_sweep import effect, failure_bars, sweep_scatter
from studies.findings import Findings, findings
from studies.specification import Candidate, Place, Requirement
from studies.study import Study
from tests.studies.made_runs import (
    arrays_for,
    bench,
    done,
    failed,
    map_for,
    margin_check,
    profiles_for,
    run_of,
    voltage_check,
)
from tests.studies.seen import cut_texts, overlapping_texts


@pytest.fixture(scope="module")
def study() -> Study:
    return bench()


@pytest.fixture(scope="module")
def candidate(study: Study) -> Candidate:
    return study.candidate(0)


@pytest.fixture(scope="module")
def subject(study: Study, candidate: Candidate) -> Subject:
    return Subject(done(study, 0), candidate, arrays_for(candidate))


@pytest.fixture(scope="module")
def found(study: Study) -> Findings:
    """All 36: margin rises with diameter, volts with turns; two could not be computed."""
    designs = [failed(study, 0, "no room"), failed(study, 1, "no room")]
    for index in range(2, 36):
        swept = dict(study.swept(index))
        margin = 200.0 * float(swept["base_coil.mean_diameter"]) - 5.0 + 0.01 * float(swept["base_coil.turns"])
        volts = 1.6 * float(swept["base_coil.turns"])
        designs.append(done(study, index, (margin_check(margin), voltage_check(volts)), margin_dB=margin))
    return findings(run_of(study, *designs))


def lightness(colour: object) -> float:
    """Luminance as a grey print shows it (Rec. 709 weights, gamma left in)."""
    red, green, blue = to_rgb(colour)  # type: ignore[arg-type]
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_all_texts_are_whole_and_apart(subject: Subject, found: Findings) -> None:
    pictures = (*candidate_pictures(subject).pictures, *study_pictures(found))
    assert [picture.key for picture in pictures] == ["section", "profile", "coupling", "sweep", "reasons"]
    assert {picture.key: cut_texts(picture.figure) for picture in pictures if cut_texts(picture.figure)} == {}
    assert {p.key: overlapping_texts(p.figure) for p in pictures if overlapping_texts(p.figure)} == {}


def test_axes_name_their_quantity_and_unit(subject: Subject, found: Findings) -> None:
    named = re.compile(r"\[(mm|dB)\]|coupling coefficient|candidates")
    for picture in (*candidate_pictures(subject).pictures, *study_pictures(found)):
        labels = [label for axes in picture.figure.axes for label in (axes.get_xlabel(), axes.get_ylabel()) if label]
        assert len(labels) >= (1 if picture.key == "reasons" else 2), picture.key
        assert [label for label in labels if not named.search(label)] == [], picture.key


def test_tints_and_scale_darken_all_the_way() -> None:
    tints = [lightness(tint) for tint in TINTS]
    depth = [lightness(DEPTH(level)) for level in np.linspace(0.0, 1.0, 64)]
    assert all(np.diff(tints) < -0.08)
    assert all(np.diff(depth) < 0.0)


# -- section --------------------------------------------------------------------------------------------------------


def contour_texts(figure: Figure) -> set[str]:
    return {text.get_text() for text in figure.axes[0].texts if re.fullmatch(r"[036] dB", text.get_text())}


WORST = "worst place asked for: 5.0 dB at 42 mm up, 8 mm off, 15° tilt"
"""Second line of titles: the margin and place of the made-up row."""


def test_section_says_how_high_the_tag_is_read_on_the_axis(subject: Subject) -> None:
    # The invented margin is 20 dB less half a decibel each millimetre: 0 dB at 40 mm.
    picture = candidate_pictures(subject).pictures[0]
    assert picture.title == f"Read on the axis up to 40 mm, leaning 20° the worst way;\n{WORST}"
    assert contour_texts(picture.figure) == {"0 dB", "3 dB", "6 dB"}


@pytest.mark.parametrize(
    ("lift", "title", "labels"),
    [
        (0.75, "Read on the axis up to 41.5 mm, leaning 20° the worst way", {"0 dB", "3 dB", "6 dB"}),
        (40.0, "Read everywhere on the map, leaning 20° the worst way", set()),
        (-60.0, "Read nowhere on the axis, leaning 20° the worst way", set()),
        (
            11.0,
            "Read on the axis up to the map's top, less high off it, leaning 20° the worst way",
            {"0 dB", "3 dB", "6 dB"},
        ),
    ],
)
def test_section_says_what_its_contours_show(
    subject: Subject, candidate: Candidate, lift: float, title: str, labels: set[str]
) -> None:
    picture = candidate_pictures(replace(subject, arrays=arrays_for(candidate, lift))).pictures[0]
    assert picture.title == f"{title};\n{WORST}"
    assert contour_texts(picture.figure) == labels


def test_margin_is_shown_on_both_sides_of_the_axis(subject: Subject) -> None:
    axes = candidate_pictures(subject).pictures[0].figure.axes[0]
    drawn = [c.get_paths() for c in axes.collections]
    xs = np.concatenate([path.vertices[:, 0] for paths in drawn for path in paths if len(path.vertices)])
    assert xs.min() == pytest.approx(-xs.max(), rel=1e-9, abs=0.0)


def test_the_shown_tilt_is_no_less_than_the_required_one(candidate: Candidate) -> None:
    assert shown_tilt(candidate) == 1  # 20° of 0, 20, 90, where 15° is required
    steep = replace(candidate, require=Requirement((Place(30e-3, 0.0, 1.0),)))
    assert shown_tilt(steep) == 2
    only_upright = replace(steep, grid=replace(candidate.grid, tilts=(0.0,)))
    assert shown_tilt(only_upright) == 0


def test_a_map_of_one_line_gives_a_section_without_contours_and_no_coupling_map(subject: Subject) -> None:
    grid = replace(subject.candidate.grid, offsets=(0.0,))
    narrow = replace(subject.candidate, grid=grid)
    pictures = candidate_pictures(Subject(subject.stored, narrow, arrays_for(narrow))).pictures
    assert [picture.key for picture in pictures] == ["section", "profile"]
    assert contour_texts(pictures[0].figure) == set()


def test_a_tag_that_does_not_couple_somewhere_does_not_stop_the_picture(subject: Subject) -> None:
    values = subject.arrays.map
    margin = values.worst_margin.copy()
    margin[3:9, 4:, :] = -inf
    hole = replace(subject, arrays=replace(subject.arrays, map=replace(values, worst_margin=margin)))
    figure = candidate_pictures(hole).pictures[0].figure
    assert contour_texts(figure) == {"0 dB", "3 dB", "6 dB"}
    drawn = [path.vertices for c in figure.axes[0].collections for path in c.get_paths()]
    # The hole begins between offsets of 3 and 4 mm, at heights of 8 to 13 mm: its contour runs there.
    points = np.concatenate(drawn)
    beside = (points[:, 0] > 3.0) & (points[:, 0] < 4.0) & (points[:, 1] > 8.5) & (points[:, 1] < 12.5)
    assert beside.any()


# -- profile --------------------------------------------------------------------------------------------------------


def test_profile_tells_the_read_heights_of_the_worst_line(candidate: Candidate) -> None:
    # 8 mm aside costs 1.6 dB, 3.2 mm of height.
    assert profile_finding(profiles_for(candidate)[-1]).startswith(
        "Read from the lowest height looked at, 5 mm, up to 36.8 mm:"
    )


def test_profile_is_titled_by_its_worst_line(candidate: Candidate) -> None:
    _, title = margin_against_height(profiles_for(candidate), candidate.require)
    assert title == profile_finding(profiles_for(candidate)[-1])


def test_profile_tells_a_lower_edge_and_a_tag_that_is_never_read(candidate: Candidate) -> None:
    line = profiles_for(candidate)[0]
    edge = replace(line, window=replace(line.window, intervals=((0.012, 0.04),), starts_at_begin=False))
    assert profile_finding(edge).startswith("Read from 12 mm up to 40 mm:")
    never = replace(line, window=replace(line.window, intervals=()))
    assert profile_finding(never) == "The tag is read at no height, on the axis, upright"


def test_profile_marks_what_is_required_and_draws_the_band(candidate: Candidate) -> None:
    figure, _ = margin_against_height(profiles_for(candidate), candidate.require)
    axes = figure.axes[0]
    upright = {line.get_xdata()[0] for line in axes.lines if np.ptp(line.get_xdata()) == 0.0}  # type: ignore[arg-type]
    assert {12.0, 30.0, 42.0, 48.0} <= {round(float(x), 9) for x in upright}
    level = {line.get_ydata()[0] for line in axes.lines if np.ptp(line.get_ydata()) == 0.0}  # type: ignore[arg-type]
    assert {0.0, 3.0} <= level
    (band,) = axes.collections
    heights = band.get_paths()[0].vertices
    at_start = heights[np.isclose(heights[:, 0], 5.0), 1]
    assert np.ptp(at_start) == pytest.approx(1.0)  # ± 0.5 dB


@pytest.mark.parametrize(("band", "words"), [(0.5, "up to ±0.5 dB"), (0.002, "up to ±0.002 dB,\nhidden by the line")])
def test_a_band_hidden_by_its_line_is_told_in_words(candidate: Candidate, band: float, words: str) -> None:
    figure, _ = margin_against_height(profiles_for(candidate, band=band), candidate.require)
    assert any(text.get_text().endswith(words) for text in figure.axes[0].texts)


def test_a_profile_without_any_reading_can_be_drawn(candidate: Candidate) -> None:
    lines = profiles_for(candidate, lift=-80.0)
    dead = tuple(replace(line, margin=np.full_like(line.margin, -inf)) for line in lines)
    for shown in (lines, dead):
        figure, title = margin_against_height(shown, candidate.require)
        assert title.startswith("The tag is read at no height")
        assert cut_texts(figure) == []
        assert not any(np.isinf(np.asarray(line.get_ydata(), dtype=float)).any() for line in figure.axes[0].lines)


# -- coupling -------------------------------------------------------------------------------------------------------


def test_coupling_map_says_how_k_falls_and_has_a_panel_for_each_tilt(candidate: Candidate) -> None:
    made = coupling_map(candidate.grid, map_for(candidate.grid))
    assert made is not None
    figure, title = made
    # 3 % · exp(−5/20) = 2.34 %, 3 % · exp(−60/20) = 0.149 %
    assert title == "On the axis, upright, k falls from 2.3 % at 5 mm to 0.15 % at 60 mm"
    assert [axes.get_title() for axes in figure.axes[:3]] == ["upright", "leaning 20° outward", "leaning 90° outward"]


def test_labels_of_neighbouring_panels_keep_apart(candidate: Candidate) -> None:
    offsets = tuple(0.002 * n for n in range(11))  # to 20 mm: the last tick stands on the panel's edge
    grid = replace(candidate.grid, offsets=offsets, tilts=candidate.grid.tilts[:2])
    with styled():
        made = coupling_map(grid, map_for(grid))
        assert made is not None
        FigureCanvasAgg(made[0]).draw()
        labels = [label for axes in made[0].axes[:2] for label in axes.get_xticklabels() if label.get_text()]
        boxes = sorted((label.get_window_extent() for label in labels), key=lambda box: box.x0)
    assert len(boxes) >= 8
    assert all(right.x0 - left.x1 > 8.0 for left, right in pairwise(boxes))  # a digit wide


@pytest.mark.parametrize("percent", [[0.031, 4.4], [1e-9, 2.0], [0.5, 0.5], [1.0, 1.0001]])
def test_levels_hold_the_map_and_do_not_go_deeper_than_can_be_told_apart(percent: list[float]) -> None:
    levels = map_levels(np.array(percent))
    assert levels == sorted(set(levels))
    assert len(levels) >= 2
    assert levels[-1] >= max(percent)
    assert levels[0] <= max(min(percent), max(percent) / 10**1.7)
    assert levels[0] >= max(percent) / 10**2.1


def test_no_coupling_at_all_gives_no_map(candidate: Candidate) -> None:
    values = map_for(candidate.grid)
    assert coupling_map(candidate.grid, replace(values, coupling_coefficient=0.0 * values.coupling_coefficient)) is None


# -- sweep ----------------------------------------------------------------------------------------------------------


def test_scatter_runs_over_the_key_that_moves_the_margin_most(found: Findings) -> None:
    made = sweep_scatter(found)
    assert made is not None
    figure, title = made
    assert figure.axes[0].get_xlabel() == "mean diameter [mm]"
    # 50 mm at 0.2 dB each, less 0.12 dB: the two missing at 24 mm have few turns, 0.01 dB each.
    assert title == f"{len(found.passing)} of 34 pass; the margin moves most with mean diameter, by 9.9 dB on the mean"


def test_effect_is_the_range_of_mean_margins(study: Study, found: Findings) -> None:
    turns = next(axis for axis in found.axes if axis.name == "turns")
    designs = [done(study, i, margin_dB=m) for i, m in ((0, 1.0), (1, 3.0), (2, 7.0), (3, 9.0))]  # 40, 40, 64, 64 turns
    assert effect(turns, designs) == pytest.approx(6.0)


def test_points_are_filled_where_all_is_met_and_hollow_where_not(found: Findings) -> None:
    made = sweep_scatter(found)
    assert made is not None
    points = [line for line in made[0].axes[0].lines if line.get_markersize() == 6.5 and line.get_clip_on()]
    hollow = [line for line in points if line.get_markerfacecolor() == "white"]
    assert sum(len(line.get_xydata()) for line in points) == 34  # type: ignore[arg-type]
    assert sum(len(line.get_xydata()) for line in hollow) == len(found.failing)  # type: ignore[arg-type]
    assert not any(line.get_rasterized() for line in points)


def test_thousands_of_points_are_a_picture_in_the_picture(study: Study, found: Findings) -> None:
    """Drawn one by one they made a page of tens of megabytes."""
    many = [done(study, index % 36, margin_dB=0.001 * index) for index in range(3000)]
    made = sweep_scatter(replace(found, passing=tuple(many)))
    assert made is not None
    assert len(svg_text(made[0])) < 400_000


def test_a_limit_of_the_margin_is_drawn_as_required(found: Findings) -> None:
    made = sweep_scatter(found)
    assert made is not None
    assert "3 dB required" in [text.get_text() for text in made[0].axes[0].texts]


def test_bars_tell_how_often_each_requirement_is_missed(found: Findings) -> None:
    made = failure_bars(found)
    assert made is not None
    figure, title = made
    widths = sorted(patch.get_width() for patch in figure.axes[0].patches)  # type: ignore[attr-defined]
    assert widths == sorted([r.missed for r in found.reasons] + [r.stopped for r in found.reasons])
    most = found.reasons[0]
    assert (
        title == f"{most.label[0].upper()}{most.label[1:]} stops {most.stopped} of the {len(found.failing)} that fail"
    )


def test_a_run_in_which_nothing_was_computed_has_no_picture_of_the_sweep(study: Study) -> None:
    assert study_pictures(findings(run_of(study, failed(study, 0, "no room")))) == ()


# -- files ----------------------------------------------------------------------------------------------------------


def test_pictures_are_the_same_bytes_each_time(subject: Subject, tmp_path: Path) -> None:
    for name in ("one", "two"):
        save_pictures(candidate_pictures(subject).pictures, tmp_path / name)
    files = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert files == [f"{k}.{e}" for k in ("coupling", "profile", "section") for e in ("png", "svg")]
    for name in files:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_ids_of_inlined_pictures_do_not_clash_and_all_references_are_kept(subject: Subject) -> None:
    pictures = (*candidate_pictures(subject).pictures, profile_picture(subject, "next"))
    ids: list[str] = []
    for picture in pictures:
        svg = picture.inline
        own = re.findall(r'\bid="([^"]+)"', svg)
        referred = re.findall(r'href="#([^"]+)"', svg) + re.findall(r"url\(#([^)]+)\)", svg)
        assert set(referred) <= set(own), picture.key
        ids += own
    assert len(ids) == len(set(ids))


def test_own_ids_reach_every_kind_of_reference() -> None:
    svg = '<svg><path id="p"/><use xlink:href="#p"/><g clip-path="url(#p)"/><a href="#p"/></svg>'
    assert with_own_ids(svg, "k") == (
        '<svg><path id="k-p"/><use xlink:href="#k-p"/><g clip-path="url(#k-p)"/><a href="#k-p"/></svg>'
    )


def test_svg_carries_no_date_and_no_font_from_elsewhere(subject: Subject) -> None:
    with styled():
        svg = svg_text(candidate_pictures(subject).pictures[0].figure)
    assert svg.startswith("<svg")
    assert "<metadata" not in svg
    assert "font-family" not in svg


def test_section_without_a_map_is_still_drawn(subject: Subject) -> None:
    from studies.figures import scene_of_result

    figure, title = section_with_margin(scene_of_result(subject), None)
    assert title == "To scale; the map has too few places for contours of the margin"
    assert contour_texts(figure) == set()
