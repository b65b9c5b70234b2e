"""How a puck lies in a vessel, against points of its surface held inside the glass by brute force."""

from math import asin, cos, hypot, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from geometries.pucks import (
    Puck,
    bore_on_edge,
    brought_back,
    fits,
    lift,
    needed_bore,
    passes_neck,
    slope,
    tag_heights,
    tag_sticks_out,
    wall_distances,
)
from geometries.vessels import Vessel

BAR = Puck("bar", 40e-3, 10e-3, 5e-3)
DISC = Puck("disc", 30e-3, 8e-3, 4e-3)
FLASK = Vessel("flask", "round", 105e-3, 170e-3, 2e-3, 3e-3, 26e-3)
FLAT_FLASK = Vessel("flat flask", "flask", 105e-3, 165e-3, 2e-3, 3e-3, 26e-3, 60e-3)
BEAKER = Vessel("beaker", "flat", 70e-3, 95e-3, 1.1e-3)

Points = NDArray[np.float64]


def surface(puck: Puck) -> Points:
    """Points of the puck's ends or rims, its underside's middle at the origin, shape (n, 3)."""
    angle = np.linspace(0.0, 2.0 * pi, 721)
    half, reach = 0.5 * puck.thickness, puck.reach
    if puck.shape == "bar":
        ends = [np.full_like(angle, -reach), np.full_like(angle, reach)]
        parts = [np.stack([x, half * np.sin(angle), half - half * np.cos(angle)], axis=1) for x in ends]
    else:
        flat = reach * np.cos(angle), reach * np.sin(angle)
        parts = [np.stack([*flat, np.full_like(angle, z)], axis=1) for z in (0.0, puck.thickness)]
    return np.concatenate(parts)


@pytest.mark.parametrize("puck", [BAR, DISC, Puck("bar", 60e-3, 8e-3, 4e-3), Puck("disc", 70e-3, 5e-3, 2e-3)])
def test_its_ends_lift_it_on_a_round_bottom(puck: Puck) -> None:
    """The least height at which all of it is inside a ball of radius R about (0, 0, R)."""
    ball, points = FLASK.inner_radius, surface(puck)
    low, high = 0.0, ball
    for _ in range(60):
        middle = 0.5 * (low + high)
        inside = np.sqrt((points[:, :2] ** 2).sum(axis=1) + (points[:, 2] + middle - ball) ** 2).max() <= ball
        low, high = (low, middle) if inside else (middle, high)
    assert lift(puck, FLASK) == pytest.approx(high, rel=1e-9, abs=0.0)
    assert tag_heights(puck, FLASK) == pytest.approx([3e-3 + high + puck.tag_height] * 2, rel=1e-9, abs=0.0)


def test_a_flat_floor_lifts_nothing() -> None:
    assert (lift(BAR, BEAKER), slope(BAR, BEAKER, 5e-3)) == (0.0, 0.0)
    assert tag_heights(BAR, BEAKER) == pytest.approx([1.1e-3 + 5e-3] * 2, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("puck", [BAR, DISC])
def test_off_the_middle_it_leans_and_rises_along_the_ball(puck: Puck) -> None:
    """Turned about the ball's centre it still touches all round: the middle of the underside is where that takes it."""
    ball, stray = FLASK.inner_radius, 9e-3
    lean = slope(puck, FLASK, stray)
    start = np.array([0.0, lift(puck, FLASK) - ball])
    turned = np.array([-start[1] * np.sin(lean), start[1] * np.cos(lean)])
    assert turned[0] == pytest.approx(stray, rel=1e-9, abs=0.0)
    assert lift(puck, FLASK, stray) == pytest.approx(ball + turned[1], rel=1e-9, abs=0.0)
    assert lean == pytest.approx(asin(stray / sqrt(ball**2 - puck.reach**2)), rel=1e-9, abs=0.0)
    middle = 3e-3 + ball + turned[1] + puck.tag_height * cos(lean)
    assert tag_heights(puck, FLASK, stray) == pytest.approx((middle, middle), rel=1e-9, abs=0.0)


def test_a_tag_set_along_a_leaning_bar_rises_and_sinks() -> None:
    """As many turns of the bar about its own upright as are drawn, the upright leaning in."""
    puck, stray = Puck("bar", 40e-3, 10e-3, 5e-3, 12e-3), 9e-3
    lean, foot = slope(puck, FLASK, stray), 3e-3 + lift(puck, FLASK, stray)
    turns = np.linspace(0.0, 2.0 * pi, 361)
    heights = foot + 5e-3 * cos(lean) + 12e-3 * np.cos(turns) * np.sin(lean)
    assert tag_heights(puck, FLASK, stray) == pytest.approx((heights.min(), heights.max()), rel=1e-12, abs=0.0)
    assert tag_heights(puck, FLASK) == pytest.approx([3e-3 + lift(puck, FLASK) + 5e-3] * 2, rel=1e-12, abs=0.0)


def outside_of_flask(puck: Puck, offset: float, height: float, lean: float) -> float:
    """How far the furthest of the puck's points is out of ball and floor, its top leaning inward as its end rises."""
    points = surface(puck)
    x = offset + points[:, 0] * np.cos(lean) - points[:, 2] * np.sin(lean)
    z = height + points[:, 0] * np.sin(lean) + points[:, 2] * np.cos(lean)
    from_centre = np.sqrt(x**2 + points[:, 1] ** 2 + (z - FLAT_FLASK.ball_height) ** 2)
    return float(max(from_centre.max() - FLAT_FLASK.inner_radius, -z.min()))


def test_the_inside_of_a_flask_is_a_ball_about_the_outsides_centre() -> None:
    """Outside: a ball of 52.5 mm cut where it is 60 mm wide. Inside: one of 50.5 mm, its floor 3 mm up."""
    centre = sqrt(52.5e-3**2 - 30e-3**2)
    assert FLAT_FLASK.cut == pytest.approx(52.5e-3 - centre, rel=1e-12, abs=0.0)
    assert FLAT_FLASK.ball_height == pytest.approx(centre - 3e-3, rel=1e-12, abs=0.0)
    assert FLAT_FLASK.floor_radius == pytest.approx(sqrt(50.5e-3**2 - (centre - 3e-3) ** 2), rel=1e-12, abs=0.0)


@pytest.mark.parametrize("puck", [BAR, DISC, Puck("bar", 80e-3, 8e-3, 4e-3), Puck("disc", 66e-3, 5e-3, 2e-3)])
@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 1.0])
def test_in_a_flask_it_lies_on_floor_and_ball(puck: Puck, share: float) -> None:
    """All of it is inside, and neither lower nor leaning otherwise would it be: it touches with both its ends.

    Out to where an end comes to the ball's equator.
    """
    offset = share * (FLAT_FLASK.inner_radius - puck.reach)
    height, lean = lift(puck, FLAT_FLASK, offset), slope(puck, FLAT_FLASK, offset)
    assert outside_of_flask(puck, offset, height, lean) == pytest.approx(0.0, abs=1e-9)
    assert outside_of_flask(puck, offset, height - 1e-5, lean) > 1e-6
    for other in (lean - 1e-3, lean + 1e-3):
        assert outside_of_flask(puck, offset, height, other) > 1e-6


@pytest.mark.parametrize(("puck", "comes_back"), [(BAR, False), (DISC, False), (Puck("bar", 80e-3, 8e-3, 4e-3), True)])
def test_only_a_puck_wider_than_the_floor_comes_back_in_a_flask(puck: Puck, comes_back: bool) -> None:
    assert brought_back(puck, FLAT_FLASK) is comes_back
    assert (lift(puck, FLAT_FLASK) > 0.0) is comes_back
    assert brought_back(puck, FLASK)
    assert not brought_back(puck, BEAKER)


def distances_by_points(puck: Puck, vessel: Vessel, turns: int = 91) -> tuple[float, float]:
    """How far the puck's middle gets, least and greatest over its turns, all of its points held inside."""
    points, least, most = surface(puck), vessel.inner_radius, 0.0
    inside = np.full(len(points), vessel.inner_radius)
    if vessel.shape == "flask":
        inside = np.sqrt(vessel.inner_radius**2 - (points[:, 2] - vessel.ball_height) ** 2)
    for turn in np.linspace(0.0, 0.5 * pi, turns):
        x = points[:, 0] * np.cos(turn) - points[:, 1] * np.sin(turn)
        y = points[:, 0] * np.sin(turn) + points[:, 1] * np.cos(turn)
        far = float((np.sqrt(inside**2 - y**2) - x).min())
        least, most = min(least, far), max(most, far)
    return least, most


@pytest.mark.parametrize(
    "puck",
    [BAR, DISC, Puck("bar", 20e-3, 16e-3, 8e-3), Puck("bar", 12e-3, 16e-3, 8e-3), Puck("bar", 50e-3, 25e-3, 8e-3)],
)
@pytest.mark.parametrize("vessel", [BEAKER, FLAT_FLASK])
def test_how_far_it_gets_to_the_wall(puck: Puck, vessel: Vessel) -> None:
    """Turned anyhow: a bar's corner leads first; along the wall, or end on where it is short, it gets furthest."""
    assert wall_distances(puck, vessel) == pytest.approx(distances_by_points(puck, vessel), rel=2e-4, abs=0.0)


def test_a_corner_leads_in_a_flat_vessel() -> None:
    corner = hypot(BAR.reach, 0.5 * BAR.thickness)
    assert wall_distances(BAR, BEAKER)[0] == pytest.approx(BEAKER.inner_radius - corner, rel=1e-12, abs=0.0)
    assert wall_distances(DISC, BEAKER) == pytest.approx([BEAKER.inner_radius - 15e-3] * 2, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("puck", "is_in"),
    [
        (Puck("disc", 40e-3, 80e-3, 4e-3), True), (Puck("disc", 40e-3, 90e-3, 4e-3), False),
        (Puck("bar", 80e-3, 8e-3, 4e-3), True), (Puck("bar", 102e-3, 8e-3, 4e-3), False),
    ],
)  # fmt: skip
def test_what_fits_into_a_flask(puck: Puck, is_in: bool) -> None:
    """The top of a disc of 40 mm is at the ball where it is √(50.5² − 20²) + 40.08 = 86.5 mm high."""
    assert fits(puck, FLAT_FLASK) is is_in
    if puck.shape == "disc":
        assert (outside_of_flask(puck, 0.0, 0.0, 0.0) <= 1e-12) is is_in


def test_a_wall_that_leans_in_stops_the_pucks_top() -> None:
    cone = Vessel("cone", "conical", 85e-3, 145e-3, 2e-3, neck_diameter=30e-3)
    body = 145e-3 - 1.125 * 34e-3
    at_top = 40.5e-3 - 8e-3 * 25.5e-3 / body
    assert wall_distances(DISC, cone)[0] == pytest.approx(at_top - 15e-3, rel=1e-12, abs=0.0)


def test_what_goes_through_a_neck() -> None:
    assert needed_bore(BAR) == 10e-3, "end first"
    assert needed_bore(DISC) == 30e-3, "flat"
    assert bore_on_edge(DISC) > needed_bore(DISC)
    assert passes_neck(BAR, FLASK)
    assert not passes_neck(DISC, FLASK)
    assert not passes_neck(Puck("bar", 40e-3, 26e-3, 5e-3), FLASK), "a fit without clearance"
    assert passes_neck(DISC, BEAKER)


def test_no_way_of_holding_a_disc_needs_less_than_its_diameter() -> None:
    """Its shadow along any direction is at least as wide, one way, as the disc is across."""
    points = surface(DISC) - np.array([0.0, 0.0, 0.5 * DISC.thickness])
    for lean in np.linspace(0.0, pi / 2, 19):
        along = np.array([np.sin(lean), 0.0, np.cos(lean)])
        shadow = points - np.outer(points @ along, along)
        across = np.linalg.norm(shadow, axis=1).max()
        assert 2.0 * across >= needed_bore(DISC) - 1e-9


def test_what_fits_in() -> None:
    assert fits(BAR, FLASK)
    assert not fits(Puck("bar", 102e-3, 10e-3, 5e-3), FLASK)
    assert fits(Puck("bar", 67e-3, 10e-3, 5e-3), BEAKER), "hypot(33.5, 5) is 33.87, the inside 33.9"
    assert not fits(Puck("bar", 67.2e-3, 10e-3, 5e-3), BEAKER)
    assert not fits(Puck("disc", 67.9e-3, 10e-3, 5e-3), BEAKER)


def test_a_tag_inside_its_puck() -> None:
    assert tag_sticks_out(BAR, 3e-3, 2e-3) == pytest.approx(hypot(3e-3, 2e-3) - 5e-3, rel=1e-9, abs=0.0)
    assert tag_sticks_out(BAR, 5e-3, 2e-3) == pytest.approx(hypot(5e-3, 2e-3) - 5e-3, rel=1e-9, abs=0.0)
    lying = Puck("bar", 40e-3, 10e-3, 5e-3, tag_offset=17e-3, tag_tilt=pi / 2)
    assert tag_sticks_out(lying, 3e-3, 4e-3) == pytest.approx(1e-3, rel=1e-9, abs=0.0)
    assert tag_sticks_out(DISC, 16e-3, 2e-3) == pytest.approx(1e-3, rel=1e-9, abs=0.0)
    assert tag_sticks_out(DISC, 10e-3, 4.5e-3) == pytest.approx(0.5e-3, rel=1e-9, abs=0.0)
