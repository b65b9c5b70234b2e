"""ISO 11784/11785: identification at 134.2 kHz; bit rate seen, the telegram's length follows from it."""

from links.full_duplex import CYCLES_PER_BIT
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "ISO 11785, 1996",
    "ISO 11784/11785, *Radio frequency identification of animals — technical concept*: full duplex at 134.2 kHz.",
    "standard",
)
RECORD = Record(SOURCE, Status.SEEN, Means.TRANSCRIPTION, "the printed value itself; rounding in binary")


def test_bit_rate_and_telegram() -> None:
    bit_rate = 134.2e3 / CYCLES_PER_BIT
    RECORD.compare("full-duplex bit rate [bit/s]", 4193.75, bit_rate, relative=1e-12)
    record = RECORD.but(why="half a unit of the last place printed")
    record.compare("time of a telegram of 128 bits [ms]", 30.5, 128.0 / bit_rate * 1e3, absolute=0.05)
