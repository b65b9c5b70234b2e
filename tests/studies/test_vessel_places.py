"""Where the tag comes to be in a vessel, against positions of coil, drive and puck drawn at random."""

from math import pi

import numpy as np
import pytest
from numpy.typing import NDArray

from geometries.pucks import Puck, wall_distances
from geometries.vessels import Vessel
from studies.vessel_places import TURN_POINTS, held_closer, in_vessel, refusal

BEAKER = Vessel("beaker", "flat", 90e-3, 125e-3, 1.3e-3, 2e-3)
FLASK = Vessel("flask", "round", 105e-3, 170e-3, 2e-3, 2e-3, 26e-3)


def bar(tag: float, spindle: float, wander: float, tilt: float = 0.0) -> Puck:
    return Puck("bar", 40e-3, 10e-3, 5e-3, tag, tilt, spindle, wander)


def offsets_by_chance(puck: Puck, middles: tuple[float, float]) -> NDArray[np.float64]:
    """Distances of the tag from the coil's axis, drive, puck's middle and bar turned at random."""
    chance = np.random.default_rng(1)
    distance = chance.uniform(*middles, 400_000)
    round_the_drive, of_the_bar = chance.uniform(0.0, 2.0 * pi, (2, 400_000))
    place = puck.spindle_offset + distance * np.exp(1j * round_the_drive) + puck.tag_offset * np.exp(1j * of_the_bar)
    return np.asarray(np.abs(place))


@pytest.mark.parametrize(
    "puck",
    [bar(12e-3, 5e-3, 0.0), bar(5e-3, 12e-3, 0.0), bar(5e-3, 12e-3, 3e-3), bar(5e-3, 5e-3, 2e-3), bar(0.0, 4e-3, 1e-3)],
)
def test_over_a_revolution_it_is_as_near_and_as_far_as_chance_finds(puck: Puck) -> None:
    one = in_vessel(puck, BEAKER)
    found = [place.offset for place in one.held]
    chance = offsets_by_chance(puck, (0.0, puck.wander))
    assert (min(found), max(found)) == pytest.approx((chance.min(), chance.max()), abs=1e-4)
    assert len(found) == TURN_POINTS
    at_wall = offsets_by_chance(puck, wall_distances(puck, BEAKER))
    wall = [place.offset for place in one.wall]
    assert (min(wall), max(wall)) == pytest.approx((at_wall.min(), at_wall.max()), abs=1e-4)


def test_a_tag_on_the_common_axis_is_at_one_place() -> None:
    one = in_vessel(bar(0.0, 0.0, 0.0), BEAKER)
    assert [(p.height, p.offset, p.tilt) for p in one.held] == [(pytest.approx(7e-3), 0.0, 0.0)]
    assert one.wall_distance == pytest.approx(wall_distances(bar(0.0, 0.0, 0.0), BEAKER)[0])
    assert one.outward[0].offset == 0.0
    assert one.outward[-1].offset == max(place.offset for place in one.wall)


def test_on_a_round_bottom_it_comes_back_and_leans_only_as_it_strays() -> None:
    still = in_vessel(bar(0.0, 0.0, 0.0, 0.1), FLASK)
    assert still.wall == ()
    assert {place.tilt for place in still.held} == {0.1}
    strayed = in_vessel(bar(0.0, 0.0, 8e-3, 0.1), FLASK)
    lean = np.arcsin(8e-3 / np.sqrt(50.5e-3**2 - 20e-3**2))
    assert sorted({place.tilt for place in strayed.held}) == pytest.approx(sorted({0.1, 0.1 + lean, lean - 0.1}))
    assert max(place.height for place in strayed.held) > still.held[0].height
    along = in_vessel(bar(12e-3, 0.0, 8e-3), FLASK)
    on_its_axis = in_vessel(bar(0.0, 0.0, 8e-3), FLASK)
    higher, lower = (end(p.height for p in along.held) - end(p.height for p in on_its_axis.held) for end in (max, min))
    assert higher == pytest.approx(12e-3 * np.sin(lean), rel=1e-9)
    arm = np.sqrt(50.5e-3**2 - 20e-3**2)
    assert lower == pytest.approx((arm - 5e-3) * (1.0 - np.cos(lean)) - 12e-3 * np.sin(lean), rel=1e-9)


def test_in_a_flat_bottomed_flask_it_slides_on_the_floor_or_is_brought_back() -> None:
    flask = Vessel("flask", "flask", 105e-3, 165e-3, 2e-3, 3e-3, 26e-3, 60e-3)
    on_floor = in_vessel(bar(0.0, 0.0, 8e-3), flask)
    assert [place.height for place in on_floor.held] == pytest.approx([8e-3] * TURN_POINTS)
    assert on_floor.wall_distance == pytest.approx(flask.floor_radius - 20e-3), "its end is at the floor's edge"
    assert min(place.offset for place in on_floor.wall) == on_floor.wall_distance
    across = in_vessel(Puck("bar", 80e-3, 8e-3, 4e-3, wander=2e-3), flask)
    assert across.wall == ()
    assert min(place.height for place in across.held) > 3e-3 + 4e-3, "its ends are on the ball"
    assert max(place.tilt for place in across.held) > 0.0


def test_what_does_not_get_in_is_nowhere_and_says_why() -> None:
    thick = Puck("bar", 40e-3, 27e-3, 5e-3)
    assert in_vessel(thick, FLASK).places == ()
    assert refusal(thick, FLASK) == "the puck does not pass the neck: end first it is 27 mm across, the bore 26 mm"
    long = Puck("bar", 90e-3, 10e-3, 5e-3)
    assert in_vessel(long, BEAKER).places == ()
    assert refusal(long, BEAKER) == "the puck, 90 mm long, is too large for the inside, 87.4 mm wide"
    assert refusal(bar(0.0, 0.0, 0.0), BEAKER) == ""


def test_a_vessel_lower_than_the_puck_and_one_that_leaves_it_less_room_are_told() -> None:
    dish = Vessel("dish", "flat", 90e-3, 11e-3, 1.3e-3, 2e-3)
    assert in_vessel(bar(0.0, 0.0, 0.0), dish).places == ()
    told = "the puck stands out of the vessel: its top is 10 mm above the floor, the inside 9 mm deep"
    assert refusal(bar(0.0, 0.0, 0.0), dish) == told
    bowl = Vessel("bowl", "round", 105e-3, 15e-3, 2e-3, 2e-3)
    assert refusal(bar(0.0, 0.0, 0.0), bowl).startswith("the puck stands out of the vessel: its top is 14.1 mm")
    assert held_closer(bar(0.0, 0.0, 20e-3), BEAKER) == ""
    told = held_closer(bar(0.0, 0.0, 30e-3), BEAKER)
    assert told == "the puck strays 23.1 mm at most, not the 30 mm of puck.wander: there the wall is"
