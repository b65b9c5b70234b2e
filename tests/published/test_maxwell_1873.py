"""J. C. Maxwell, 1873: table of log10 (M / 4π√(Aa)) of two coaxial circles against the angle γ with sin γ = k.

Values from memory, before they were recomputed; printed with a negative characteristic: 1̄.4994783 is −0.5005217.
"""

from math import log10, pi, radians, sin, sqrt

import pytest

from fem.closed_forms import loop_mutual_inductance
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Maxwell 1873",
    "J. C. Maxwell, *A Treatise on Electricity and Magnetism*, 1873, vol. 2 ch. XIV, appendix I.",
    "book",
)
RECORD = Record(SOURCE, Status.MEMORY, Means.INTEGRAL, "one unit of the seventh decimal printed")


@pytest.mark.parametrize(
    ("degrees", "minutes", "logarithm"), [(60, 0, -0.5005217), (60, 6, -0.4977349), (60, 12, -0.4949495)]
)
def test_logarithm_of_mutual_inductance(degrees: int, minutes: int, logarithm: float) -> None:
    k = sin(radians(degrees + minutes / 60.0))
    distance = 2.0 * sqrt(1.0 / k**2 - 1.0)  # equal circles of 1 cm: k² = 4a²/(4a² + d²)
    centimetres = float(loop_mutual_inductance(0.01, 0.01, 0.01 * distance)) * 1e9
    quantity = f"log10(M/4π√(Aa)) at γ = {degrees}°{minutes:02d}′, cgs [1]"
    RECORD.compare(quantity, logarithm, log10(centimetres / (4.0 * pi)), absolute=1e-7)
