"""Sizes of laboratory glass against their standards, and what follows from a vessel's dimensions."""

from math import pi

import pytest

from geometries.errors import GeometryError
from geometries.vessels import (
    UnknownSize,
    Vessel,
    check_vessel,
    glass_size,
    joint_names,
    size_names,
    socket_bore,
    standard_names,
)

# GOST 25336-82, table 1, beakers of type Н (low) and В (tall): capacity, outer diameter, height, least wall [ml, mm].
# Its series is that of ISO 3819; in ISO 3819:2015 diameters may be 5 % off.
LOW = (
    (5, 22, 30, 0.7),
    (10, 26, 35, 0.7),
    (25, 34, 50, 0.7),
    (50, 42, 60, 0.8),
    (100, 50, 70, 0.9),
    (150, 60, 80, 1.0),
    (250, 70, 95, 1.1),
    (400, 80, 110, 1.2),
    (600, 90, 125, 1.3),
    (800, 100, 135, 1.3),
    (1000, 105, 145, 1.3),
    (2000, 130, 185, 1.4),
    (3000, 150, 210, 1.7),
    (5000, 170, 270, 2.0),
)
TALL = (
    (50, 38, 70, 0.8),
    (100, 48, 80, 0.9),
    (150, 54, 95, 1.0),
    (250, 60, 120, 1.1),
    (400, 70, 130, 1.2),
    (600, 80, 150, 1.3),
    (800, 90, 175, 1.3),
    (1000, 95, 180, 1.3),
    (2000, 120, 240, 1.4),
    (3000, 135, 280, 1.7),
)


@pytest.mark.parametrize(("form", "sizes"), [("low", LOW), ("tall", TALL)])
def test_beakers_of_iso_3819(form: str, sizes: tuple[tuple[float, ...], ...]) -> None:
    standard = f"ISO 3819 {form} form"
    assert size_names(standard) == tuple(f"{row[0]} ml" for row in sizes)
    for capacity, diameter, height, wall in sizes:
        found = glass_size(standard, f"{capacity} ml")
        assert found.shape == "flat"
        assert found.neck_outer_diameter is None
        told = (found.outer_diameter, found.height, found.wall_thickness)
        assert told == pytest.approx((diameter * 1e-3, height * 1e-3, wall * 1e-3), rel=1e-12, abs=0.0)
        # a beaker holds its capacity below the rim, and not twice as much
        inside = pi * (0.5 * diameter - wall) ** 2 * (height - wall) * 1e-3
        assert capacity < inside < 2.2 * capacity


# ISO 1773 (narrow-necked boiling flasks), conical: capacity, outer diameter of body and of neck [ml, mm], where two
# public listings of the standard's sizes agree. Round-bottomed ones from memory.
CONICAL = ((25, 42, 22), (50, 51, 22), (100, 64, 22), (250, 85, 34), (500, 105, 34), (1000, 131, 42))
ROUND = ((50, 51, 26), (100, 64, 26), (250, 85, 34), (500, 105, 34), (1000, 131, 42), (2000, 166, 50))


@pytest.mark.parametrize(("form", "sizes"), [("conical", CONICAL), ("round-bottom", ROUND)])
def test_boiling_flasks_of_iso_1773_and_iso_4797(form: str, sizes: tuple[tuple[float, ...], ...]) -> None:
    assert size_names(f"ISO 1773 {form}") == tuple(f"{row[0]} ml" for row in sizes)
    for capacity, diameter, neck in sizes:
        found = glass_size(f"ISO 1773 {form}", f"{capacity} ml")
        assert found.shape == ("round" if form == "round-bottom" else "conical")
        assert found.outer_diameter == pytest.approx(diameter * 1e-3, rel=1e-12, abs=0.0)
        assert found.neck_outer_diameter == pytest.approx(neck * 1e-3, rel=1e-12, abs=0.0)
        # ISO 4797:2015, clause 6: bodies as in ISO 1773, the neck being a joint
        jointed = glass_size(f"ISO 4797 {form}", f"{capacity} ml")
        assert (jointed.outer_diameter, jointed.neck_outer_diameter) == (found.outer_diameter, None)


@pytest.mark.parametrize("standard", ["ISO 1773", "ISO 4797"])
def test_bodies_of_flat_bottomed_flasks_are_those_of_round_bottomed_ones(standard: str) -> None:
    """ISO 4797:2015, clause 6, names one external diameter of the body for both; the flat is left to the study."""
    assert size_names(f"{standard} flat-bottom") == size_names(f"{standard} round-bottom")
    for size in size_names(f"{standard} flat-bottom"):
        flat, ball = glass_size(f"{standard} flat-bottom", size), glass_size(f"{standard} round-bottom", size)
        assert flat.shape == "flask"
        assert (flat.outer_diameter, flat.neck_outer_diameter) == (ball.outer_diameter, ball.neck_outer_diameter)


@pytest.mark.parametrize(("capacity", "diameter", "neck"), ROUND)
def test_a_round_flask_holds_its_nominal_capacity_and_little_more(
    capacity: float, diameter: float, neck: float
) -> None:
    """ISO 1773, 3.2: the nominal capacity is the nearest of the series not above the volume up to the neck's base."""
    ball = 4.0 / 3.0 * pi * (0.5 * diameter - 1.0) ** 3 * 1e-3
    assert capacity <= ball < 1.35 * capacity
    assert neck < diameter


SERIES = ((5, 13), (7, 16), (10, 19), (12, 21), (14, 23), (19, 26), (24, 29), (29, 32), (34, 35), (45, 40), (60, 46),
          (71, 51), (85, 55))  # fmt: skip


def test_conical_joints_of_iso_383() -> None:
    """Sizes as in ISO 383 (series k6) and DIN 12242; taper 1 to 10 on the diameter; exact large ends from memory."""
    sizes = tuple(f"{end}/{length}" for end, length in SERIES)
    assert set(sizes) <= set(joint_names())
    ends = dict(zip(sizes, (5, 7.5, 10, 12.5, 14.5, 18.8, 24, 29.2, 34.5, 45, 60, 71, 85), strict=True))
    for joint, end in ends.items():
        first, length = joint.split("/")
        assert abs(end - float(first)) <= 0.5, "the size names its large end, rounded"
        assert socket_bore(joint) == pytest.approx((end - 0.1 * float(length)) * 1e-3, rel=1e-12, abs=0.0)
    assert socket_bore("29/32") == pytest.approx(26.0e-3, rel=1e-12, abs=0.0)
    assert socket_bore("29/42") < socket_bore("29/32")


def test_what_is_not_known_is_told_with_what_is() -> None:
    with pytest.raises(UnknownSize, match='the size "300 ml" of ISO 1773 conical is not known here; known are 25 ml'):
        glass_size("ISO 1773 conical", "300 ml")
    with pytest.raises(UnknownSize, match=r"the standard .* known are ISO 3819 low form"):
        glass_size("ISO 1", "300 ml")
    with pytest.raises(UnknownSize, match='the joint "29/33" is not known here; known are 5/13'):
        socket_bore("29/33")
    assert "ISO 383" not in standard_names()


def test_the_inside_of_a_vessel() -> None:
    vessel = Vessel("flask", "round", 105e-3, 170e-3, 2e-3, 3e-3, 26e-3, standing=10e-3)
    assert (vessel.inner_radius, vessel.floor, vessel.bore) == pytest.approx((50.5e-3, 13e-3, 26e-3), abs=1e-15)
    plain = Vessel("beaker", "flat", 70e-3, 95e-3, 1.1e-3)
    assert (plain.floor, plain.bore, plain.wall_lean) == pytest.approx((1.1e-3, 67.8e-3, 0.0), abs=1e-15)


def test_a_conical_wall_leans_from_foot_to_neck() -> None:
    """Over the height below its neck, 1.125 times its outer diameter long, it comes in from body to neck."""
    vessel = Vessel("cone", "conical", 85e-3, 145e-3, 2e-3, neck_diameter=30e-3)
    body = 145.0 - 1.125 * 34.0
    assert vessel.wall_lean == pytest.approx((42.5 - 17.0) / body, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("vessel", "key"),
    [
        (Vessel("v", "flat", 4e-3, 50e-3, 2e-3), "wall_thickness"),
        (Vessel("v", "flat", 40e-3, 5e-3, 2e-3, 5e-3), "bottom_thickness"),
        (Vessel("v", "round", 40e-3, 50e-3, 2e-3, None, 37e-3), "neck"),
        (Vessel("v", "conical", 40e-3, 50e-3, 2e-3), "neck"),
        (Vessel("v", "conical", 40e-3, 20e-3, 2e-3, None, 20e-3), "height"),
        (Vessel("v", "round", 105e-3, 101e-3, 2e-3, None, 26e-3), "height"),  # the ball meets its neck 102.8 mm up
        (Vessel("v", "flask", 105e-3, 92e-3, 2e-3, None, 26e-3, 60e-3), "height"),  # 9.4 mm lower by its flat
    ],
)
def test_dimensions_that_make_no_vessel(vessel: Vessel, key: str) -> None:
    with pytest.raises(GeometryError) as caught:
        check_vessel(vessel, "vessels.v")
    assert caught.value.key == f"vessels.v.{key}"


def test_a_ball_that_just_reaches_its_neck_is_a_vessel() -> None:
    check_vessel(Vessel("v", "round", 105e-3, 103e-3, 2e-3, None, 26e-3), "vessels.v")
    check_vessel(Vessel("v", "flask", 105e-3, 94e-3, 2e-3, None, 26e-3, 60e-3), "vessels.v")
