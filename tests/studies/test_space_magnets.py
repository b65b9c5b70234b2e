"""What bars fixed to the tag do to L, Q and k, and the correction that follows."""

from dataclasses import replace
from math import pi, radians, sqrt

import numpy as np
import pytest

from geometries.magnet import Magnet
from geometries.materials import Material
from studies.coupling import coupling_of
from studies.solving import SolvedCoils, solved_tag
from studies.space_magnets import MagnetEffect
from studies.space_texts import correction_text
from studies.specification import Candidate, Place
from studies.study import read_study
from studies.whole_space import NOTHING_NEAR, coils_in_the_open, mapped, whole_space_check
from tests.studies.conftest import LIBRARY, Reader
from tests.studies.small import SMALL

PLACES = (Place(0.02, 0.006, radians(25.0)), Place(0.025, 0.002, 0.0))
METAL = Material("metal", resistivity_20=1.4e-6, relative_permeability=1.05)


def with_bars(candidate: Candidate, material: Material, *centres: tuple[float, float, float]) -> Candidate:
    size = (2e-3, 2e-3, 8e-3)
    return replace(candidate, magnets=tuple(Magnet(f"bar {i}", material, size, c) for i, c in enumerate(centres)))


def effect_of(candidate: Candidate) -> MagnetEffect:
    found = whole_space_check(candidate, PLACES, fineness=0.5).magnets
    assert found is not None
    return found


@pytest.fixture
def air_cored(read: Reader) -> Candidate:
    return read(SMALL).base


def test_what_is_like_air_does_nothing(air_cored: Candidate) -> None:
    found = effect_of(with_bars(air_cored, Material("like air"), (5.5e-3, 0.0, 0.0)))
    assert found.inductance_ratio == 1.0
    assert found.added_resistance == 0.0
    assert found.coupling_ratios == ((1.0, 1.0), (1.0, 1.0))


@pytest.mark.slow
def test_conducting_bars_add_loss_and_lower_q(air_cored: Candidate) -> None:
    """Of both bars twice what one adds, but for what they do to each other."""
    one = effect_of(with_bars(air_cored, METAL, (5.5e-3, 0.0, 0.0)))
    two = effect_of(with_bars(air_cored, METAL, (5.5e-3, 0.0, 0.0), (-5.5e-3, 0.0, 0.0)))
    assert 0.0 < one.added_resistance < two.added_resistance
    assert two.added_resistance == pytest.approx(2.0 * one.added_resistance, rel=0.05, abs=0.0)
    assert two.quality_factors[1] < one.quality_factors[1] < one.quality_factors[0]


def test_permeable_bars_raise_the_inductance_and_lose_nothing(air_cored: Candidate) -> None:
    found = effect_of(with_bars(air_cored, Material("soft", relative_permeability=100.0), (5.5e-3, 0.0, 0.0)))
    assert found.inductance_ratio > 1.001
    assert abs(found.added_resistance) < 1e-9


@pytest.mark.slow
def test_a_quarter_turn_of_the_tag_is_the_bars_across(air_cored: Candidate) -> None:
    """Two meshes of the same thing; only what they do to k differs between them, by the mesh's error of it."""
    soft = Material("soft", relative_permeability=100.0)
    along = effect_of(with_bars(air_cored, soft, (5.5e-3, 0.0, 0.0)))
    across = effect_of(with_bars(air_cored, soft, (0.0, 5.5e-3, 0.0)))
    size = max(abs(ratio - 1.0) for ratio in along.coupling_ratios[0])
    assert abs(along.coupling_ratios[0][0] - along.coupling_ratios[0][1]) > 0.1 * size
    for (_, turned), (there, _) in zip(along.coupling_ratios, across.coupling_ratios, strict=True):
        assert turned == pytest.approx(there, abs=0.02 * size, rel=0.0)


def test_the_correction_is_the_mean_of_k_and_makes_the_map_what_was_computed(air_cored: Candidate) -> None:
    effect = MagnetEffect(0.96, 3.0, (60.0, 40.0), ((0.90, 0.92), (0.94, 0.96)))
    assert effect.correction.coupling == pytest.approx(0.93, rel=1e-12, abs=0.0)
    corrected = replace(air_cored, tag=replace(air_cored.tag, correction=effect.correction))
    coils = coils_in_the_open(air_cored)
    tag = solved_tag(corrected.tag, corrected.frequency, 0.5 * corrected.accuracy)
    plain = mapped(coupling_of(air_cored, coils), PLACES[0])
    other = mapped(coupling_of(corrected, SolvedCoils(coils.base, tag, NOTHING_NEAR)), PLACES[0])
    assert abs(other / plain) == pytest.approx(0.93 * sqrt(0.96), rel=1e-9, abs=0.0)
    assert coils_in_the_open(corrected).tag.inductance == coils.tag.inductance  # the check itself leaves it aside


@pytest.mark.slow
def test_the_worked_example_settles_with_the_mesh() -> None:
    """Its bars on a coarse mesh, against the numbers that docs/examples/bar-magnets.md states for the fine one."""
    base = read_study(LIBRARY / "bar-magnets.toml", ()).base
    coarse = whole_space_check(base, (Place(0.03, 0.005, radians(10.0)),), fineness=0.45).magnets
    assert coarse is not None
    stated = base.tag.correction
    assert stated is not None
    assert coarse.inductance_ratio - 1.0 == pytest.approx(stated.inductance - 1.0, rel=0.05, abs=0.0)
    assert coarse.added_resistance == pytest.approx(stated.added_resistance, rel=0.03, abs=0.0)
    assert coarse.correction.coupling == pytest.approx(stated.coupling, abs=1e-3, rel=0.0)
    own = 2.0 * pi * base.frequency * coils_in_the_open(base).tag.inductance
    assert np.isclose(own / coarse.quality_factors[0], coils_in_the_open(base).tag.resistance, rtol=1e-9)


def test_the_worked_example_states_the_correction_of_its_study_file() -> None:
    page = (LIBRARY.parents[1] / "docs" / "examples" / "bar-magnets.md").read_text(encoding="utf-8")
    stated = read_study(LIBRARY / "bar-magnets.toml", ()).base.tag.correction
    assert stated is not None
    assert correction_text(stated).replace('28.6 ohm"', '28.60 ohm"') in page
