"""NIST Digital Library of Mathematical Functions §19.34, mutual inductance of coaxial circles in Carlson's integrals.

Equation 19.34.5, seen at dlmf.nist.gov/19.34: 3c²M/(8πab) = 3 R_F(0, r₊², r₋²) − 2 r₋² R_D(0, r₊², r₋²), r± the
greatest and the least distance between the circles; the factor 3c²/8π in cgs is 3/(2µ0) in SI.
"""

from math import pi

import pytest
from scipy.special import elliprd, elliprf

from fem.closed_forms import loop_mutual_inductance
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "DLMF 19.34, 2010",
    "NIST *Digital Library of Mathematical Functions*, §19.34, equation 19.34.5 (seen at dlmf.nist.gov/19.34).",
    "book",
)
RECORD = Record(
    SOURCE,
    Status.FORMULA,
    Means.FORMULA,
    "the form subtracts two close terms where the circles are far: its own rounding",
)


@pytest.mark.parametrize(
    ("a", "b", "distance"), [(0.20, 0.25, 0.10), (1.0, 1.0, 1e-3), (1.0, 0.3, 0.0), (0.022, 0.002, 0.025)]
)
def test_carlson_s_form(a: float, b: float, distance: float) -> None:
    near, far = (a - b) ** 2 + distance**2, (a + b) ** 2 + distance**2
    first, second = 3.0 * elliprf(0.0, far, near), 2.0 * near * elliprd(0.0, far, near)
    carlson = 4e-7 * pi * a * b * (2.0 / 3.0) * (first - second)
    rounding = 4e-7 * pi * a * b * (2.0 / 3.0) * first * 2e-15
    RECORD.compare(
        f"M, radii {a:g} and {b:g} m, {distance:g} m apart [nH]",
        carlson * 1e9,
        float(loop_mutual_inductance(a, b, distance)) * 1e9,
        absolute=rounding * 1e9,
    )
