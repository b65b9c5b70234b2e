"""J. H. Neher, M. H. McGrath, "The calculation of the temperature rise and load capability of cable systems", AIEE
Trans. 76, 1957, table III: at x = 2.14 skin effect adds 10.05 % to a round conductor's resistance. Seen in a
public document.
"""

from math import sqrt

import pytest

from fem.wire_losses import skin_depth, skin_effect_ratio


def test_skin_effect_at_2_14() -> None:
    diameter = sqrt(2.0) * 2.14 * skin_depth(60.0, 5.8e7)
    assert skin_effect_ratio(diameter, 60.0, 5.8e7) - 1.0 == pytest.approx(0.1005, abs=5e-5)
