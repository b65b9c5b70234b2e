"""The law of magnetisation: its limits, its slope, and what a material keeps of it when heated."""

from itertools import pairwise
from math import pi

import pytest

from geometries.materials import Material, find_material
from geometries.saturation import SaturationLaw

LAW = SaturationLaw(700.0, 0.4)
VACUUM = 4e-7 * pi


def test_an_unbiased_material_has_its_initial_permeability() -> None:
    state = LAW.at_flux_density(0.0)
    assert state.secant_permeability == state.incremental_permeability == 700.0
    assert state.field_strength == state.saturated_share == 0.0


def test_a_saturated_material_is_air_to_a_small_signal() -> None:
    state = LAW.at_flux_density(50.0)
    assert state.incremental_permeability == pytest.approx(1.0, abs=1e-5)
    assert state.saturated_share == pytest.approx(1.0, abs=1e-4)
    assert state.flux_density - VACUUM * state.field_strength == pytest.approx(0.4, rel=1e-4, abs=0.0)


@pytest.mark.parametrize("given", [1e-6, 0.01, 0.2, 0.4, 0.41, 1.0, 30.0])
def test_flux_density_and_field_strength_obey_the_law(given: float) -> None:
    state = LAW.at_flux_density(-given)  # of the size alone
    knee = 0.4 / (VACUUM * 699.0)
    expected = VACUUM * state.field_strength + 0.4 * state.field_strength / (state.field_strength + knee)
    assert expected == pytest.approx(given, rel=1e-9, abs=0.0)
    assert state.flux_density == pytest.approx(given, rel=1e-9, abs=0.0)
    assert state.secant_permeability == pytest.approx(given / (VACUUM * state.field_strength), rel=1e-9, abs=0.0)


@pytest.mark.parametrize("given", [0.05, 0.2, 0.39, 0.6])
def test_the_incremental_permeability_is_the_slope(given: float) -> None:
    step = 1e-5
    low, high = LAW.at_flux_density(given - step), LAW.at_flux_density(given + step)
    slope = 2.0 * step / (VACUUM * (high.field_strength - low.field_strength))
    assert LAW.at_flux_density(given).incremental_permeability == pytest.approx(slope, rel=1e-5, abs=0.0)


def test_by_its_secant_the_same_state_is_found() -> None:
    state = LAW.at_flux_density(0.3)
    again = LAW.at_secant(state.secant_permeability)
    assert again.flux_density == pytest.approx(0.3, rel=1e-9, abs=0.0)
    assert again.incremental_permeability == pytest.approx(state.incremental_permeability, rel=1e-9, abs=0.0)


def test_half_of_the_greatest_magnetisation_leaves_a_quarter_of_the_susceptibility() -> None:
    state = LAW.at_secant(1.0 + 699.0 / 2.0)
    assert state.saturated_share == pytest.approx(0.5, rel=1e-12, abs=0.0)
    assert state.incremental_permeability == pytest.approx(1.0 + 699.0 / 4.0, rel=1e-12, abs=0.0)


def test_saturation_falls_to_nothing_at_the_curie_point() -> None:
    ferrite = find_material("ferrite")
    found = [ferrite.saturation(at) or 0.0 for at in (-40.0, 20.0, 60.0, 100.0, 149.0, 150.0, 400.0)]
    assert found[:2] == [0.4, 0.4]
    assert found[-2:] == [0.0, 0.0]
    assert all(warm > warmer for warm, warmer in pairwise(found[1:-1]))
    assert find_material("manganese-zinc ferrite").saturation(100.0) == pytest.approx(
        0.5 * (110 / 190) ** 0.5, abs=1e-12
    )
    assert Material("no Curie point", saturation_flux_density=0.3).saturation(900.0) == 0.3
    assert find_material("copper").saturation(20.0) is None


def test_a_biased_material_loses_in_proportion_to_its_susceptibility() -> None:
    ferrite = find_material("ferrite")
    low = ferrite.biased(100.0)
    assert low.relative_permeability == 100.0
    assert low.relative_permeability_loss == pytest.approx(7.0 * 99.0 / 699.0, rel=1e-12, abs=0.0)
    assert ferrite.biased(1.0).permeability == 1.0
    assert not ferrite.biased(1.0).magnetic
