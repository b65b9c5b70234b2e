"""What a person can reach of a bench: every place where there is air, but for the room closed up below the plate."""

from itertools import pairwise
from math import hypot, pi

import numpy as np
import pytest

from fem.bench import Bench, along
from geometries.shapes import Well, block_outline
from geometries.tag import Outline

PLATE: Outline = ((0.0, -4e-3), (70e-3, -4e-3), (70e-3, 0.0), (0.0, 0.0))
COIL: Outline = ((13e-3, -8e-3), (16e-3, -8e-3), (16e-3, -5e-3), (13e-3, -5e-3))
BLOCK = block_outline(90e-3, 40e-3, 0.0, Well(50e-3, 36e-3), 36e-3)


def held(bench: Bench, *places: tuple[float, float]) -> list[bool]:
    r, z = np.array(places).T
    return bench.holds(r, z).tolist()


def test_an_open_well_and_the_hole_in_its_floor_are_reached_and_the_block_is_not() -> None:
    bench = Bench((COIL, PLATE, BLOCK))
    assert held(bench, (1e-9, 1e-3), (17e-3, 5e-3), (24e-3, 30e-3), (1e-9, 39e-3)) == [False] * 4
    assert held(bench, (19e-3, 5e-3), (26e-3, 30e-3), (44e-3, 39e-3), (18.2e-3, 11e-3)) == [True] * 4
    assert held(bench, (46e-3, 5e-3), (30e-3, 41e-3)) == [False, False]


def test_the_well_s_round_floor_is_where_the_hemisphere_is() -> None:
    bench = Bench((BLOCK,))
    radius, middle = 25e-3, 40e-3 - 36e-3 + 25e-3
    for r in (19e-3, 22e-3, 24e-3):
        floor = middle - (radius**2 - r**2) ** 0.5
        assert held(bench, (r, floor + 0.2e-3), (r, floor - 0.2e-3)) == [False, True]


def test_below_the_plate_s_top_what_lies_under_a_body_is_closed_up() -> None:
    bench = Bench((COIL, PLATE, ((0.0, -40e-3), (80e-3, -40e-3), (80e-3, -38e-3), (0.0, -38e-3))))
    under, beside = (50e-3, -20e-3), (75e-3, -20e-3)
    assert held(bench, under, beside, (75e-3, -39e-3), (50e-3, -41e-3)) == [True, False, True, False]
    assert bench.lowest == -40e-3


def test_a_bore_and_a_sunk_well_are_open_from_above() -> None:
    assert held(Bench((COIL,)), (5e-3, -6e-3), (14e-3, -6e-3), (14e-3, -4e-3)) == [False, True, False]
    sunk = Bench((COIL, block_outline(90e-3, 40e-3, -30e-3, Well(50e-3, 30e-3))))
    assert held(sunk, (1e-9, -10e-3), (1e-9, -25e-3), (40e-3, -10e-3)) == [False, True, True]


def test_a_bench_of_nothing_holds_nothing() -> None:
    assert held(Bench(()), (1e-3, 1e-3), (1e-3, -1e-3)) == [False, False]


@pytest.mark.parametrize("outline", [PLATE, BLOCK, tuple(reversed(BLOCK))])
def test_places_along_an_outline_lie_on_it_and_lead_away_from_the_body(outline: Outline) -> None:
    r, z, outward_r, outward_z = along(outline, 200)
    assert np.hypot(outward_r, outward_z) == pytest.approx(np.ones(200), rel=1e-9, abs=0.0)
    assert (r[0], z[0]) == pytest.approx((r[-1], z[-1]), abs=1e-12)
    corners = [*outline, outline[0]]
    length = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(corners))
    assert np.hypot(np.diff(r), np.diff(z)).sum() == pytest.approx(length, rel=5e-3, abs=0.0)
    off, bench = 2e-4, Bench((outline,))
    inner = (r > 1e-3) & (z > bench.lowest + 1e-3)
    assert inner.sum() > 20
    assert not bench.holds(r + off * outward_r, z + off * outward_z)[inner].any()
    assert bench.holds(r - off * outward_r, z - off * outward_z)[inner].mean() > 0.97  # but at sharp corners


def test_the_block_turned_round_the_axis_by_its_places_has_its_volume() -> None:
    """The share of places of a fine grid that are held, by Pappus' rule, against the sum of cylinder and cavities."""
    bench, step = Bench((BLOCK,)), 0.25e-3
    r, z = np.meshgrid(np.arange(0.5 * step, 46e-3, step), np.arange(0.5 * step, 41e-3, step))
    volume = 2.0 * pi * float((r * bench.holds(r, z)).sum()) * step**2
    cap = 25e-3 - (25e-3**2 - 18e-3**2) ** 0.5  # of the hemisphere, cut off by the hole
    ball = 2.0 / 3.0 * pi * 25e-3**3 - pi * cap**2 * (25e-3 - cap / 3.0)
    open_room = pi * 25e-3**2 * 11e-3 + ball + pi * 18e-3**2 * (4e-3 + cap)
    assert volume == pytest.approx(pi * 45e-3**2 * 40e-3 - open_room, rel=3e-3, abs=0.0)
