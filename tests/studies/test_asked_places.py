"""Where coupling is asked for: heights, reference places, how low the tag reaches, the air it moves in."""

from dataclasses import replace
from math import cos, radians, sin, sqrt

import pytest

from fem.near_places import CLEAR_SHARE
from studies.asked_places import (
    CEILING,
    ceiling_for,
    height_range,
    lowest_point,
    open_air,
    probe_heights,
    reference_places,
    worst_line,
)
from studies.solving import nominal_tag
from studies.specification import Candidate, Place
from studies.study import read_study
from tests.studies.small import SMALL

MM = 1e-3


@pytest.fixture
def candidate(tmp_path) -> Candidate:
    """Places at 15 mm; map from 6 to 30 mm, offsets 0 and 8 mm, tilts 0 and 20°; tag 2 mm high, 4 mm in radius."""
    file = tmp_path / "study.toml"
    file.write_text(SMALL, encoding="utf-8")
    return read_study(file).base


def with_places(candidate: Candidate, *places: Place) -> Candidate:
    return replace(candidate, require=replace(candidate.require, places=places))


def close(value: float):
    return pytest.approx(value, rel=1e-12, abs=0.0)


def test_required_places_are_the_reference(candidate):
    assert reference_places(candidate) == candidate.require.places
    assert [place.height for place in candidate.require.places] == [close(15 * MM)]


def test_without_places_it_is_the_required_read_height_or_the_middle_of_the_map(candidate):
    none = with_places(candidate)
    heights = none.grid.heights
    assert reference_places(none) == (Place(heights[len(heights) // 2], 0.0, 0.0),)
    for wanted, expected in ((20 * MM, 20 * MM), (2 * MM, heights[0])):
        limit = replace(candidate.require.at_most[0], quantity="read_height", value=wanted)
        asked = replace(none, require=replace(none.require, at_least=(limit,)))
        assert reference_places(asked) == (Place(close(expected), 0.0, 0.0),)


def test_heights_reach_over_map_and_places(candidate):
    assert height_range(candidate) == (close(6 * MM), close(30 * MM))
    further = with_places(candidate, Place(4 * MM, 0.0, 0.0), Place(50 * MM, 0.0, 0.0))
    assert height_range(further) == (4 * MM, 50 * MM)
    assert probe_heights(further) == (4 * MM, close(sqrt(200.0) * MM), 50 * MM)
    flat = replace(with_places(candidate, Place(9 * MM, 0.0, 0.0)), grid=replace(candidate.grid, heights=(9 * MM,)))
    assert probe_heights(flat)[0] == 9 * MM
    assert max(probe_heights(flat)) == close(9 * MM)


def test_worst_line_is_by_the_required_places(candidate):
    places = Place(15 * MM, 2 * MM, radians(-30.0)), Place(15 * MM, 5 * MM, radians(10.0))
    assert worst_line(with_places(candidate, *places)) == (5 * MM, close(radians(30.0)))
    assert worst_line(with_places(candidate)) == (close(candidate.coil.mean_diameter / 8.0), close(radians(20.0)))
    narrow = replace(with_places(candidate), grid=replace(candidate.grid, offsets=(0.0, 1 * MM)))
    assert worst_line(narrow)[0] == 1 * MM


def test_lowest_point_is_of_the_tag_as_it_leans(candidate):
    tag = nominal_tag(candidate.tag)
    assert (tag.half_height, tag.outer_radius) == (close(1 * MM), close(4 * MM))
    tilt = radians(20.0)
    assert lowest_point(candidate, tag) == close(6 * MM - 1 * MM * cos(tilt) - 4 * MM * sin(tilt))
    steep = with_places(candidate, Place(7 * MM, 0.0, radians(-90.0)))  # also the line of leaning margins, at 6 mm
    assert lowest_point(steep, tag) == pytest.approx(6 * MM - 4 * MM, rel=1e-9, abs=0.0)


def test_a_tag_that_leans_inward_in_the_map_reaches_as_low_as_outward(candidate):
    tag = nominal_tag(candidate.tag)
    inward, outward = (
        replace(with_places(candidate), grid=replace(candidate.grid, tilts=(radians(tilt),))) for tilt in (-40.0, 40.0)
    )
    assert lowest_point(inward, tag) == lowest_point(outward, tag) < lowest_point(with_places(candidate), tag)


def test_ceiling_is_by_the_diameter_the_map_and_the_lowest_place(candidate):
    assert ceiling_for(candidate, 40 * MM) == close(CEILING * 40 * MM)
    assert ceiling_for(candidate, 4 * MM) == close(30 * MM)
    single = with_places(replace(candidate, grid=replace(candidate.grid, heights=(20 * MM,))), Place(20 * MM, 0.0, 0.0))
    assert ceiling_for(single, 4 * MM) == close(40 * MM)


def test_open_air_holds_the_tag_at_every_place(candidate):
    tag, top = nominal_tag(candidate.tag), -5 * MM
    far = with_places(candidate, Place(15 * MM, 12 * MM, 0.0))
    air = open_air(far, tag, top, 0.1)
    assert air is not None
    assert air.radius >= 12 * MM + tag.sphere_radius
    assert air.high == close(0.1 + tag.sphere_radius)
    # High above the sources the whole sphere about the tag is in the air, nearer to them the tag itself.
    assert top + tag.sphere_radius / CLEAR_SHARE < 6 * MM
    assert air.low == close(6 * MM - tag.sphere_radius)
    near = open_air(candidate, tag, 1 * MM, 0.1)
    assert near is not None
    assert 1 * MM < near.low <= lowest_point(candidate, tag)


def test_a_tag_that_reaches_down_among_the_sources_has_no_open_air(candidate):
    tag = nominal_tag(candidate.tag)
    lowest = lowest_point(candidate, tag)
    assert open_air(candidate, tag, lowest + 0.1 * MM, 0.1) is None
    assert open_air(candidate, tag, lowest - 0.1 * MM, 0.1) is not None
