"""The series of the field in the air against closed forms."""

import numpy as np
import pytest

from fem.air_field import LARGEST_DEGREE, AirSpace, air_field, degrees
from fem.closed_forms import winding_flux_density, winding_vector_potential
from fem.sources import Rings, winding_rings
from geometries.section import WindingSection
from tests.fem.cases import COIL

SPACE = AirSpace(0.045, 0.004, 0.06)
R = np.array([0.0, 1e-4, 0.004, 0.0205, 0.031, 0.045])
Z = np.array([0.004, 0.011, 0.025, 0.06])


@pytest.fixture(scope="module")
def field():
    return air_field([winding_rings(COIL)], SPACE, 1e-7)


def size(section):
    """|B| everywhere on the grid: what errors are measured by."""
    grid = np.meshgrid(R, Z, indexing="ij")
    radial, axial = winding_flux_density(section, 1.0, *grid)
    return np.hypot(radial, axial), radial, axial


def test_flux_density_on_a_grid(field):
    over_radius, b_z = field.flux_density(R, Z)
    strength, radial, axial = size(COIL)
    assert np.max(np.abs(b_z - axial) / strength) < 1e-6
    assert np.max(np.abs(over_radius * R[:, None] - radial) / strength) < 1e-6


def test_scattered_places_are_the_grid(field):
    r, z = (a.ravel() for a in np.meshgrid(R, Z, indexing="ij"))
    grid = [part.ravel() for part in field.flux_density(R, Z)]
    for found, expected in zip(field.flux_density_at(r, z), grid, strict=True):
        assert found == pytest.approx(expected, rel=1e-10, abs=1e-16)


def test_everything_at_once_is_its_parts(field):
    r, z = (a.ravel() for a in np.meshgrid(R[1:], Z, indexing="ij"))
    swirl, over_radius, b_z = field.everything_at(r, z)
    assert swirl * r == pytest.approx(winding_vector_potential(COIL, 1.0, r, z) + 0j, rel=1e-6, abs=0.0)
    expected = field.flux_density_at(r, z)
    assert over_radius == pytest.approx(expected[0], rel=1e-10, abs=1e-16)
    assert b_z == pytest.approx(expected[1], rel=1e-10, abs=1e-16)


def test_potential(field):
    r, z = (a.ravel() for a in np.meshgrid(R, Z, indexing="ij"))
    expected = winding_vector_potential(COIL, 1.0, r, z)
    assert field.everything_at(r, z)[0] * r == pytest.approx(expected + 0j, rel=1e-6, abs=1e-30)


def test_groups_add_up():
    other = WindingSection(0.010, 0.012, -0.006, -0.003)
    both = air_field([winding_rings(COIL), winding_rings(other)], SPACE, 1e-7)
    _, b_z = both.flux_density(R, Z)
    strength, _, axial = size(COIL)
    second = winding_flux_density(other, 1.0, *np.meshgrid(R, Z, indexing="ij"))[1]
    assert np.max(np.abs(b_z - axial - second) / strength) < 2e-6


def test_tolerance_buys_accuracy():
    strength, _, axial = size(COIL)
    errors = []
    for tolerance in (1e-3, 1e-5, 1e-7):
        series = air_field([winding_rings(COIL)], SPACE, tolerance)
        errors.append(np.max(np.abs(series.flux_density(R, Z)[1] - axial) / strength))
    assert errors[0] > 10.0 * errors[1] > 100.0 * errors[2]


def test_terms_grow_as_the_clearance_falls():
    near, far = degrees(0.005, SPACE, 1e-6), degrees(0.02, SPACE, 1e-6)
    assert near[0] > far[0]
    assert near[1] > far[1]
    assert degrees(1e-9, SPACE, 1e-6) == (LARGEST_DEGREE, LARGEST_DEGREE)


@pytest.mark.parametrize(("r", "z", "word"), [(0.046, 0.03, "sideways"), (0.01, 0.003, "height")])
def test_places_outside_are_refused(field, r, z, word):
    with pytest.raises(AssertionError, match=word):
        field.everything_at(np.array([r]), np.array([z]))


def test_complex_sources_keep_their_phase():
    one = Rings(*(np.array([v]) for v in (0.02, -0.005, 1.0)), *(np.array([v + 0j]) for v in (1j, 0.0, 0.0)))
    assert np.max(np.abs(air_field([one], SPACE, 1e-7).everything_at(R[1:], Z[[0] * 5])[0].real)) == 0.0
