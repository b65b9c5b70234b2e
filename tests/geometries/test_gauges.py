"""Names of gauges and what is said to a name that is none; diameters are checked in tests/published."""

from itertools import pairwise

import pytest

from geometries.errors import GeometryError
from geometries.gauges import gauge_diameter, gauge_names


def test_all_names_are_gauges_ever_thinner() -> None:
    names = gauge_names()
    assert (names[0], names[3], names[4], names[-1], len(names)) == ("AWG 0000", "AWG 0", "AWG 1", "AWG 56", 60)
    diameters = [gauge_diameter(name) for name in names]
    for thicker, thinner in pairwise(diameters):
        assert thicker / thinner == pytest.approx(92.0 ** (1 / 39), rel=1e-12, abs=0.0)


@pytest.mark.parametrize("spelling", ["AWG 30", "awg30", "  AWG  30 "])
def test_blanks_and_capitals_do_not_matter(spelling: str) -> None:
    assert gauge_diameter(spelling) == gauge_diameter("AWG 30")


@pytest.mark.parametrize(
    "wrong", ["30", "AWG", "AWG 57", "AWG -1", "AWG 00000", "AWG 030", "AWG 3.5", "SWG 30", "AWG ²"]
)
def test_anything_else_is_refused_with_what_is_allowed(wrong: str) -> None:
    with pytest.raises(GeometryError) as caught:
        gauge_diameter(wrong, "base_coil.wire.gauge")
    assert caught.value.key == "base_coil.wire.gauge"
    assert caught.value.message == (
        f"{wrong!r} is not a wire gauge; allowed are AWG 0000, AWG 000, AWG 00, AWG 0 and AWG 1 to AWG 56, "
        'written like "AWG 30", or give the bare diameter'
    )
