"""Lumped volume integral against the whole one, and the change from one method to the other along a height."""

import numpy as np
import pytest

from fem.air_field import AirField, AirSpace, air_field
from fem.base_solution import BaseProblem, BaseSolution, base_solution
from fem.near_places import LUMPING_ERROR, near_tag, volume_over_leans
from fem.tag_map import mutual_inductance_at, tag_map
from fem.tag_solution import tag_solution
from fem.volume_integral import volume_mutual_inductance
from geometries.materials import Material
from geometries.section import WindingSection
from geometries.stack import Stack
from geometries.tag import DrumCore, Tag

FREQUENCY = 134.2e3
BASE = WindingSection(20.5e-3, 23.5e-3, -7.5e-3, -4.5e-3)
FERRITE = Material("ferrite", relative_permeability=900.0, relative_permeability_loss=9.0)
DRUM = Tag(
    WindingSection(1.2e-3, 2.6e-3, -1e-3, 1e-3),
    1.0,
    DrumCore(FERRITE, 2e-3, 2.4e-3, 6e-3, 0.8e-3),
    series_resistance=1.0,
)
PANCAKE = Tag(WindingSection(6e-3, 9e-3, -0.5e-3, 0.5e-3), 1.0, None, series_resistance=1.0)
PLACES = [(2.5e-3, 0.0, 0.0), (2.5e-3, 5e-3, 0.15), (4e-3, 20e-3, -0.1), (8e-3, 10e-3, 0.3)]


@pytest.fixture(scope="module")
def base() -> BaseSolution:
    return base_solution(BaseProblem(Stack(), BASE, FREQUENCY, 1e-3, (5e-3, 60e-3)))


@pytest.fixture(scope="module")
def field(base: BaseSolution) -> AirField:
    return air_field(list(base.sources), AirSpace(45e-3, -1.8e-3, 40e-3), 1e-7)


@pytest.mark.slow
@pytest.mark.parametrize("tag", [DRUM, PANCAKE], ids=["drum", "pancake"])
@pytest.mark.parametrize("place", PLACES)
def test_lumping_keeps_to_its_stated_error(
    tag: Tag, place: tuple[float, float, float], base: BaseSolution, field: AirField
) -> None:
    solution = tag_solution(tag, FREQUENCY, 1e-3)
    height, offset, tilt = place
    near = near_tag(solution, 1.0, -4.5e-3)
    found = volume_over_leans(field, near, np.array([height]), np.array([offset]), tilt, np.zeros(1))[0, 0, 0]
    whole = volume_mutual_inductance(base.sources, solution, height, offset, tilt)
    assert abs(found / whole - 1.0) < LUMPING_ERROR


def test_leans_turn_the_tag_about_its_own_place(field: AirField) -> None:
    """On the base coil's axis no direction of lean differs from another; off it, the inward lean is a negative tilt."""
    near = near_tag(tag_solution(PANCAKE, FREQUENCY, 1e-3), 1.0, -4.5e-3)
    heights, leans = np.array([6e-3]), np.array([0.0, 0.5 * np.pi, np.pi])
    on_axis = volume_over_leans(field, near, heights, np.zeros(1), 0.4, leans)[:, 0, 0]
    assert on_axis == pytest.approx(on_axis[0], rel=1e-9, abs=0.0)
    off = volume_over_leans(field, near, heights, np.array([9e-3]), 0.4, leans)[:, 0, 0]
    inward = volume_over_leans(field, near, heights, np.array([9e-3]), -0.4, leans[:1])[0, 0, 0]
    assert off[2] == pytest.approx(inward, rel=1e-9, abs=0.0)
    assert abs(off[0]) > abs(off[2])


def test_the_map_does_not_jump_where_the_method_changes(field: AirField) -> None:
    """Both methods hold just above the change, so there the map may be taken by either."""
    solution = tag_solution(PANCAKE, FREQUENCY, 1e-3)
    near = near_tag(solution, 1.0, -4.5e-3)
    heights = np.array([near.clear_above + 0.1e-3])
    offsets, tilts = np.array([0.0, 10e-3]), np.array([0.2])
    by_moments = tag_map(field, solution.moments, heights, offsets, tilts, near).mutual_inductance[0, :, 0]
    by_volume = volume_over_leans(field, near, heights, offsets, 0.2, np.zeros(1))[0, 0]
    assert by_moments == pytest.approx(by_volume, rel=2.0 * LUMPING_ERROR, abs=0.0)
    scattered = mutual_inductance_at(field, solution.moments, heights[:1], offsets[1:], tilts)
    assert by_moments[1] == pytest.approx(scattered[0], rel=1e-9, abs=0.0)


def test_below_the_change_the_map_takes_the_volume_integral(field: AirField) -> None:
    solution = tag_solution(PANCAKE, FREQUENCY, 1e-3)
    near = near_tag(solution, 1.0, -4.5e-3)
    heights, offsets = np.array([3e-3, near.clear_above + 1e-3]), np.array([0.0, 4e-3])
    found = tag_map(field, solution.moments, heights, offsets, np.array([0.0]), near).mutual_inductance[0, :, 0]
    expected = volume_over_leans(field, near, heights[:1], offsets, 0.0, np.zeros(1))[0, 0]
    assert found == pytest.approx(expected, rel=1e-12, abs=0.0)
