"""The tag alone: inductance, moments and core against direct integration and closed forms."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from fem.closed_forms import winding_flux_density
from fem.elements import Elements
from fem.model import tag_model
from fem.regular_fields import regular_field
from fem.system import System
from fem.tag_solution import AxialMoments, axial_moments, linkage, tag_solution
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import TAG_WINDING, tag_plan
from geometries.tag import RodCore
from tests.fem.cases import AIR_TAG, DRUM_TAG, FREQUENCY, ROD_TAG, lossy
from tests.reference.loop_integrals import averaged_self_inductance

ACCURACY = 1e-4


@pytest.fixture(scope="module")
def air():
    return tag_solution(AIR_TAG, FREQUENCY, ACCURACY)


@pytest.fixture(scope="module")
def drum():
    return tag_solution(DRUM_TAG, FREQUENCY, ACCURACY)


def test_air_cored_inductance_is_the_average_over_its_filaments(air):
    expected = averaged_self_inductance(AIR_TAG.section)
    assert air.flux_linkage.real == pytest.approx(expected, rel=1e-4, abs=0.0)
    assert air.flux_linkage.imag == 0.0
    assert abs(air.flux_linkage.real - expected) <= air.inductance_error * expected


def test_air_cored_moments_are_integrals_over_the_section(air):
    # c_k = ∫ A_k J dV, over a rectangle by Gauss's rule.
    section, scale = AIR_TAG.section, AIR_TAG.sphere_radius
    x, weights = np.polynomial.legendre.leggauss(8)
    r, z = np.meshgrid(section.mean_radius + 0.5 * section.radial_build * x, 0.5 * section.winding_length * x)
    share = np.outer(weights, weights) / 4.0
    for k, moment in enumerate(air.moments.moments):
        expected = (2.0 * pi * share * r * regular_field(k, scale, r, z)[0]).sum()
        assert moment == pytest.approx(expected, rel=1e-9, abs=1e-12 * air.moments.moments[0].real)
    assert air.core is None
    assert air.polarisability == 0.0


def test_odd_moments_vanish_for_a_tag_symmetric_end_to_end(drum):
    # Only as far as the mesh is symmetric, which is part of the stated error.
    moments = np.abs(drum.moments.moments)
    assert np.all(moments[1::2] < drum.moment_error * moments[0])
    assert np.all(moments[2:5:2] > 1e-4 * moments[0])


def test_a_shifted_winding_has_odd_moments():
    shifted = replace(AIR_TAG, section=AIR_TAG.section.raised(0.0005))
    moments = tag_solution(shifted, FREQUENCY, ACCURACY).moments.moments
    # A winding at z0 sees the field there: c_1/c_0 = z0/a.
    assert (moments[1] / moments[0]).real == pytest.approx(0.0005 / shifted.sphere_radius, rel=1e-3, abs=0.0)


def test_dipole_moment_by_reciprocity_is_the_flux_of_a_uniform_field(drum):
    # The flux linkage of the winding in a uniform field of 1 T, core and all, is c_0.
    system = System(Elements(section_mesh(tag_plan(DRUM_TAG, FREQUENCY)), 3), tag_model(DRUM_TAG, FREQUENCY))
    field = system.reaction_load(lambda r, z: regular_field(0, 1.0, r, z))
    answer = system.solve(field[:, None])[:, 0]
    section = DRUM_TAG.section
    through = pi * (section.outer_radius**3 - section.inner_radius**3) / (3.0 * section.radial_build)
    own = system.solve(system.winding_load(TAG_WINDING, section.area)[:, None])[:, 0]
    assert axial_moments(system, own, DRUM_TAG, 1)[0] == pytest.approx(
        through + linkage(system, answer, DRUM_TAG), rel=1e-9, abs=0.0
    )
    assert drum.moments.moments[0] == pytest.approx(through + linkage(system, answer, DRUM_TAG), rel=1e-3, abs=0.0)


@pytest.mark.slow
def test_core_multiplies_inductance_and_moment(air, drum):
    hollow = tag_solution(replace(DRUM_TAG, core=None), FREQUENCY, ACCURACY)
    assert drum.flux_linkage.real > 4.0 * hollow.flux_linkage.real
    assert drum.moments.moments[0].real > 2.0 * hollow.moments.moments[0].real


def test_weak_core_adds_in_proportion_to_its_susceptibility():
    # For χ → 0 the core sees the winding's own field: c_0 grows by χ ∫ B_z dV/μ0 per ampere.
    core = RodCore(Material("weak", relative_permeability=1.001), 0.002, 0.012)
    weak = replace(ROD_TAG, core=core)
    gain = tag_solution(weak, FREQUENCY, 1e-5).moments.moments[0]
    gain -= tag_solution(replace(weak, core=None), FREQUENCY, 1e-5).moments.moments[0]
    x, weights = np.polynomial.legendre.leggauss(40)
    r, z = np.meshgrid(0.0005 * (x + 1.0), 0.006 * x, indexing="ij")
    volume = 2.0 * pi * r * np.outer(0.0005 * weights, 0.006 * weights)
    axial = winding_flux_density(weak.section, 1.0, r, z)[1]
    assert gain.real == pytest.approx(0.001 * (volume * axial).sum() / (4e-7 * pi), rel=2e-3, abs=0.0)


def test_lossy_core_has_resistance_and_a_lagging_moment():
    found = tag_solution(lossy(DRUM_TAG), FREQUENCY, ACCURACY)
    assert found.flux_linkage.imag < 0.0
    assert found.moments.moments[0].imag < 0.0
    # Loss angle of the inductance is a diluted one: at most the material's own 1 %.
    assert -found.flux_linkage.imag < 0.01 * found.flux_linkage.real


def test_proximity_field_of_an_air_cored_tag(air):
    # ∫ |H|² 2πr dS / area from the closed form of the winding's own field inside its section.
    section = AIR_TAG.section
    x, weights = np.polynomial.legendre.leggauss(12)
    r, z = np.meshgrid(section.mean_radius + 0.5 * section.radial_build * x, 0.5 * section.winding_length * x)
    radial, axial = winding_flux_density(section, 1.0, r.ravel(), z.ravel())
    square = (radial**2 + axial**2).reshape(r.shape) / (4e-7 * pi) ** 2
    expected = (np.outer(weights, weights) / 4.0 * square * 2.0 * pi * r).sum()
    assert air.field_square_length == pytest.approx(expected, rel=2e-3, abs=0.0)


@pytest.mark.slow
@pytest.mark.parametrize("tag", [DRUM_TAG, ROD_TAG, lossy(DRUM_TAG)], ids=["drum", "rod", "lossy drum"])
def test_stated_errors_cover_a_much_finer_solution(tag):
    coarse, fine = tag_solution(tag, FREQUENCY, 1e-3), tag_solution(tag, FREQUENCY, 1e-6)
    assert abs(coarse.flux_linkage / fine.flux_linkage - 1.0) <= coarse.inductance_error
    assert abs(coarse.moments.moments[0] / fine.moments.moments[0] - 1.0) <= coarse.moment_error


def test_weights_reproduce_the_moments():
    moments = AxialMoments(np.array([2.0, 0.3j, -0.5]), 0.004)
    profile = 1.0 + 2.0 * (moments.nodes / 0.004) - 3.0 * (moments.nodes / 0.004) ** 2
    assert moments.weights @ profile == pytest.approx(2.0 + 0.6j + 1.5, rel=1e-12, abs=0.0)
    assert moments.times(3.0).weights == pytest.approx(3.0 * moments.weights, rel=1e-14, abs=0.0)
    assert np.all(np.abs(moments.nodes) < 0.004)
