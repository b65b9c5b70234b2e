"""ASTM B258: nominal diameters of American wire gauges.

The millimetres are those of REFERENCES 6 to the digits printed there; the mils (0000 is 0.4600 in and 36 is
0.0050 in by definition; 10 is 101.9, 24 is 20.1, 40 is 3.1) are those of the standard's table, from memory.
"""

import pytest

from geometries.gauges import gauge_diameter
from tests.published.records import Means, Record, Source, Status

SOURCE = Source("ASTM B258", "ASTM B258, *Standard nominal diameters of American wire gauge sizes*.", "standard")
RECORD = Record(SOURCE, Status.MEMORY, Means.TRANSCRIPTION, "half a unit of the last place printed")
DEFINED = RECORD.but(why="exact by definition; rounding in binary")


@pytest.mark.parametrize(
    ("gauge", "millimetres", "half_digit"),
    [("AWG 10", 2.588, 5e-4), ("AWG 20", 0.8118, 5e-5), ("AWG 30", 0.2546, 5e-5), ("AWG 36", 0.1270, 5e-5),
     ("AWG 40", 0.0799, 5e-5)],
)  # fmt: skip
def test_millimetres(gauge: str, millimetres: float, half_digit: float) -> None:
    RECORD.compare(f"diameter of {gauge} [mm]", millimetres, gauge_diameter(gauge) * 1e3, absolute=half_digit)


@pytest.mark.parametrize(("gauge", "mils"), [("AWG 10", 101.9), ("AWG 24", 20.1), ("AWG 40", 3.1)])
def test_mils(gauge: str, mils: float) -> None:
    RECORD.compare(f"diameter of {gauge} [mil]", mils, gauge_diameter(gauge) / 25.4e-6, absolute=0.05)


@pytest.mark.parametrize(("gauge", "mils"), [("AWG 0000", 460.0), ("AWG 36", 5.0)])
def test_mils_by_definition(gauge: str, mils: float) -> None:
    DEFINED.compare(f"diameter of {gauge} [mil]", mils, gauge_diameter(gauge) / 25.4e-6, absolute=1e-9)
