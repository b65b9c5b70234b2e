"""A core in a steady field: what it gathers, and where the law of saturation takes it."""

from dataclasses import replace
from math import hypot, pi

import numpy as np
import pytest

from fem.core_bias import AppliedField, applied_field, core_bias, core_gathering
from fem.elements import Elements
from fem.magnet_field import magnet_flux_density
from fem.model import tag_model
from fem.system import System
from fem.tag_solution import tag_solution
from geometries.magnet import Magnet
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import TAG_CORE, tag_plan
from geometries.section import WindingSection
from geometries.tag import RodCore, Tag
from tests.fem.cases import AIR_TAG, DRUM_TAG, FREQUENCY, ROD_TAG

AIR = Material("air")
SOFT = Material("soft", relative_permeability=900.0, saturation_flux_density=0.4)


def with_core(tag: Tag, material: Material) -> Tag:
    assert tag.core is not None
    return replace(tag, core=replace(tag.core, material=material))


DRUM, ROD = with_core(DRUM_TAG, SOFT), with_core(ROD_TAG, SOFT)


def magnet(place: tuple[float, float, float], direction: tuple[float, float, float] = (0.0, 0.0, 1.0)) -> Magnet:
    """A cube of 4 mm."""
    return Magnet("cube", AIR, (4e-3, 4e-3, 4e-3), place, remanence=1.2, direction=direction)


def test_a_weak_rod_as_long_as_wide_has_its_magnetometric_factor() -> None:
    """N_m 0.3116 of Chen, Brug and Goldfarb 1991 (from memory): the winding covers the rod, so all of it counts."""
    core = RodCore(Material("weak", relative_permeability=1.001), 4e-3, 4e-3)
    tag = Tag(WindingSection(2.01e-3, 2.2e-3, -2e-3, 2e-3), 1, core)
    assert core_gathering(tag).factors == pytest.approx((0.3116,), abs=5e-4)


@pytest.mark.parametrize("tag", [DRUM, ROD], ids=["drum", "rod"])
def test_between_the_permeabilities_solved_for_the_factor_is_interpolated(tag: Tag) -> None:
    whole = core_gathering(tag)
    assert len(whole.factors) == 12
    for permeability in (3.0, 20.0, 150.0, 600.0):
        alone = core_gathering(with_core(tag, Material("other", relative_permeability=permeability)))
        assert whole.along(permeability) == pytest.approx(alone.along(permeability), rel=5e-3, abs=0.0)
    assert whole.along(1.0) == whole.across(1.0) == 1.0


def test_a_gathered_flux_is_what_the_winding_links() -> None:
    """The flux of a uniform field through a winding, c_0, is that through its bore and what passes in the window."""
    c0 = tag_solution(replace(DRUM_TAG, turns=1.0), FREQUENCY, 1e-4).moments.moments[0].real
    assert DRUM_TAG.core is not None
    area = pi * DRUM_TAG.core.outline[3][0] ** 2  # of the centre post
    gathered = core_gathering(DRUM).along(900.0) * area
    # Flux passes in the air beside the post too: the post alone carries the most of it.
    assert 0.9 * c0 < gathered < 1.05 * c0


@pytest.fixture(scope="module")
def moments():
    return tag_solution(replace(DRUM, turns=1.0), FREQUENCY, 1e-3).moments


def test_of_a_distant_magnet_the_field_at_the_centre_counts(moments) -> None:
    far = magnet((0.1, 0.05, 0.3), (0.6, 0.0, 0.8))
    field = magnet_flux_density(far, np.zeros(3))
    found = applied_field(DRUM, moments, [far])
    assert found.axial == pytest.approx(field[2], rel=1e-3, abs=0.0)
    assert found.transverse == pytest.approx(hypot(field[0], field[1]), rel=1e-3, abs=0.0)


def test_the_profile_is_weighted_by_what_core_and_winding_link(moments) -> None:
    """Σ c_k b_k / c_0 of a magnet above, its profile fitted by powers of the distance."""
    above = magnet((0.0, 0.0, 12e-3))
    s = np.linspace(-moments.scale, moments.scale, 41)
    field = magnet_flux_density(above, np.stack([0.0 * s, 0.0 * s, s]))[2]
    profile = np.polynomial.polynomial.polyfit(s / moments.scale, field, moments.moments.size - 1)
    expected = float((moments.moments @ profile).real / moments.moments[0].real)
    found = applied_field(DRUM, moments, [above]).axial
    assert found == pytest.approx(expected, rel=1e-4, abs=0.0)
    assert found == pytest.approx(field[20], rel=0.2, abs=0.0)
    assert found != pytest.approx(field[20], rel=0.01, abs=0.0)


def test_a_magnet_inside_the_tag_s_sphere_is_averaged_along_the_bore(moments) -> None:
    close = magnet((0.0, 0.0, 5.1e-3))
    assert close.low[2] < DRUM.sphere_radius
    s, weights = np.polynomial.legendre.leggauss(30)
    half = 0.5 * DRUM.section.winding_length
    field = magnet_flux_density(close, np.stack([0.0 * s, 0.0 * s, half * s]))[2]
    assert applied_field(DRUM, moments, [close]).axial == pytest.approx(0.5 * weights @ field, rel=1e-5, abs=0.0)


def test_a_tag_moved_and_turned_sees_what_a_magnet_turned_the_other_way_gives(moments) -> None:
    upright = applied_field(DRUM, moments, [magnet((15e-3, 0.0, -20e-3))])
    # The tag lies with its axis along the magnets' x, its x along their y and its y along their z.
    axes = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    centre = np.array([1e-3, 2e-3, 3e-3])
    place = centre + axes.T @ np.array([15e-3, 0.0, -20e-3])
    turned = applied_field(DRUM, moments, [magnet(tuple(place), (1.0, 0.0, 0.0))], centre, axes)
    assert turned.axial == pytest.approx(upright.axial, rel=1e-9, abs=0.0)
    assert turned.transverse == pytest.approx(upright.transverse, rel=1e-9, abs=0.0)


def test_no_field_no_bias() -> None:
    bias = core_bias(DRUM, AppliedField(0.0, 0.0), 20.0)
    assert bias is not None
    assert (bias.permeability, bias.state.flux_density) == (900.0, 0.0)


def test_a_weak_field_is_multiplied_as_the_unbiased_core_does() -> None:
    bias = core_bias(DRUM, AppliedField(-1e-6, 0.0), 20.0)
    assert bias is not None
    assert bias.state.flux_density == pytest.approx(1e-6 * core_gathering(DRUM).along(900.0), rel=1e-3, abs=0.0)
    assert 20.0 * 1e-6 < bias.state.flux_density < 25.0 * 1e-6


@pytest.mark.parametrize("axial", [1e-3, 0.01, 0.02, 0.1, 1.0])
def test_flux_density_and_permeability_agree_with_each_other(axial: float) -> None:
    bias = core_bias(DRUM, AppliedField(axial, 0.0), 20.0)
    assert bias is not None
    state = bias.state
    assert state.flux_density == pytest.approx(
        axial * core_gathering(DRUM).along(state.secant_permeability), rel=1e-9, abs=0.0
    )
    assert bias.permeability == pytest.approx(state.incremental_permeability, rel=1e-9, abs=0.0)


def test_permeability_falls_to_that_of_air_as_the_field_grows() -> None:
    found = [core_bias(DRUM, AppliedField(axial, 0.0), 20.0) for axial in np.geomspace(1e-5, 5.0, 20)]
    values = [one.permeability for one in found if one is not None]
    assert len(values) == 20
    assert np.all(np.diff(values) < 0.0)
    assert values[0] == pytest.approx(900.0, rel=2e-3, abs=0.0)
    assert values[-1] == pytest.approx(1.0, abs=1e-3)


def test_across_the_axis_the_secant_counts_and_the_post_gathers_twice() -> None:
    bias = core_bias(DRUM, AppliedField(0.0, 0.05), 20.0)
    assert bias is not None
    assert bias.state.flux_density == pytest.approx(2.0 * 0.05, rel=0.02, abs=0.0)
    assert bias.permeability == pytest.approx(bias.state.secant_permeability, rel=1e-9, abs=0.0)
    mixed = core_bias(DRUM, AppliedField(0.05 / 22.0, 0.05), 20.0)
    assert mixed is not None
    assert mixed.state.incremental_permeability < mixed.permeability < mixed.state.secant_permeability


def test_a_hot_core_saturates_sooner_and_one_that_is_not_known_is_left() -> None:
    field = AppliedField(0.01, 0.0)
    known = replace(SOFT, curie_temperature=150.0)
    cold, hot = (core_bias(with_core(DRUM, known), field, at) for at in (20.0, 100.0))
    assert cold is not None
    assert hot is not None
    assert hot.permeability < cold.permeability
    assert core_bias(with_core(DRUM, known), field, 150.0) is None
    assert core_bias(DRUM_TAG, field, 20.0) is None  # no saturation flux density given
    assert core_bias(AIR_TAG, field, 20.0) is None
    assert core_bias(with_core(DRUM, known.biased(1.0)), field, 20.0) is None


@pytest.mark.parametrize(("height", "allowed"), [(9e-3, 0.02), (14e-3, 0.01)])
def test_a_uniform_field_stands_for_that_of_a_magnet_close_by(moments, height: float, allowed: float) -> None:
    """The core solved in the field of a cylinder on its axis itself: its flux density inside the winding."""
    near = Magnet("near", AIR, (4e-3, 4e-3, 4e-3), (0.0, 0.0, height), remanence=1.2, shape="cylinder")

    def field(r: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        radial, _, axial = magnet_flux_density(near, np.stack([r, 0.0 * r, z]))
        return 0.0 * r, radial, axial  # its potential plays no part in what does not conduct

    system = System(Elements(section_mesh(tag_plan(DRUM, 0.0)), 2), tag_model(DRUM, 0.0))
    answer = system.solve(system.reaction_load(field)[:, None])[:, 0]
    elements, members = system.elements, system.elements.mesh.regions[TAG_CORE]
    r, z = elements.positions[:, members]
    weights = elements.weights[members] * (np.abs(z) < DRUM.section.top)
    added = np.einsum("bep,be->ep", elements.curls[1][:, members], answer[elements.dofs[:, members]]).real
    found = float((weights * (added + field(r.ravel(), z.ravel())[2].reshape(r.shape))).sum() / weights.sum())
    applied = applied_field(DRUM, moments, [near]).axial
    assert applied * core_gathering(DRUM).along(900.0) == pytest.approx(found, rel=allowed, abs=0.0)
