"""How far a field stays above a level: against a dipole, a loop's closed form, and a fine grid."""

from math import pi

import numpy as np
import pytest

from fem.bench import Bench
from fem.gathered_loops import Loops, gathered
from fem.level_reach import NOWHERE, level_reaches
from fem.sources import winding_rings
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection
from geometries.tag import Outline


def block(radius: float, bottom: float, top: float) -> Outline:
    return ((0.0, bottom), (radius, bottom), (radius, top), (0.0, top))


COIL = WindingSection(20e-3, 23e-3, -8e-3, -5e-3)
SMALL_BENCH = Bench((block(24e-3, -9e-3, 0.0),))


def winding() -> Loops:
    return gathered((winding_rings(COIL),))


def test_far_from_the_coil_it_is_a_dipole() -> None:
    """B = μ0 m √(1 + 3 cos²θ)/(4π R³): on the axis 2^(1/3) times as far as beside it."""
    loops = winding()
    level = MAGNETIC_CONSTANT * abs(loops.moment) / (4.0 * pi * 2.0**3)
    (reach,) = level_reaches(loops, COIL, SMALL_BENCH, (level,))
    assert reach.radius == pytest.approx(2.0, rel=2e-3, abs=0.0)
    assert reach.height == pytest.approx(2.0 * 2.0 ** (1.0 / 3.0) - 6.5e-3, rel=2e-3, abs=0.0)
    assert reach.distance == pytest.approx(2.0 * 2.0 ** (1.0 / 3.0), rel=2e-3, abs=0.0)


@pytest.mark.parametrize("height", [40e-3, 80e-3, 300e-3])
def test_on_the_axis_it_is_the_closed_form_of_a_loop(height: float) -> None:
    """The highest place is on the axis here: μ0 a²/(2 (a² + d²)^(3/2)), textbook form from memory."""
    a = 30e-3
    loop = Loops(np.array([a]), np.array([-4e-3]), np.array([1.0 + 0j]), np.zeros(1))
    level = MAGNETIC_CONSTANT * a**2 / (2.0 * (a**2 + (height + 4e-3) ** 2) ** 1.5)
    section = WindingSection(29.5e-3, 30.5e-3, -4.5e-3, -3.5e-3)
    (reach,) = level_reaches(loop, section, Bench((block(35e-3, -10e-3, 0.0),)), (level,))
    assert reach.height == pytest.approx(height, rel=3e-3, abs=0.0)


@pytest.mark.parametrize("near", [5e-3, 12e-3, 25e-3, 60e-3])
def test_all_three_against_a_fine_grid(near: float) -> None:
    """From a level whose outline is a ring round the wire to one that holds the whole coil."""
    loops, bench = winding(), Bench((block(26e-3, -10e-3, 0.0),))
    level = float(loops.size(np.array([COIL.outer_radius + near]), np.array([COIL.mid_height]))[0])
    r, z = np.meshgrid(np.arange(0.2e-3, 0.11, 0.4e-3), np.arange(-0.11, 0.11, 0.4e-3))
    within = (loops.size(r, z) >= level) & ~bench.holds(r, z)
    (reach,) = level_reaches(loops, COIL, bench, (level,))
    beside = np.maximum(np.maximum(COIL.inner_radius - r, r - COIL.outer_radius), 0.0)
    above = np.maximum(np.maximum(COIL.bottom - z, z - COIL.top), 0.0)
    step = 0.4e-3
    assert reach.radius == pytest.approx(COIL.outer_radius + near, rel=2e-3, abs=0.0)
    assert reach.height == pytest.approx(max(z[within].max(), 0.0), rel=2e-3, abs=step)
    assert reach.distance == pytest.approx(np.hypot(beside, above)[within].max(), rel=2e-3, abs=step)


def test_several_levels_at_once_are_as_each_alone() -> None:
    loops = winding()
    levels = (2e-7, 1e-6)
    together = level_reaches(loops, COIL, SMALL_BENCH, levels)
    for level, both in zip(levels, together, strict=True):
        (alone,) = level_reaches(loops, COIL, SMALL_BENCH, (level,))
        for name in ("distance", "height", "radius"):
            assert getattr(both, name) == pytest.approx(getattr(alone, name), rel=2e-3, abs=0.0)


def test_a_level_that_no_one_can_reach() -> None:
    (reach,) = level_reaches(winding(), COIL, Bench((block(0.2, -0.2, 0.2),)), (1e-6,))
    assert reach == NOWHERE
    assert level_reaches(winding(), COIL, SMALL_BENCH, (1e3,)) == (NOWHERE,)
    assert level_reaches(winding(), COIL, SMALL_BENCH, ()) == ()


def test_what_stands_on_the_plate_is_out_of_reach_too() -> None:
    loops = winding()
    level = float(loops.size(np.array([1e-9]), np.array([30e-3]))[0])
    (bare,) = level_reaches(loops, COIL, SMALL_BENCH, (level,))
    bench = Bench((*SMALL_BENCH.bodies, block(60e-3, 0.0, 22e-3)))
    (hidden,) = level_reaches(loops, COIL, bench, (level,))
    assert bare.height == pytest.approx(hidden.height, rel=1e-4, abs=0.0)
    low = Bench((*SMALL_BENCH.bodies, block(60e-3, -60e-3, 60e-3)))
    assert level_reaches(loops, COIL, low, (level,)) == (NOWHERE,)


CUP: Outline = (
    (0.0, 0.0), (45e-3, 0.0), (45e-3, 60e-3), (25e-3, 60e-3), (25e-3, 2e-3), (0.0, 2e-3)
)  # fmt: skip
"""A well as deep as its block is high, but for a thin floor."""


@pytest.mark.parametrize("height", [8e-3, 20e-3, 40e-3])
def test_the_level_is_told_inside_an_open_well(height: float) -> None:
    """The block is of nothing that the field feels, so that the winding alone tells how high the level is."""
    loops = winding()
    level = float(loops.size(np.array([1e-9]), np.array([height]))[0])
    (reach,) = level_reaches(loops, COIL, Bench((*SMALL_BENCH.bodies, CUP)), (level,))
    assert reach.height == pytest.approx(height, rel=5e-3, abs=0.0)  # it is highest on the axis
    closed = Bench((*SMALL_BENCH.bodies, block(45e-3, 0.0, 60e-3)))
    assert (level_reaches(loops, COIL, closed, (level,))[0].height or 0.0) < 0.5 * height


def test_a_level_that_ends_under_a_lid_is_told_there() -> None:
    loops, lid = winding(), ((0.0, 50e-3), (80e-3, 50e-3), (80e-3, 52e-3), (0.0, 52e-3))
    level = float(loops.size(np.array([1e-9]), np.array([30e-3]))[0])
    (bare,) = level_reaches(loops, COIL, SMALL_BENCH, (level,))
    (lidded,) = level_reaches(loops, COIL, Bench((*SMALL_BENCH.bodies, lid)), (level,))
    assert lidded.height == pytest.approx(bare.height, rel=1e-2, abs=0.0)


def test_where_the_level_meets_the_plate_right_above_a_magnetised_body() -> None:
    """Its loops are too coarse at the plate's top, where the level is told from a little further up."""
    coil, blur = winding(), 3.2e-3
    iron = Loops(np.array([40e-3]), np.array([-4e-3]), np.array([1e-12 + 0j]), np.array([blur]))
    both = Loops(
        *(np.concatenate([getattr(coil, n), getattr(iron, n)]) for n in ("radius", "height", "current", "blur"))
    )
    plate = Bench((block(90e-3, -60e-3, 0.0),))
    level = float(coil.size(np.array([42e-3]), np.array([1e-5]))[0])
    (clear,), (coarse,) = (level_reaches(loops, COIL, plate, (level,)) for loops in (coil, both))
    assert clear.radius == pytest.approx(42e-3, rel=5e-3, abs=0.0)
    assert coarse.radius == pytest.approx(42e-3, rel=1.5e-2, abs=0.0)
