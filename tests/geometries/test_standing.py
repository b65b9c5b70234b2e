"""Where a vessel comes to stand, against what it would touch found by brute force."""

from math import hypot, sqrt

import numpy as np
import pytest

from geometries.shapes import Well, block_outline, disc_outline
from geometries.standing import has_well, standing_height, surface_at
from geometries.tag import Outline
from geometries.vessels import Vessel


def by_dense_points(vessel: Vessel, outline: Outline) -> float:
    """Least lift at which no point of the outline is inside the vessel's outer shape."""
    lifts = [0.0]
    for (r0, z0), (r1, z1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        shares = np.linspace(0.0, 1.0, 4001)
        r, z = r0 + shares * (r1 - r0), z0 + shares * (z1 - z0)
        under = r < vessel.outer_radius
        ball = vessel.outer_radius
        centre = np.sqrt(ball**2 - 0.25 * vessel.flat**2)
        rise = 0.0 * r if vessel.shape == "flat" else np.maximum(centre - np.sqrt(np.maximum(ball**2 - r**2, 0.0)), 0.0)
        lifts += list((z - rise)[under][-1:]) + ([float((z - rise)[under].max())] if under.any() else [])
    return max(lifts)


BLOCK = block_outline(90e-3, 40e-3, 0.0, Well(50e-3, 36e-3), 36e-3)
CLOSED = block_outline(90e-3, 40e-3, 0.0, Well(50e-3, 30e-3))
CONE: Outline = ((0.0, 0.0), (40e-3, 0.0), (40e-3, 30e-3), (35e-3, 30e-3), (0.0, 5e-3))


@pytest.mark.parametrize("outline", [BLOCK, CLOSED, CONE])
@pytest.mark.parametrize(("shape", "diameter"), [("round", 48e-3), ("round", 60e-3), ("flat", 40e-3), ("flat", 80e-3)])
def test_it_stands_on_what_it_meets_first(outline: Outline, shape: str, diameter: float) -> None:
    vessel = Vessel("v", shape, diameter, 80e-3, 2e-3)  # type: ignore[arg-type]
    assert standing_height(vessel, [outline]) == pytest.approx(by_dense_points(vessel, outline), abs=2e-5)


@pytest.mark.parametrize("outline", [BLOCK, CLOSED, CONE])
@pytest.mark.parametrize(("diameter", "flat"), [(48e-3, 10e-3), (60e-3, 20e-3), (60e-3, 36e-3), (44e-3, 43e-3)])
def test_a_flask_stands_on_its_flat_or_its_ball(outline: Outline, diameter: float, flat: float) -> None:
    vessel = Vessel("v", "flask", diameter, 80e-3, 2e-3, flat=flat)
    assert standing_height(vessel, [outline]) == pytest.approx(by_dense_points(vessel, outline), abs=2e-5)


def test_on_a_wells_rim_a_ball_stands_by_its_cap() -> None:
    """A ball of 30 mm radius on a rim of 25 mm: its cap hangs R − √(R² − a²) below the rim."""
    wide = Vessel("v", "round", 60e-3, 80e-3, 2e-3)
    rim = 40e-3 - (30e-3 - sqrt(30e-3**2 - 25e-3**2))
    assert standing_height(wide, [CLOSED]) == pytest.approx(rim, abs=1e-9)


def test_a_ball_touches_a_cone_where_it_has_its_slope() -> None:
    """In a cone z = z0 + m r the centre is R √(1 + m²) above the apex."""
    vessel, slope = Vessel("v", "round", 40e-3, 60e-3, 2e-3), 25.0 / 35.0
    expected = 5e-3 + 20e-3 * hypot(1.0, slope) - 20e-3
    assert standing_height(vessel, [CONE]) == pytest.approx(expected, rel=1e-12, abs=0.0)


def test_through_a_hole_it_stands_on_the_plate() -> None:
    thin = Vessel("v", "flat", 30e-3, 60e-3, 1e-3)
    assert standing_height(thin, [BLOCK]) == 0.0
    assert standing_height(thin, []) == 0.0


def test_what_has_a_well() -> None:
    assert has_well(CLOSED)
    assert has_well(BLOCK), "a hole right through is one"
    assert not has_well(disc_outline(80e-3, 5e-3, 5e-3))
    assert not has_well(block_outline(90e-3, 40e-3, 0.0))
    assert surface_at(CLOSED, 0.0) == pytest.approx(10e-3, abs=1e-5)
    assert surface_at(CLOSED, 1.0) == float("-inf")
