"""The heater's ribbon."""

from math import pi

import pytest

from geometries.errors import GeometryError
from geometries.heater import rated_resistance, ribbon_length, ribbon_resistance, ribbon_thickness_from_rating
from geometries.materials import find_material


def test_length_is_what_the_rings_of_a_heater_add_up_to() -> None:
    outer, pitch = 70e-3, 4e-3
    middles = [20e-3 + (i + 0.5) * pitch for i in range(12)]  # twelve rings fill 20 to 68 mm
    assert ribbon_length(68e-3, 20e-3, pitch) == pytest.approx(sum(2 * pi * r for r in middles), rel=1e-12, abs=0.0)
    assert ribbon_length(outer, 0.0, pitch) == pytest.approx(pi * outer**2 / pitch, rel=1e-12, abs=0.0)


def test_thickness_from_the_rating_gives_the_rated_resistance_back() -> None:
    resistivity = find_material("nickel-chromium 80/20").resistivity(400.0)
    assert resistivity is not None
    length = ribbon_length(70e-3, 0.0, 4e-3)
    thickness = ribbon_thickness_from_rating(resistivity, length, 2.5e-3, 500.0, 230.0)
    assert ribbon_resistance(resistivity, length, 2.5e-3, thickness) == pytest.approx(
        230.0**2 / 500.0, rel=1e-12, abs=0.0
    )
    assert 230.0**2 / ribbon_resistance(resistivity, length, 2.5e-3, thickness) == pytest.approx(
        500.0, rel=1e-12, abs=0.0
    )
    assert 10e-6 < thickness < 25e-6  # a foil, as such heaters have (common practice, no source)


def test_resistance_by_hand() -> None:
    assert ribbon_resistance(1e-6, 4.0, 2e-3, 20e-6) == pytest.approx(100.0, rel=1e-12, abs=0.0)
    assert rated_resistance(500.0, 230.0) == pytest.approx(105.8, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ((70e-3, 0.0, 0.0), "pitch: 0 was given; it must be above 0"),
        ((70e-3, 70e-3, 4e-3), "inner_radius: 0.07 m does not lie between 0 and the outer radius of 0.07 m"),
        ((70e-3, -1e-3, 4e-3), "inner_radius: -0.001 m does not lie between 0 and the outer radius of 0.07 m"),
    ],
)
def test_nothing_covered_is_refused(arguments: tuple[float, float, float], text: str) -> None:
    with pytest.raises(GeometryError) as caught:
        ribbon_length(*arguments)
    assert str(caught.value) == text


def test_impossible_ribbons_and_ratings_are_refused() -> None:
    with pytest.raises(GeometryError, match=r"^thickness: 0 was given; it must be above 0$"):
        ribbon_resistance(1e-6, 4.0, 2e-3, 0.0)
    with pytest.raises(GeometryError, match=r"^voltage: 0 was given"):
        ribbon_thickness_from_rating(1e-6, 4.0, 2e-3, 500.0, 0.0)
    with pytest.raises(GeometryError, match=r"^width: nan was given"):
        ribbon_thickness_from_rating(1e-6, 4.0, float("nan"), 500.0, 230.0)
