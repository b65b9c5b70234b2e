"""Limits of emission and exposure as printed.

ERC/REC 70-03 annex 9, as the CEPT frequency information system and the Swiss Radio Interface Regulation RIR1005-01
(edition 5.0, 2018) print it: levels in dBµA/m at 10 m. ICNIRP 2010, 3 kHz to 10 MHz: 27 µT and 100 µT rms.
"""

import pytest

from links.limits import (
    decibel_microampere_per_metre,
    field_limit_at_10_m,
    largest_moment_for_field,
    reference_level_occupational,
    reference_level_public,
)


@pytest.mark.parametrize(
    ("frequency", "level"),
    [
        (100e3, 42.0),  # band a2, 90-119 kHz
        (119.001e3, 66.0),  # band a3, falling 3 dB an octave above 119 kHz
        (129.0e3, 42.0),  # protected band 128.6-129.6 kHz
        (134.2e3, 65.5),  # the same fall, worked out and rounded
        (137e3, 42.0),  # band b, 135-140 kHz
        (145e3, 37.7),  # band c, 140-148.5 kHz
    ],
)
def test_field_limit_at_10_m(frequency: float, level: float) -> None:
    field = field_limit_at_10_m(frequency)
    assert field is not None
    assert decibel_microampere_per_metre(field) == pytest.approx(level, abs=0.05)


def test_dipole_that_meets_the_limit_at_134_2_kilohertz() -> None:
    # 65.5 dBµA/m at 10 m on the axis from H = m/(2πr³): 11.8 A m², worked out by hand from the printed limit.
    field = field_limit_at_10_m(134.2e3)
    assert field is not None
    assert largest_moment_for_field(field, 10.0) == pytest.approx(11.8, abs=0.05)


def test_reference_levels() -> None:
    assert reference_level_public(134.2e3) == pytest.approx(27e-6, rel=1e-12, abs=0.0)
    assert reference_level_occupational(134.2e3) == pytest.approx(100e-6, rel=1e-12, abs=0.0)
