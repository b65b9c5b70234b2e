"""ASTM B258: nominal diameters of American wire gauges.

The millimetres are those of REFERENCES 6 to the digits printed there; the mils (0000 is 0.4600 in and 36 is
0.0050 in by definition; 10 is 101.9, 24 is 20.1, 40 is 3.1) are those of the standard's table, from memory.
"""

import pytest

from geometries.gauges import gauge_diameter


@pytest.mark.parametrize(
    ("gauge", "millimetres", "half_digit"),
    [("AWG 10", 2.588, 5e-4), ("AWG 20", 0.8118, 5e-5), ("AWG 30", 0.2546, 5e-5), ("AWG 36", 0.1270, 5e-5),
     ("AWG 40", 0.0799, 5e-5)],
)  # fmt: skip
def test_millimetres_as_printed(gauge: str, millimetres: float, half_digit: float) -> None:
    assert gauge_diameter(gauge) * 1e3 == pytest.approx(millimetres, abs=half_digit)


@pytest.mark.parametrize(
    ("gauge", "mils", "half_digit"),
    [("AWG 0000", 460.0, 1e-9), ("AWG 36", 5.0, 1e-9), ("AWG 10", 101.9, 0.05), ("AWG 24", 20.1, 0.05),
     ("AWG 40", 3.1, 0.05)],
)  # fmt: skip
def test_mils_as_printed_from_memory(gauge: str, mils: float, half_digit: float) -> None:
    assert gauge_diameter(gauge) / 25.4e-6 == pytest.approx(mils, abs=half_digit)
