"""Constructions that a stock part might have."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometries.checks import tag_faults
from geometries.errors import GeometryError
from geometries.materials import find_material
from geometries.part import TagPart
from geometries.parts import CORNERS, NOMINAL, SLENDER, STOUT, part_constructions, scaled_tag
from geometries.tag import DrumCore

PART = TagPart(2.7e-3, 11.0, 6e-3, 5e-3, find_material("ferrite"))


@given(diameter=st.floats(1e-3, 20e-3), height=st.floats(1e-3, 20e-3))
def test_every_construction_can_be_built_and_fills_the_part(diameter: float, height: float) -> None:
    for tag in part_constructions(replace(PART, diameter=diameter, height=height)):
        assert tag_faults(tag) == ()
        assert isinstance(tag.core, DrumCore)
        assert 2.0 * tag.outer_radius == pytest.approx(diameter, rel=1e-12, abs=0.0)
        assert 2.0 * tag.half_height == pytest.approx(height, rel=1e-12, abs=0.0)
        assert tag.section.winding_length == pytest.approx(tag.core.centre_post_height, rel=1e-12, abs=0.0)
        assert (tag.turns, tag.series_resistance, tag.core.material) == (1.0, 11.0, PART.material)


def test_the_nominal_one_comes_first_and_all_differ() -> None:
    tags = part_constructions(PART)
    assert len(tags) == len(set(tags)) == 1 + len(CORNERS) == 5
    core = tags[0].core
    assert isinstance(core, DrumCore)
    assert core.centre_post_diameter == pytest.approx(0.45 * 6e-3, rel=1e-12, abs=0.0)
    assert core.flange_thickness == pytest.approx(0.20 * 5e-3, rel=1e-12, abs=0.0)
    assert tags[0].section.radial_build == pytest.approx(0.80 * 0.5 * (1 - 0.45) * 6e-3, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("proportion", ["post", "flange", "build"])
def test_the_corners_span_each_proportion_evenly_about_the_nominal(proportion: str) -> None:
    low, high = getattr(SLENDER, proportion), getattr(STOUT, proportion)
    values = [getattr(corner, proportion) for corner in CORNERS]
    assert low < getattr(NOMINAL, proportion) < high
    assert (values.count(low), values.count(high)) == (2, 2)


def test_scaling_changes_the_turns_alone() -> None:
    tag = part_constructions(PART)[0]
    assert scaled_tag(tag, 312.7) == replace(tag, turns=312.7)
    with pytest.raises(GeometryError, match=r"tag\.turns: 0 turns were given; there must be more than 0"):
        scaled_tag(tag, 0.0)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"inductance": 0.0}, "tag.part.inductance: 0 H was given; it must be above 0"),
        ({"diameter": -1e-3}, "tag.part.diameter: -0.001 m was given; it must be above 0"),
        ({"height": float("nan")}, "tag.part.height: nan m was given; it must be above 0"),
        ({"dc_resistance": -1.0}, "tag.part.dc_resistance: -1 ohm was given; it must not be below 0"),
    ],
)
def test_impossible_data_sheets_are_refused(changes: dict[str, Any], text: str) -> None:
    with pytest.raises(GeometryError) as caught:
        part_constructions(replace(PART, **changes))
    assert str(caught.value) == text
