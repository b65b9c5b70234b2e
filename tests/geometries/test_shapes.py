"""Shapes by name: volumes of solid geometry, and sizes that make no body."""

from math import hypot, pi

import pytest

from geometries.errors import GeometryError
from geometries.overlap import outline_fault, signed_area
from geometries.shapes import (
    CHORDS,
    Well,
    bath_outline,
    block_outline,
    disc_outline,
    pan_outline,
    revolved_volume,
)

MM = 1e-3
BALL = 2.0 / 3.0 * pi
"""Volume of a half ball over its radius cubed."""

OUTLINES = {
    "disc": disc_outline(0.12, 0.004, -0.03),
    "ring": disc_outline(0.12, 0.004, -0.03, 0.02),
    "pan": pan_outline(0.16, 0.03, 0.002, -0.06),
    "block": block_outline(0.1, 0.06, 0.0),
    "block with a hole": block_outline(0.1, 0.06, 0.0, hole_diameter=0.01),
    "hemispherical well": block_outline(0.1, 0.06, 0.0, Well(0.04, 0.02)),
    "deep well": block_outline(0.1, 0.06, 0.0, Well(0.04, 0.035)),
    "well and hole": block_outline(0.1, 0.06, 0.0, Well(0.04, 0.035), 0.01),
    "hemispherical well and hole": block_outline(0.1, 0.06, 0.0, Well(0.04, 0.02), 0.01),
    "bath": bath_outline(0.08, 0.06, 0.001),
    "round bath": bath_outline(0.08, 0.06, 0.001, round_bottom=True),
    "half ball": bath_outline(0.08, 0.04, 0.001, round_bottom=True),
    "round bath with a tube": bath_outline(0.08, 0.06, 0.001, True, Well(0.02, 0.03)),
}
CUT = (0.02**2 - 0.005**2) ** 1.5 * BALL
"""Half ball of 20 mm radius outside a hole of 5 mm."""

DEEP = BALL * 0.02**3 + pi * 0.02**2 * 0.015
VOLUMES = {
    "disc": pi * 0.06**2 * 0.004,
    "ring": pi * (0.06**2 - 0.01**2) * 0.004,
    "pan": pi * 0.08**2 * 0.03 - pi * 0.078**2 * 0.028,
    "block": pi * 0.05**2 * 0.06,
    "block with a hole": pi * (0.05**2 - 0.005**2) * 0.06,
    "hemispherical well": pi * 0.05**2 * 0.06 - BALL * 0.02**3,
    "deep well": pi * 0.05**2 * 0.06 - DEEP,
    "well and hole": pi * (0.05**2 - 0.005**2) * 0.06 - CUT - pi * (0.02**2 - 0.005**2) * 0.015,
    "hemispherical well and hole": pi * (0.05**2 - 0.005**2) * 0.06 - CUT,
    "bath": pi * 0.04**2 * 0.06,
    "round bath": BALL * 0.04**3 + pi * 0.04**2 * 0.02,
    "half ball": BALL * 0.04**3,
    "round bath with a tube": BALL * 0.04**3 + pi * 0.04**2 * 0.02 - BALL * 0.01**3 - pi * 0.01**2 * 0.02,
}


@pytest.mark.parametrize("name", OUTLINES)
def test_outlines_are_proper_and_keep_the_volume_of_the_round_body(name):
    outline = OUTLINES[name]
    assert outline_fault(outline) is None
    assert signed_area(outline) > 0.0  # counter-clockwise
    assert revolved_volume(outline) == pytest.approx(VOLUMES[name], rel=1e-9, abs=0.0)


def test_chords_stay_near_the_arc():
    # Half a chord's sagitta either way: R (π/2N)²/16.
    well = [(r, z) for r, z in OUTLINES["hemispherical well"] if r <= 0.02 and z > 0.03]
    assert len(well) == CHORDS + 1
    off = [hypot(r, z - 0.06) / 0.02 - 1.0 for r, z in well]
    assert 0.0 < max(off) < 2.0 * (pi / 2 / CHORDS) ** 2 / 12
    assert well[0] == (0.02, pytest.approx(0.06, abs=1e-15))
    assert min(z for _, z in well) == pytest.approx(0.04, abs=1e-5)


REFUSED = [
    (lambda: disc_outline(0.0, 1 * MM, 0.0), "diameter", "0 mm was given; it must be above 0"),
    (lambda: disc_outline(10 * MM, 1 * MM, 0.0, 10 * MM), "inner_diameter", "below the diameter of 10 mm"),
    (lambda: pan_outline(30 * MM, 10 * MM, 15 * MM, 0.0), "wall_thickness", "below the height of 10 mm"),
    (lambda: pan_outline(30 * MM, 40 * MM, 15 * MM, 0.0), "wall_thickness", "below the outer diameter of 30 mm"),
    (lambda: block_outline(50 * MM, 30 * MM, 0.0, Well(20 * MM, 30 * MM)), "well_depth", "below the height of 30 mm"),
    (lambda: block_outline(50 * MM, 30 * MM, 0.0, Well(20 * MM, 9 * MM)), "well_depth", "10 mm"),
    (lambda: block_outline(50 * MM, 90 * MM, 0.0, Well(50 * MM, 30 * MM)), "well_diameter", "outer diameter of 50 mm"),
    (
        lambda: block_outline(50 * MM, 30 * MM, 0.0, Well(20 * MM, 15 * MM), 20 * MM),
        "hole_diameter",
        "well diameter of 20 mm",
    ),
    (lambda: bath_outline(80 * MM, 30 * MM, 0.0, True), "height", "40 mm"),
]


@pytest.mark.parametrize(("make", "key", "clause"), REFUSED)
def test_sizes_that_make_no_body_are_refused_by_name(make, key, clause):
    with pytest.raises(GeometryError) as caught:
        make()
    assert caught.value.key == key
    assert clause in caught.value.message
