"""H. Nagaoka, "The inductance coefficients of solenoids", J. Coll. Sci. Tokyo 27, 1909; also in NBS Circular 74, 1918.

K of a cylindrical current sheet against diameter/length; six decimals seen in a public document. (Printed values above
a ratio of 5 are off by up to 9e-6 and left out.) The sheet is a winding whose radial build is 1e-7 of its diameter.
"""

from math import pi

import pytest

from fem.closed_forms import winding_self_inductance
from geometries.section import WindingSection


@pytest.mark.parametrize(
    ("ratio", "coefficient"),
    [
        (0.25, 0.901649),
        (0.5, 0.818136),
        (1.0, 0.688423),
        (1.5, 0.595045),
        (2.0, 0.525510),
        (2.5, 0.471865),
        (3.0, 0.429199),
        (5.0, 0.319825),
    ],
)
def test_coefficient(ratio: float, coefficient: float) -> None:
    diameter, thin = 0.1, 0.5e-8
    length = diameter / ratio
    sheet = WindingSection(0.5 * diameter - thin, 0.5 * diameter + thin, 0.0, length)
    long_solenoid = 4e-7 * pi * (0.25 * pi * diameter**2) / length
    # One unit of the last place: the table's last digits are rounded by hand.
    assert winding_self_inductance(sheet, 1) / long_solenoid == pytest.approx(coefficient, abs=1e-6)
