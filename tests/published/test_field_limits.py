"""Limit of emission as printed: ERC/REC 70-03 annex 9, levels in dBµA/m at 10 m.

As the CEPT frequency information system and the Swiss Radio Interface Regulation RIR1005-01 (edition 5.0, 2018) print
it.
"""

import pytest

from links.limits import decibel_microampere_per_metre, field_limit_at_10_m, largest_moment_for_field
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "ERC/REC 70-03, 2018",
    "CEPT recommendation ERC/REC 70-03, annex 9 (inductive applications), as printed in the Swiss Radio Interface "
    "Regulation RIR1005-01, edition 5.0, 2018.",
    "regulation",
)
RECORD = Record(SOURCE, Status.SEEN, Means.TRANSCRIPTION, "half a unit of the last place printed")


@pytest.mark.parametrize(
    ("frequency", "level", "band"),
    [
        (100e3, 42.0, "band a2, 90-119 kHz"),
        (119.001e3, 66.0, "band a3, falling 3 dB an octave above 119 kHz"),
        (129.0e3, 42.0, "protected band 128.6-129.6 kHz"),
        (134.2e3, 65.5, "band a3, the fall worked out and rounded"),
        (137e3, 42.0, "band b, 135-140 kHz"),
        (145e3, 37.7, "band c, 140-148.5 kHz"),
    ],
)
def test_field_limit_at_10_m(frequency: float, level: float, band: str) -> None:
    field = field_limit_at_10_m(frequency)
    assert field is not None
    found = decibel_microampere_per_metre(field)
    RECORD.compare(f"H at 10 m, {frequency / 1e3:g} kHz [dBµA/m] ({band})", level, found, absolute=0.05)


def test_dipole_that_meets_the_limit_at_134_2_kilohertz() -> None:
    # 65.5 dBµA/m at 10 m on the axis from H = m/(2πr³), worked out by hand from the printed limit.
    field = field_limit_at_10_m(134.2e3)
    assert field is not None
    record = RECORD.but(
        status=Status.DERIVED, means=Means.FORMULA, why="0.05 dB of the printed level is 0.6 %, 0.07 A m²"
    )
    record.compare("moment that gives 65.5 dBµA/m at 10 m on the axis [A m²]", 11.8, largest_moment_for_field(field,
    10.0),
                   absolute=0.07)  # fmt: skip
