"""The field a person may meet: against filaments by elliptic integrals and closed forms, and through the whole way."""

from dataclasses import replace
from itertools import pairwise
from math import log10, pi, sqrt

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from fem.arrays import Array
from fem.base_solution import BaseSolution
from fem.coil_family import FamilyCoil
from fem.gathered_loops import Loops
from geometries.section import WindingSection
from geometries.stack import Stack
from studies.assembly_coil import winding_section
from studies.evaluation import Evaluation
from studies.person_field import base_loops, bench_of, field_columns, reaches
from studies.rows import number
from studies.solving import base_field
from studies.study import read_study
from tests.studies.conftest import LIBRARY, Evaluator

VACUUM = 4e-7 * pi
COLUMNS = tuple(f"{level}_{what}_m" for level in ("reference_level", "occupational_level") for what in (
    "distance", "height", "radius"
))  # fmt: skip


@pytest.fixture(scope="module")
def found(evaluation_of: Evaluator) -> Evaluation:
    """A coil under a plate that no field feels: all is as in air."""
    return evaluation_of()


def filaments(section: WindingSection, ampere_turns: float, r: Array, z: Array) -> Array:
    """√(|B_r|² + |B_z|²) of 12 × 12 even filaments [T], Smythe's form of a loop's field (from memory), peak."""
    share = (np.arange(12) + 0.5) / 12.0
    a, h = (
        part.ravel()
        for part in np.meshgrid(
            section.inner_radius + share * section.radial_build, section.bottom + share * section.winding_length
        )
    )
    r, d = np.atleast_1d(r)[:, None], np.atleast_1d(z)[:, None] - h
    far, near = (a + r) ** 2 + d**2, (a - r) ** 2 + d**2
    k2 = 4.0 * a * r / far
    first, second = ellipk(k2), ellipe(k2)
    scale = VACUUM * ampere_turns / a.size / (2.0 * pi * np.sqrt(far))
    axial = scale * (first + (a**2 - r**2 - d**2) / near * second)
    radial = scale * d / r * (-first + (a**2 + r**2 + d**2) / near * second)
    return np.hypot(axial.sum(axis=1), radial.sum(axis=1))


def farthest(section: WindingSection, ampere_turns: float, level: float, angles: Array) -> tuple[Array, Array]:
    """Where the rms field is at the level on rays from the axis at the winding's height, by halving [m]."""
    low, high = np.full(angles.size, 1e-3), np.full(angles.size, 2.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        r, z = middle * np.sin(angles) + 1e-7, section.mid_height + middle * np.cos(angles)
        above = filaments(section, ampere_turns, r, z) > sqrt(2.0) * level
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return low * np.sin(angles), section.mid_height + low * np.cos(angles)


@pytest.mark.parametrize(("name", "level"), [("reference_level", 27e-6), ("occupational_level", 100e-6)])
def test_height_and_distance_are_those_of_filaments_in_air(found: Evaluation, name: str, level: float) -> None:
    """27 and 100 µT: ICNIRP 2010, 3 kHz to 10 MHz. Rays 15° apart leave 3e-3 of a distance."""
    section, row = found.coils.base.section, found.row
    ampere_turns = found.coils.base.turns * number(row, "base_current_A")
    r, z = farthest(section, ampere_turns, level, np.linspace(0.0, pi, 361))
    assert row[f"{name}_height_m"] == pytest.approx(z.max(), rel=2e-3, abs=0.0)
    beside = np.maximum(np.maximum(section.inner_radius - r, r - section.outer_radius), 0.0)
    above = np.maximum(np.maximum(section.bottom - z, z - section.top), 0.0)
    out = ~bench_of(found.candidate.stack, section).holds(r, z)
    assert row[f"{name}_distance_m"] == pytest.approx(np.hypot(beside, above)[out].max(), rel=3e-3, abs=0.0)
    assert row[f"{name}_radius_m"] == pytest.approx(r[out].max(), rel=5e-3, abs=0.0)


def test_a_thin_loop_on_its_axis() -> None:
    """μ0 N I a²/(2 (a² + d²)^(3/2)) is √2 times the rms level at the contour's top; textbook form, from memory."""
    a, ampere_turns, level = 0.1, 40.0, 27e-6
    loop = Loops(np.array([a]), np.array([-5e-3]), np.array([1.0 + 0j]), np.zeros(1))
    section = WindingSection(a - 0.5e-3, a + 0.5e-3, -5.5e-3, -4.5e-3)
    (reach,) = reaches(loop, section, bench_of(Stack(), section), ampere_turns, (level,))
    away = sqrt((VACUUM * ampere_turns * a**2 / (2.0 * sqrt(2.0) * level)) ** (2.0 / 3.0) - a**2)
    assert reach.height == pytest.approx(away - 5e-3, rel=3e-3, abs=0.0)


def test_the_field_at_10_m_is_that_of_filaments_and_falls_with_the_cube(found: Evaluation) -> None:
    section, told = found.coils.base.section, number(found.row, "field_at_10_m_rms_A_per_m")
    ampere_turns = found.coils.base.turns * number(found.row, "base_current_A")
    ten, twenty = filaments(section, ampere_turns, np.full(2, 1e-4), section.mid_height + np.array([10.0, 20.0]))
    assert told == pytest.approx(ten / VACUUM / sqrt(2.0), rel=1e-3, abs=0.0)
    assert ten / twenty == pytest.approx(8.0, rel=1e-4, abs=0.0)
    limit = number(found.row, "field_limit_at_10_m_A_per_m")
    assert found.row["field_at_10_m_margin_dB"] == pytest.approx(20.0 * log10(limit / told), rel=1e-12, abs=0.0)


def test_every_reach_grows_with_the_current(found: Evaluation) -> None:
    currents = np.geomspace(0.02, 3.0, 12)
    rows = [field_columns(found.candidate, found.coils, current, 1e-6 * current) for current in currents]
    for name in COLUMNS:
        reach = [row[name] or 0.0 for row in rows]
        assert reach[-1] > reach[0]
        assert all(more >= 0.999 * less for less, more in pairwise(reach)), name
    margins = [row["field_at_10_m_margin_dB"] for row in rows]
    assert margins[0] - margins[-1] == pytest.approx(20.0 * log10(150.0), rel=1e-9, abs=0.0)


def test_no_current_and_no_known_level_reach_nowhere(found: Evaluation) -> None:
    still = field_columns(found.candidate, found.coils, 0.0, 0.0)
    unknown = field_columns(replace(found.candidate, frequency=2e3), found.coils, 1.0, 1e-6)
    for row in (still, unknown):
        assert [row[name] for name in COLUMNS] == [None] * 6
        assert row["field_at_10_m_margin_dB"] is None
    assert unknown["field_limit_at_10_m_A_per_m"] is None


def test_a_wide_strong_coil_is_cautioned_of_with_its_excess(evaluation_of: Evaluator) -> None:
    wide = evaluation_of("study.frequency=145 kHz", "base_coil.mean_diameter=400 mm")
    excess = -number(wide.row, "field_at_10_m_margin_dB")
    assert excess > 1.0
    assert any(f"{excess:.1f} dB above the limit of 37.7 dBµA/m" in text for text in wide.cautions)
    beyond = evaluation_of("study.frequency=75 kHz")
    assert any("no limit is known here at 75 kHz" in text for text in beyond.cautions)


def test_the_well_of_the_heat_block_is_open_and_the_block_is_not() -> None:
    base = read_study(LIBRARY / "heat-block.toml").base
    bench = bench_of(base.stack, winding_section(base.coil, base.stack, 60.0))
    r, z = np.array([1e-6, 17e-3, 24e-3, 19e-3, 40e-3, 5e-3]), np.array([1e-3, 5e-3, 35e-3, 5e-3, 20e-3, -2e-3])
    assert bench.holds(r, z).tolist() == [False, False, False, True, True, True]


@pytest.mark.slow
def test_a_shared_field_reaches_as_far_as_the_coil_s_own() -> None:
    """Levels fall about with the cube of the distance: what the accuracy leaves of the field, a third of it here."""
    base = read_study(LIBRARY / "culture-bench.toml").base
    section = winding_section(base.coil, base.stack, 64.0)
    both = [base_field(replace(base, formulation=way), section) for way in ("reaction field", "total field")]
    assert isinstance(both[0], FamilyCoil)
    assert isinstance(both[1], BaseSolution)
    bench = bench_of(base.stack, section)
    shared, own = (reaches(base_loops(field), section, bench, 20.0, (27e-6, 100e-6)) for field in both)
    for one, other in zip(shared, own, strict=True):
        for name in ("distance", "height", "radius"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), rel=base.accuracy, abs=0.0)
    moments = [base_loops(field).moment for field in both]
    assert moments[0] == pytest.approx(moments[1], rel=5.0 * base.accuracy, abs=0.0)
