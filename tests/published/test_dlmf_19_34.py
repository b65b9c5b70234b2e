"""NIST Digital Library of Mathematical Functions §19.34, mutual inductance of coaxial circles in Carlson's integrals.

(2/µ0) M = (r₊² + r₋²) R_F(0, r₊², r₋²) − 4 R_G(0, r₊², r₋²), r± the greatest and least distance between the circles; in
the Library's units the factor is c²/2π. Formula from memory.
"""

from math import pi

import numpy as np
import pytest
from scipy.special import elliprf, elliprg

from fem.closed_forms import loop_mutual_inductance


@pytest.mark.parametrize(
    ("a", "b", "distance"), [(0.20, 0.25, 0.10), (1.0, 1.0, 1e-3), (1.0, 0.3, 0.0), (0.022, 0.002, 0.025)]
)
def test_carlson_s_form(a: float, b: float, distance: float) -> None:
    near, far = (a - b) ** 2 + distance**2, (a + b) ** 2 + distance**2
    carlson = 2e-7 * pi * ((near + far) * elliprf(0.0, far, near) - 4.0 * elliprg(0.0, far, near))
    # The form subtracts two terms of the size of far: its own rounding is what the tolerance allows.
    rounding = 8.0 * np.finfo(float).eps * 2e-7 * pi * far * elliprf(0.0, far, near)
    assert loop_mutual_inductance(a, b, distance) == pytest.approx(carlson, abs=rounding)
