"""Places of the whole-space check: chosen, typed, refused."""

from dataclasses import replace
from math import radians

import pytest

from geometries.errors import GeometryError
from studies.assembly_tag import Extent
from studies.space_places import LEAST_PLACES, base_field_about, check_places, chosen_places, read_place
from studies.specification import Candidate, Place, Requirement
from studies.study import read_study
from studies.whole_space import coils_in_the_open
from tests.studies.conftest import LIBRARY, Reader
from tests.studies.small import SMALL


@pytest.fixture
def small(read: Reader) -> Candidate:
    return read(SMALL).base


def test_five_places_off_the_axis_with_the_required_ones_first() -> None:
    base = read_study(LIBRARY / "culture-bench.toml", ()).base
    found = chosen_places(base)
    assert found[:2] == base.require.places[1:]  # the first is upright on the axis: no check, it is the reference
    assert len(found) == len(set(found)) == LEAST_PLACES
    assert all(place.offset and place.tilt for place in found)
    check_places(base, found)


def test_many_required_places_are_all_checked(small: Candidate) -> None:
    places = tuple(Place(0.015, 1e-3 * i, 0.1) for i in range(1, 8))
    assert chosen_places(replace(small, require=Requirement(places))) == places


def test_chosen_places_clear_the_plate(read: Reader) -> None:
    flat = read(
        SMALL.replace('{ from = "6 mm", to = "30 mm", count = 4 }', '["6 mm"]').replace(
            '["0 deg", "20 deg"]', '["0 deg"]'
        )
    )
    check_places(flat.base, chosen_places(flat.base))


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("25 mm, 5 mm, 10 deg", Place(0.025, 0.005, radians(10.0))),
        ("2.5 cm,5 mm", Place(0.025, 0.005, 0.0)),
        (" 25 mm ", Place(0.025, 0.0, 0.0)),
        ("25 mm, 0 mm, -10 deg", Place(0.025, 0.0, radians(-10.0))),
    ],
)
def test_a_typed_place(text: str, place: Place) -> None:
    found = read_place(text)
    assert (found.height, found.offset) == (place.height, place.offset)
    assert found.tilt == pytest.approx(place.tilt, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("25 mm, 5 mm, 10 deg, 3 mm", "4 parts"),
        ("25", "has no unit"),
        ("25 mm, 10 deg", "an angle"),
        ("", "not a finite number"),
        ("25 mm, 5 mm, 10 mm", "a length"),
    ],
)
def test_a_text_that_is_no_place_is_told_with_an_example(text: str, said: str) -> None:
    with pytest.raises(GeometryError, match=said) as caught:
        read_place(text)
    assert caught.value.key == "--place"
    assert '"25 mm, 5 mm, 10 deg"' in str(caught.value)


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (Place(0.031, 0.0, 0.0), "heights go from 6 mm to 30 mm"),
        (Place(0.005, 0.0, 0.0), "heights go from 6 mm to 30 mm"),
        (Place(0.015, 0.009, 0.0), "offsets go from 0 mm to 8 mm"),
        (Place(0.015, -0.001, 0.0), "offsets go from 0 mm to 8 mm"),
        (Place(0.015, 0.0, 4.0), "a tilt lies between"),
    ],
)
def test_a_place_outside_the_map_is_refused_with_its_range(small: Candidate, place: Place, said: str) -> None:
    with pytest.raises(GeometryError, match=said):
        check_places(small, (place,))


def test_a_place_inside_the_plate_is_refused(read: Reader) -> None:
    low = read(SMALL.replace('from = "6 mm"', 'from = "2 mm"').replace('["0 deg", "20 deg"]', '["0 deg"]')).base
    check_places(low, (Place(0.002, 0.0, 0.0),))
    with pytest.raises(GeometryError, match=r"would enter the plate; with this tilt its height is 4 mm"):
        check_places(low, (Place(0.002, 0.0, radians(90.0)),))


def test_what_reaches_down_to_the_sources_is_refused(small: Candidate) -> None:
    coils = coils_in_the_open(small)
    with pytest.raises(GeometryError, match="reaches down to -14 mm, but a winding, conductor or ferrite"):
        base_field_about(coils, (Place(0.006, 0.0, 0.0),), Extent(0.004, 0.02), 1e-3)
