"""J. H. Neher, M. H. McGrath, 1957, table III: at x = 2.14 skin effect adds 10.05 % to a round conductor's resistance.

Seen in a public document (a discussion of the table at forums.mikeholt.com).
"""

from math import sqrt

from fem.wire_losses import skin_depth, skin_effect_ratio
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Neher & McGrath 1957",
    'J. H. Neher, M. H. McGrath, "The calculation of the temperature rise and load capability of cable systems", AIEE '
    "Trans. 76, 1957, table III (quoted at forums.mikeholt.com).",
    "paper",
)
RECORD = Record(SOURCE, Status.SEEN, Means.FORMULA, "half a unit of the last place printed")


def test_skin_effect_at_2_14() -> None:
    diameter = sqrt(2.0) * 2.14 * skin_depth(60.0, 5.8e7)
    found = 100.0 * (float(skin_effect_ratio(diameter, 60.0, 5.8e7)) - 1.0)
    RECORD.compare("rise of resistance at x = 2.14 [%]", 10.05, found, absolute=5e-3)
