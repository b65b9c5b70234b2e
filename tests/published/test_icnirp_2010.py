"""ICNIRP 2010: reference levels of exposure, 3 kHz to 10 MHz, rms: public 27 µT, occupational 100 µT (seen)."""

from links.limits import reference_level_occupational, reference_level_public
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "ICNIRP 2010",
    'International Commission on Non-Ionizing Radiation Protection, "Guidelines for limiting exposure to time-varying '
    'electric and magnetic fields (1 Hz to 100 kHz)", Health Physics 99, 2010, 818.',
    "regulation",
)
RECORD = Record(SOURCE, Status.SEEN, Means.TRANSCRIPTION, "the printed value itself; rounding in binary")


def test_reference_levels() -> None:
    for name, level, found in (
        ("public", 27.0, reference_level_public(134.2e3)),
        ("occupational", 100.0, reference_level_occupational(134.2e3)),
    ):
        assert found is not None
        RECORD.compare(f"B, {name}, 134.2 kHz [µT rms]", level, found * 1e6, relative=1e-12)
