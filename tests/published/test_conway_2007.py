"""J. T. Conway, "Inductance calculations for noncoaxial coils using Bessel functions", IEEE Trans. Magn. 43, 2007.

M = µ0 π a b ∫ J1(ka) J1(kb) J0(kρ) e^(−kd) dk for two circles with parallel axes. An exact published formula, evaluated
here by quadrature of its own.
"""

from math import exp, pi

import pytest
from scipy.integrate import quad
from scipy.special import j0, j1

from fem.closed_forms import displaced_loops_mutual_inductance


@pytest.mark.parametrize(
    ("a", "b", "height", "offset"),
    [(0.15, 0.15, 0.16, 0.12), (0.022, 0.002, 0.025, 0.03), (0.022, 0.010, 0.020, 0.012), (0.05, 0.05, 0.03, 0.2)],
)
def test_parallel_axes(a: float, b: float, height: float, offset: float) -> None:
    def wave(k: float) -> float:
        return float(j1(k * a) * j1(k * b) * j0(k * offset)) * exp(-k * height)

    integral = quad(wave, 0.0, 45.0 / height, epsabs=1e-13 / height, epsrel=1e-11, limit=400)[0]
    expected = 4e-7 * pi * pi * a * b * integral
    assert displaced_loops_mutual_inductance(a, b, height, offset, 0.0) == pytest.approx(expected, rel=1e-8, abs=0.0)
