"""A tag in the well of a metal block: everything meshed on the axis against the map and its correction."""

from functools import cache

import numpy as np
import pytest

from fem.air_field import AirSpace
from fem.base_solution import BaseProblem, base_solution
from fem.beside import beside, lies_in
from fem.near_metal import AxisProblem, near_metal, surface_below
from fem.sources import Rings
from fem.tag_map import axis_mutual_inductance
from fem.tag_solution import tag_solution
from geometries.section import WindingSection
from geometries.shapes import Well, block_outline
from geometries.stack import Solid, Stack
from tests.fem.cases import ALUMINIUM, DRUM_TAG, FREQUENCY, sheet_stack
from tests.fem.test_shielded_tag import two_coils

BLOCK = Solid("block", ALUMINIUM, block_outline(0.06, 0.02, 0.0, Well(0.03, 0.018), 0.024))
"""A well 30 mm wide with a hole of 24 mm through its floor."""

STACK = Stack((), (BLOCK,))
WELL_COIL = WindingSection(0.010, 0.012, -0.008, -0.005)
HEIGHTS = (0.008, 0.0095, 0.019)
"""In the well at the lowest solved place, between two of them, and at the rim."""


@cache
def near():
    return near_metal(AxisProblem(STACK, WELL_COIL, DRUM_TAG, FREQUENCY, 1e-3, HEIGHTS[0], 0.03))


@cache
def sources():
    return base_solution(BaseProblem(STACK, WELL_COIL, FREQUENCY, 4e-4, HEIGHTS)).sources


@pytest.mark.slow
@pytest.mark.parametrize("height", HEIGHTS)
def test_in_the_well_two_coils_all_meshed_agree(height):
    moments = tag_solution(DRUM_TAG, FREQUENCY, 2e-4).moments
    mapped = axis_mutual_inductance(sources(), moments, np.array([height]))[0]
    ratio = near().map_ratio(np.array([height]))[0]
    true = two_coils(DRUM_TAG, STACK, height, WELL_COIL)
    assert abs(mapped * ratio / true - 1.0) < 1e-3


def test_the_block_s_walls_change_the_tag_less_at_its_rim():
    changes = near().linkage_change(np.array(HEIGHTS))
    assert np.all(changes.real < 0.0)
    assert abs(changes[0]) > 1.5 * abs(changes[-1])


def test_distances_in_a_well_are_counted_from_what_lies_under_the_tag():
    assert surface_below(STACK, FREQUENCY, 0.01) == 0.0  # right through: the block's lowest corner
    closed = Stack((), (Solid("block", ALUMINIUM, block_outline(0.06, 0.02, 0.0, Well(0.03, 0.018))),))
    assert surface_below(closed, FREQUENCY, 0.01) == pytest.approx(0.002, rel=1e-3, abs=0.0)
    foil = Stack(sheet_stack(100.0, -0.005, 0.06).layers, STACK.solids)
    assert surface_below(foil, FREQUENCY, 0.01) == pytest.approx(-0.005, rel=1e-9, abs=0.0)
    assert surface_below(STACK, FREQUENCY, -0.01) < -0.01  # all of it above


def ring(radius, height):
    none = np.zeros(1, dtype=complex)
    return Rings(np.array([radius]), np.array([height]), np.ones(1), none + 1.0, none, none)


def test_where_moments_hold_beside_a_wall():
    wall = beside((ring(0.012, 0.02),), 0.003, 0.008, 0.004)
    # 9 mm from the axis of the outermost tag: its sphere is clear beside it, not 8 mm from a wall 6 mm off.
    assert list(wall.crowded(np.array([0.003, 0.01, 0.02, 0.03]))) == [True, False, False, False]
    near_wall = beside((ring(0.009, 0.02),), 0.003, 0.008, 0.004)
    assert list(near_wall.crowded(np.array([0.01, 0.015, 0.02, 0.03]))) == [False, True, True, False]
    assert np.all(beside((ring(0.012, 0.02),), 0.003, np.inf, 0.0).crowded(np.array([0.01, 1.0])))


def test_a_source_in_the_room_is_seen():
    space = AirSpace(0.01, 0.0, 0.05)
    assert lies_in((ring(0.02, 0.02), ring(0.005, 0.02)), space)
    assert not lies_in((ring(0.02, 0.02), ring(0.005, -0.001), ring(0.005, 0.06)), space)
