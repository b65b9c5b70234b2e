"""NBS Circular 74, *Radio Instruments and Measurements*, 1918: skin effect in a round wire, against x = √2 a/δ.

R/R0 and internal L/L0; values from memory, before they were recomputed. The tolerance is one unit of the last place:
some of the printed digits are cut off, not rounded.
"""

from math import sqrt

import pytest

from fem.wire_losses import internal_inductance_ratio, skin_depth, skin_effect_ratio

FREQUENCY, CONDUCTIVITY = 134.2e3, 5.8e7


def diameter(x: float) -> float:
    return sqrt(2.0) * skin_depth(FREQUENCY, CONDUCTIVITY) * x


@pytest.mark.parametrize(
    ("x", "ratio"),
    [
        (1, 1.00519),
        (2, 1.07816),
        (3, 1.31809),
        (4, 1.67787),
        (5, 2.04272),
        (7, 2.74319),
        (10, 3.79857),
        (15, 5.56208),
        (20, 7.32767),
    ],
)
def test_resistance(x: float, ratio: float) -> None:
    assert skin_effect_ratio(diameter(x), FREQUENCY, CONDUCTIVITY) == pytest.approx(ratio, abs=1e-5)


@pytest.mark.parametrize(
    ("x", "ratio"), [(1, 0.99741), (2, 0.96113), (3, 0.84517), (4, 0.68632), (5, 0.55597), (10, 0.28162)]
)
def test_internal_inductance(x: float, ratio: float) -> None:
    assert internal_inductance_ratio(diameter(x), FREQUENCY, CONDUCTIVITY) == pytest.approx(ratio, abs=1e-5)
