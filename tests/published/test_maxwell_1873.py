"""J. C. Maxwell, *A Treatise on Electricity and Magnetism*, 1873, vol. 2 ch. XIV, appendix I.

Table of log10 (M / 4π√(Aa)) of two coaxial circles, in the centimetre system, against the angle γ with sin γ = k.
Values from memory, before they were recomputed. The printed logarithms carry seven decimals.
"""

from math import log10, pi, radians, sin, sqrt

import pytest

from fem.closed_forms import loop_mutual_inductance


@pytest.mark.parametrize(
    ("degrees", "minutes", "logarithm"), [(60, 0, -0.5005217), (60, 6, -0.4977349), (60, 12, -0.4949495)]
)
def test_logarithm_of_mutual_inductance(degrees: int, minutes: int, logarithm: float) -> None:
    # Printed with a negative characteristic: 1̄.4994783 is −0.5005217, and so on.
    k = sin(radians(degrees + minutes / 60.0))
    a = 1.0
    distance = 2.0 * a * sqrt(1.0 / k**2 - 1.0)  # equal circles: k² = 4a²/(4a² + d²)
    centimetres = loop_mutual_inductance(0.01 * a, 0.01 * a, 0.01 * distance) * 1e9
    assert log10(centimetres / (4.0 * pi * a)) == pytest.approx(logarithm, abs=1e-7)
