"""The section: to scale, everything labelled, nothing clipped, no label on another."""

from dataclasses import replace
from itertools import pairwise
from math import cos, pi, radians, sin
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometries.vessels import Vessel
from studies.drawing import (
    LEAST_THICKNESS,
    draw_section,
    placed,
    save_section,
    section_figure,
    solved_scene,
    unsolved_scene,
    vessel_line,
    view_of,
    whole_outline,
)
from studies.figures_style import styled
from studies.labels import Label, place_labels
from studies.specification import Candidate, Place
from studies.study import read_study
from tests.studies.made_runs import LIBRARY, bench
from tests.studies.seen import cut_texts, overlapping_texts

STUDIES = ("first-look", "full-vocabulary", "culture-bench", "heat-block", "spiral-heater", "bar-magnets")


@pytest.fixture(params=STUDIES)
def candidate(request: pytest.FixtureRequest) -> Candidate:
    return read_study(LIBRARY / f"{request.param}.toml").base


def test_a_low_section_with_many_bodies_has_room_for_their_names() -> None:
    """Vessels on a plate with nothing else high: the names took more room than the section and ran into the title."""
    base = read_study(LIBRARY / "first-look.toml").base
    vessels = tuple(Vessel(f"vessel {n}", "flat", 86e-3 + n * 8e-3, 130e-3, 2e-3, 2e-3) for n in range(4))
    with styled():
        scene = replace(unsolved_scene(base), vessels=vessels)
        view = view_of(scene)
        figure, axes = section_figure(view, title_lines=2)
        draw_section(axes, scene, view)
        axes.set_title(f"{'a title as long as they come ' * 3};\n{'and its second line ' * 4}", loc="left")
        assert cut_texts(figure) == []
        assert overlapping_texts(figure) == []


def test_every_text_is_whole_and_none_lies_on_another(candidate: Candidate) -> None:
    with styled():
        scene = unsolved_scene(candidate)
        view = view_of(scene)
        figure, axes = section_figure(view)
        draw_section(axes, scene, view)
        assert cut_texts(figure) == []
        assert overlapping_texts(figure) == []


def test_one_millimetre_is_as_long_upward_as_sideways(candidate: Candidate) -> None:
    figure, axes = section_figure(view_of(unsolved_scene(candidate)))
    box = axes.get_position()
    wide = box.width * figure.get_figwidth() / (axes.get_xlim()[1] - axes.get_xlim()[0])
    high = box.height * figure.get_figheight() / (axes.get_ylim()[1] - axes.get_ylim()[0])
    assert wide == pytest.approx(high, rel=1e-12, abs=0.0)


def test_every_body_and_the_tag_are_named(candidate: Candidate) -> None:
    scene = unsolved_scene(candidate)
    view = view_of(scene)
    figure, axes = section_figure(view)
    draw_section(axes, scene, view)
    words = " ".join(text.get_text() for text in axes.texts)
    named = [layer.name for layer in candidate.stack.layers if layer.kind != "gap"]
    named += [solid.name for solid in candidate.stack.solids] + [vessel.name for vessel in candidate.vessels]
    assert [name for name in (*named, "base coil", "tag") if f"{name}: " not in words] == []
    assert figure.get_figwidth() < 9.0


def test_a_thin_ribbon_is_drawn_visibly_and_says_so() -> None:
    candidate = bench().base
    scene = unsolved_scene(candidate)
    view = view_of(scene)
    _, axes = section_figure(view)
    draw_section(axes, scene, view)
    least = LEAST_THICKNESS * view.scale * 1e3
    tall = [patch.get_extents().height / axes.figure.dpi for patch in axes.patches]
    assert min(tall) >= LEAST_THICKNESS * 0.999
    assert least > candidate.stack.layers[1].thickness * 1e3
    assert any("0.02 mm thick,\ndrawn thicker" in text.get_text() for text in axes.texts)


def test_the_tag_lies_at_the_highest_required_place_or_at_the_required_read_height() -> None:
    assert unsolved_scene(bench().base).place == Place(42e-3, 8e-3, pytest.approx(radians(15.0)))
    assert unsolved_scene(read_study(LIBRARY / "first-look.toml").base).place == Place(30e-3, 0.0, 0.0)


def test_a_positive_tilt_leans_the_tags_top_outward() -> None:
    ((r, z),) = placed(((0.0, 1.0),), Place(10.0, 5.0, radians(30.0)))
    assert (r, z) == (pytest.approx(5.0 + sin(pi / 6)), pytest.approx(10.0 + cos(pi / 6)))


def test_placing_keeps_lengths_and_the_tags_centre() -> None:
    (a, b, centre) = placed(((3.0, 0.0), (0.0, 4.0), (0.0, 0.0)), Place(7.0, 2.0, 0.7))
    assert ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 == pytest.approx(5.0)
    assert centre == (2.0, 7.0)


def test_a_half_outline_becomes_whole_without_doubling_the_axis() -> None:
    assert whole_outline(((0.0, 0.0), (1.0, 0.0), (0.0, 2.0))) == ((0.0, 0.0), (1.0, 0.0), (0.0, 2.0), (-1.0, 0.0))


def test_vessels_stand_on_the_plate_and_are_as_wide_as_said() -> None:
    for shape in ("flat", "round"):
        line = vessel_line(Vessel("glass", shape, 100e-3, 150e-3, 2e-3), 0.0)  # type: ignore[arg-type]
        assert min(z for _, z in line) == pytest.approx(0.0, abs=1e-12)
        assert max(r for r, _ in line) == pytest.approx(50e-3, rel=2e-3, abs=0.0)


def test_a_flask_is_drawn_as_a_ball_with_a_flat() -> None:
    glass = Vessel("glass", "flask", 100e-3, 140e-3, 2e-3, 3e-3, 30e-3, flat=60e-3, standing=20e-3)
    line = np.array(vessel_line(glass, 20e-3))
    assert sorted(line[line[:, 1] < 20.001e-3][:, 0]) == pytest.approx([-30e-3, 30e-3])
    ball = line[line[:, 1] < 150e-3]
    assert np.hypot(ball[:, 0], ball[:, 1] - 60e-3) == pytest.approx(50e-3), "its centre is √(50² − 30²) up"
    assert np.abs(line[line[:, 1] > 155e-3][:, 0]) == pytest.approx(15e-3)


def test_a_round_vessel_lower_than_its_widest_ends_at_its_rim() -> None:
    line = vessel_line(Vessel("dish", "round", 100e-3, 30e-3, 2e-3), 0.0)
    assert max(z for _, z in line) == pytest.approx(30e-3)


@pytest.mark.parametrize("shape", ["flat", "round", "conical"])
def test_a_vessel_is_drawn_where_it_stands_with_its_neck(shape: str) -> None:
    glass = Vessel("glass", shape, 100e-3, 150e-3, 2e-3, 3e-3, 30e-3, standing=20e-3)  # type: ignore[arg-type]
    line = vessel_line(glass, 20e-3)
    assert min(z for _, z in line) == pytest.approx(20e-3)
    assert max(z for _, z in line) == pytest.approx(170e-3)
    assert [abs(r) for r, z in line if z > 165e-3] == pytest.approx([15e-3] * sum(z > 165e-3 for _, z in line))
    if shape == "round":  # the ball goes over into the neck
        assert line[1][0] == pytest.approx(-15e-3)
    assert max(r for r, _ in line) == pytest.approx(50e-3, rel=2e-3, abs=0.0)
    mirrored = [(-r, z) for r, z in reversed(line)]
    assert np.allclose(mirrored, line, rtol=0.0, atol=1e-12), "alike on both sides"


def test_a_solved_winding_is_drawn_as_solved() -> None:
    scene = solved_scene(read_study(LIBRARY / "first-look.toml").base, 69, 2.8e-3, 2.6e-3)
    assert scene.turns == "69 turns"
    assert scene.section.radial_build == pytest.approx(2.8e-3)
    assert scene.section.winding_length == pytest.approx(2.6e-3)


def test_all_that_is_close_is_in_view_and_a_very_wide_plate_is_cut() -> None:
    candidate = bench().base
    view = view_of(unsolved_scene(candidate))
    assert view.bottom < -40e-3
    assert view.top > max(candidate.grid.heights)
    assert view.half_width > 90e-3
    plate, *others = candidate.stack.layers
    wide = replace(candidate, stack=replace(candidate.stack, layers=(replace(plate, outer_radius=2.0), *others)))
    assert view_of(unsolved_scene(wide)).half_width < 0.3


def test_what_stands_on_the_plate_is_seen_whole() -> None:
    candidate = read_study(LIBRARY / "heat-block.toml").base
    (block,) = (solid for solid in candidate.stack.solids if max(z for _, z in solid.outline) > 0.0)
    view = view_of(unsolved_scene(candidate))
    assert view.top > max(z for _, z in block.outline)
    assert view.half_width > max(r for r, _ in block.outline)


def test_the_same_section_gives_the_same_files(tmp_path: Path) -> None:
    candidate = bench().base
    for name in ("a.svg", "b.svg", "a.png", "b.png"):
        save_section(candidate, tmp_path / name)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    assert "<dc:date>" not in (tmp_path / "a.svg").read_text(encoding="utf-8")


@given(st.lists(st.tuples(st.floats(-10, 110), st.integers(1, 3)), min_size=1, max_size=8))
def test_labels_never_overlap_and_keep_the_order_of_their_points(points: list[tuple[float, int]]) -> None:
    labels = [Label("\n".join(["x"] * lines), 0.0, y) for y, lines in points]
    found = place_labels(labels, 0.0, 100.0, 3.0, 1.0)
    edges = [
        (height - 0.5 * (3.0 * label.lines + 1.0), height + 0.5 * (3.0 * label.lines + 1.0)) for label, height in found
    ]
    assert len(found) == len(labels)
    assert all(low >= high - 1e-9 for (_, high), (low, _) in pairwise(edges))
    assert [label.y for label, _ in found] == sorted(label.y for label in labels)
    assert all(low >= -1e-9 and high <= 100.0 + 1e-9 for low, high in edges)  # 80 at most: there is room


def test_a_label_with_room_stays_level_with_its_point() -> None:
    found = place_labels([Label("a", 0.0, 20.0), Label("b", 0.0, 70.0)], 0.0, 100.0, 3.0, 1.0)
    assert [height for _, height in found] == [pytest.approx(20.0), pytest.approx(70.0)]
