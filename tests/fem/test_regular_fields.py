"""Regular fields: no sources, the profile they are named by, and the expansion of a known field in them."""

import numpy as np
import pytest

from fem.closed_forms import loop_flux_density, loop_vector_potential
from fem.regular_fields import regular_field, uniform_field

SCALE = 0.004
R = SCALE * np.array([0.15, 0.4, 0.7, 0.95])
Z = SCALE * np.array([-0.8, -0.1, 0.3, 0.6])
STEP = 1e-4 * SCALE
DEGREES = range(9)


def slope(function, axis):
    """Derivative along r (0) or z (1) by the fourth-order central difference."""

    def moved(count):
        shift = count * STEP
        return function(R + shift, Z) if axis == 0 else function(R, Z + shift)

    return (8.0 * (moved(1) - moved(-1)) - (moved(2) - moved(-2))) / (12.0 * STEP)


@pytest.mark.parametrize("degree", DEGREES)
def test_profile_along_the_axis(degree):
    potential, radial, axial = regular_field(degree, SCALE, np.zeros(4), Z)
    assert axial == pytest.approx((Z / SCALE) ** degree, rel=1e-12, abs=0.0)
    assert np.all(potential == 0.0)
    assert np.all(radial == 0.0)


@pytest.mark.parametrize("degree", DEGREES)
def test_field_has_no_curl_and_no_divergence(degree):
    curl = slope(lambda r, z: regular_field(degree, SCALE, r, z)[1], 1) - slope(
        lambda r, z: regular_field(degree, SCALE, r, z)[2], 0
    )
    divergence = slope(lambda r, z: r * regular_field(degree, SCALE, r, z)[1], 0) / R + slope(
        lambda r, z: regular_field(degree, SCALE, r, z)[2], 1
    )
    assert np.abs(curl).max() * SCALE < 1e-8
    assert np.abs(divergence).max() * SCALE < 1e-8


@pytest.mark.parametrize("degree", DEGREES)
def test_field_is_the_curl_of_its_potential(degree):
    _, radial, axial = regular_field(degree, SCALE, R, Z)
    assert -slope(lambda r, z: regular_field(degree, SCALE, r, z)[0], 1) == pytest.approx(radial, rel=1e-8, abs=1e-9)
    turned = slope(lambda r, z: r * regular_field(degree, SCALE, r, z)[0], 0) / R
    assert turned == pytest.approx(axial, rel=1e-8, abs=1e-9)


def test_a_loop_s_field_is_the_sum_of_its_axial_profile():
    # The loop's B_z on the axis, expanded about the origin, times the regular fields gives A and B off it.
    radius, below = 0.02, 0.02
    nodes = SCALE * np.polynomial.chebyshev.chebpts1(9)
    profile = loop_flux_density(radius, -below, np.zeros(9), nodes)[1]
    coefficients = np.linalg.solve(np.vander(nodes / SCALE, increasing=True), profile)
    fields = [regular_field(degree, SCALE, R, Z) for degree in DEGREES]
    found = [sum(c * f[part] for c, f in zip(coefficients, fields, strict=True)) for part in range(3)]
    expected = [loop_vector_potential(radius, -below, R, Z), *loop_flux_density(radius, -below, R, Z)]
    for part in range(3):
        assert found[part] == pytest.approx(expected[part], rel=1e-5, abs=0.0)


def test_uniform_field_is_one_tesla():
    potential, radial, axial = uniform_field(R, Z)
    assert potential == pytest.approx(R / 2.0, rel=1e-14, abs=0.0)
    assert np.all(radial == 0.0)
    assert axial == pytest.approx(np.ones(4), rel=1e-14, abs=0.0)
