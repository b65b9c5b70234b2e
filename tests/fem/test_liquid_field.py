"""A tag in a weakly conducting liquid: everything meshed on the axis against the share that corrects the map."""

from math import pi

import numpy as np
import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.liquid_field import LiquidField, liquid_field
from fem.tag_map import axis_mutual_inductance
from fem.tag_solution import tag_solution
from geometries.constants import skin_depth
from geometries.liquids import LARGEST_SHARE, is_liquid, largest_conductivity, liquid_share
from geometries.materials import Material, find_material
from geometries.shapes import bath_outline
from geometries.stack import Solid, Stack
from tests.fem.cases import AIR_TAG, COIL, FREQUENCY
from tests.fem.test_shielded_tag import two_coils

BRINE = Solid("bath", Material("strong brine", resistivity_20=1.0 / 50.0), bath_outline(0.08, 0.05, 0.0))
"""Five to ten times as conductive as sea water, so that the share stands out: δ = 0.19 m."""


@pytest.mark.slow
@pytest.mark.parametrize("height", [0.01, 0.03])
def test_share_of_the_liquid_is_what_two_coils_in_it_lose(height):
    stack = Stack((), (BRINE,))
    winding, liquid = base_solution(BaseProblem(stack, COIL, FREQUENCY, 1e-4, (height,))).sources
    moments = tag_solution(AIR_TAG, FREQUENCY, 1e-4).moments
    mapped = axis_mutual_inductance((winding,), moments, np.array([height]))[0]
    share = liquid_field((liquid,), (winding,), height, 0.06).share(np.array([height]))[0]
    lost = two_coils(AIR_TAG, stack, height) / mapped - 1.0
    assert 1e-3 < abs(share) < LARGEST_SHARE
    assert share.imag < 0.0
    assert lost.imag == pytest.approx(share.imag, rel=0.05, abs=0.0)
    assert abs(lost - share) < 0.1 * abs(share)


def test_which_liquids_a_tag_may_lie_in():
    for name in ("water", "saline", "culture medium", "sea water"):
        assert is_liquid(Solid("bath", find_material(name), BRINE.outline), FREQUENCY)
    for name in ("low-melting bismuth alloy", "gallium alloy", "aluminium", "soft iron", "glass", "ferrite"):
        assert not is_liquid(Solid("bath", find_material(name), BRINE.outline), FREQUENCY)
    assert liquid_share(BRINE, FREQUENCY) == pytest.approx((0.02 / skin_depth(FREQUENCY, 50.0)) ** 2, rel=1e-9, abs=0.0)
    # (a/2δ)² at the bound, from δ = 1/√(πfμ0σ).
    bound = largest_conductivity(BRINE, FREQUENCY)
    assert pi * FREQUENCY * 4e-7 * pi * bound * 0.02**2 == pytest.approx(LARGEST_SHARE, rel=1e-9, abs=0.0)


def test_shares_between_heights_and_beyond():
    field = LiquidField(np.array([0.0, 1.0]), np.array([0.01 - 0.02j, 0.03 + 0.02j]))
    assert field.share(np.array([0.5, 2.0])) == pytest.approx(
        np.array([0.02 + 0.0j, 0.03 + 0.02j]), rel=1e-12, abs=1e-15
    )
    assert field.largest == pytest.approx(np.hypot(0.03, 0.02), rel=1e-12, abs=0.0)
