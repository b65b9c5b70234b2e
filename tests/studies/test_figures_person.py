"""The picture of the field a person may meet: its numbers, its texts, and when there is none."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from fem.gathered_loops import Loops, gathered
from fem.sources import winding_rings
from studies.drawing import Scene, solved_scene
from studies.evaluation import Evaluation
from studies.figures_person import BaseSource, reach_of_field
from studies.figures_style import styled
from studies.person_field import base_loops, bench_of, field_picture
from studies.rows import number
from studies.study import read_study
from tests.studies.conftest import LIBRARY, Evaluator
from tests.studies.seen import cut_texts, overlapping_texts, texts_of

AMPERE_TURNS = 12.0


def scene_of(name: str) -> tuple[Scene, Loops]:
    """A study of the library, its winding as if in air."""
    base = read_study(LIBRARY / f"{name}.toml").base
    scene = solved_scene(base, 64, 3e-3, 3e-3)
    return scene, gathered((winding_rings(scene.section),))


def drawn(scene: Scene, loops: Loops, ampere_turns: float = AMPERE_TURNS) -> tuple[Figure, str]:
    with styled():
        made = reach_of_field(scene, BaseSource(loops, ampere_turns))
        assert made is not None
        FigureCanvasAgg(made[0]).draw()
    return made


@pytest.fixture(scope="module")
def found(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of()


def test_the_title_tells_the_row_s_numbers(found: Evaluation) -> None:
    base, row = found.coils.base, found.row
    scene = solved_scene(found.candidate, base.turns, base.section.radial_build, base.section.winding_length)
    figure, title = drawn(scene, base_loops(base.field), base.turns * number(row, "base_current_A"))
    height, radius = (number(row, f"reference_level_{what}_m") * 1e3 for what in ("height", "radius"))
    assert title == (
        f"27 µT rms, the public reference level: up to {height:.3g} mm above the plate, {radius:.3g} mm from the axis"
    )
    assert any(text.get_text() == f"{height:.3g} mm" for text in texts_of(figure))


@pytest.mark.parametrize("name", ["culture-bench", "heat-block", "spiral-heater", "first-look"])
@pytest.mark.parametrize("ampere_turns", [4.0, 20.0])
def test_all_texts_are_whole_and_apart(name: str, ampere_turns: float) -> None:
    figure, _ = drawn(*scene_of(name), ampere_turns)
    assert cut_texts(figure) == []
    assert overlapping_texts(figure) == []


@pytest.mark.parametrize("ampere_turns", [4.0, 12.0])
def test_the_levels_names_stand_clear_of_the_vessels_and_contours(ampere_turns: float) -> None:
    scene, loops = scene_of("culture-bench")
    figure, _ = drawn(scene, loops, ampere_turns)
    axes = figure.axes[0]
    named = {text.get_text(): text for text in texts_of(figure) if "µT\n" in text.get_text()}
    assert sorted(named) == ["100 µT\nat work", "27 µT\npublic"]
    widest = max(0.5e3 * vessel.outer_diameter for vessel in scene.vessels)
    for text in named.values():
        box = text.get_window_extent().transformed(axes.transData.inverted())
        assert box.x1 < -widest
        assert box.y0 > -0.5


def test_all_that_the_public_contour_holds_is_in_view() -> None:
    scene, loops = scene_of("heat-block")
    figure, _ = drawn(scene, loops)
    axes = figure.axes[0]
    r, z = np.meshgrid(np.linspace(1e-6, 0.3, 151), np.linspace(-0.3, 0.3, 301))
    above = loops.size(r, z) * AMPERE_TURNS / np.sqrt(2.0) > 27e-6
    above &= ~bench_of(scene.candidate.stack, scene.section).holds(r, z)
    assert axes.get_xlim()[1] > 1e3 * r[above].max()
    assert axes.get_ylim()[0] < 1e3 * z[above].min() < -20.0
    assert axes.get_ylim()[1] > 1e3 * z[above].max()


def test_the_field_is_blank_in_matter_and_told_in_the_well() -> None:
    scene, loops = scene_of("heat-block")
    bench = bench_of(scene.candidate.stack, scene.section)
    field = field_picture(loops, bench, AMPERE_TURNS, (80e-3, -20e-3, 50e-3), points=141)

    def at(r: float, z: float) -> float:
        return float(field.size[np.argmin(np.abs(field.z - z)), np.argmin(np.abs(field.r - r))])

    assert np.isnan([at(40e-3, 20e-3), at(10e-3, -2e-3)]).all()
    expected = loops.size(field.r[np.argmin(np.abs(field.r - 10e-3))][None], np.array([10e-3]))[0]
    assert at(10e-3, 10e-3) == pytest.approx(expected * AMPERE_TURNS / np.sqrt(2.0), rel=1e-9, abs=0.0)


def test_a_contour_that_stays_below_the_plate_says_so() -> None:
    scene, loops = scene_of("first-look")
    low = replace(scene, section=scene.section.raised(-60e-3))
    deep = Loops(loops.radius, loops.height - 60e-3, loops.current, loops.blur)
    figure, title = drawn(low, deep, 1.0)
    assert "nowhere above the plate" in title
    assert cut_texts(figure) == []


def test_there_is_no_picture_without_level_or_current() -> None:
    scene, loops = scene_of("first-look")
    unknown = replace(scene, candidate=replace(scene.candidate, frequency=2e3))
    assert reach_of_field(scene, BaseSource(loops, AMPERE_TURNS)) is not None
    assert reach_of_field(unknown, BaseSource(loops, AMPERE_TURNS)) is None
    assert reach_of_field(scene, BaseSource(loops, 0.0)) is None


def test_the_lowest_contour_goes_down_to_the_plate() -> None:
    """However coarse the picture: 4 A of turns come above 100 µT at no place higher than 0.2 mm above the plate."""
    scene, loops = scene_of("culture-bench")
    bench = bench_of(scene.candidate.stack, scene.section)
    field = field_picture(loops, bench, 4.0, (95e-3, -46e-3, 75e-3), points=60)
    above = field.z[np.nanmax(np.where(field.z[:, None] > 0.0, field.size, 0.0), axis=1) > 100e-6]
    assert above.size == 1
    assert 0.0 < above[0] < 0.2e-3
    assert np.nanmax(loops.size(np.linspace(1e-6, 0.04, 400), np.full(400, 0.2e-3))) * 4.0 / np.sqrt(2.0) < 100e-6
