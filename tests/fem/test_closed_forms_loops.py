"""Circular filaments against direct quadrature of Biot and Savart, limits, and identities."""

from math import cos, pi, sin, sqrt

import numpy as np
import pytest
from scipy.integrate import quad

from fem.closed_forms_loops import (
    dipole_vector_potential,
    displaced_loops_mutual_inductance,
    loop_flux_density,
    loop_mutual_inductance,
    loop_vector_potential,
)
from fem.errors import AccuracyError

MU0 = 4e-7 * pi
PLACES = [(1.0, 0.5, 0.3), (1.0, 0.95, 0.1), (1.0, 2.0, 0.0), (1.0, 0.1, 0.2), (0.02, 0.5, 0.1), (0.022, 0.022, -0.025)]


def azimuth_integral(function):
    return quad(function, 0.0, pi, epsabs=0.0, epsrel=1e-12, limit=200)[0]


@pytest.mark.parametrize(("a", "r", "z"), PLACES)
def test_potential_and_flux_density_against_quadrature(a, r, z):
    def distance(angle):
        return sqrt(a * a + r * r - 2.0 * a * r * cos(angle) + z * z)

    scale = MU0 * a / (2.0 * pi)
    potential = scale * azimuth_integral(lambda t: cos(t) / distance(t))
    radial = scale * z * azimuth_integral(lambda t: cos(t) / distance(t) ** 3) if z else 0.0
    axial = scale * azimuth_integral(lambda t: (a - r * cos(t)) / distance(t) ** 3)
    assert loop_vector_potential(a, 0.0, r, z) == pytest.approx(potential, rel=1e-11, abs=0.0)
    assert loop_flux_density(a, 0.0, r, z)[0] == pytest.approx(radial, rel=1e-11, abs=0.0)
    assert loop_flux_density(a, 0.0, r, z)[1] == pytest.approx(axial, rel=1e-11, abs=0.0)


def test_axis():
    z = np.linspace(-0.1, 0.1, 7)
    radial, axial = loop_flux_density(0.03, 0.01, 0.0, z)
    assert np.all(loop_vector_potential(0.03, 0.01, 0.0, z) == 0.0)
    assert np.all(radial == 0.0)
    assert axial == pytest.approx(MU0 * 0.03**2 / (2.0 * (0.03**2 + (z - 0.01) ** 2) ** 1.5), rel=1e-14, abs=0.0)


@pytest.mark.parametrize("r", [1e-12, 1e-9, 1e-6])
def test_close_to_the_axis_no_digit_is_lost(r):
    a, z = 0.03, 0.02
    far2 = a * a + z * z
    assert loop_vector_potential(a, 0.0, r, z) / r == pytest.approx(
        MU0 * a**2 / (4.0 * far2**1.5), rel=1e-8 * r / 1e-6, abs=0.0
    )
    slope = 3.0 * MU0 * a**2 * z / (4.0 * far2**2.5)
    assert loop_flux_density(a, 0.0, r, z)[0] / r == pytest.approx(slope, rel=1e-8 * r / 1e-6 + 1e-14, abs=0.0)


def test_close_to_the_wire_it_is_a_straight_wire():
    a, distance = 1.0, 1e-9
    for angle in (0.3, 2.0, 4.0):
        radial, axial = loop_flux_density(a, 0.0, a + distance * cos(angle), distance * sin(angle))
        field = np.array([radial, axial]) * 2.0 * pi * distance / MU0
        assert field == pytest.approx([sin(angle), -cos(angle)], abs=1e-6)


def test_far_away_it_is_a_dipole():
    angle = np.linspace(0.0, pi, 9)
    r, z = 1e4 * np.sin(angle), 1e4 * np.cos(angle)
    moment = pi * 0.02**2
    expected = dipole_vector_potential(moment, 0.0, r, z)
    assert loop_vector_potential(0.02, 0.0, r, z) == pytest.approx(expected, rel=1e-11, abs=1e-30)
    scale = MU0 * moment / (4.0 * pi * 1e12)
    radial, axial = loop_flux_density(0.02, 0.0, r, z)
    assert radial / scale == pytest.approx(3.0 * np.sin(angle) * np.cos(angle), abs=1e-10)
    assert axial / scale == pytest.approx(3.0 * np.cos(angle) ** 2 - 1.0, abs=1e-10)


def test_dipole_moment_may_be_a_phasor_and_sits_at_its_height():
    value = dipole_vector_potential(2.0 - 1.0j, 0.5, 0.3, 0.9)
    assert value == pytest.approx(1e-7 * (2.0 - 1.0j) * 0.3 / 0.5**3, rel=1e-14, abs=0.0)


def test_mutual_inductance_is_the_flux_through_the_second():
    flux = 2.0 * pi * 0.004 * loop_vector_potential(0.02, 0.0, 0.004, 0.025)
    assert loop_mutual_inductance(0.02, 0.004, 0.025) == pytest.approx(flux, rel=1e-14, abs=0.0)
    assert loop_mutual_inductance(0.004, 0.02, -0.025) == pytest.approx(flux, rel=1e-14, abs=0.0)
    through_disc = quad(lambda r: 2.0 * pi * r * loop_flux_density(0.02, 0.0, r, 0.025)[1], 0.0, 0.004, epsrel=1e-11)[0]
    assert flux == pytest.approx(through_disc, rel=1e-10, abs=0.0)


def test_displaced_loops_come_back_to_one_axis():
    upright = loop_mutual_inductance(0.02, 0.015, 0.01)
    assert displaced_loops_mutual_inductance(0.02, 0.015, 0.01, 0.0, 0.0) == pytest.approx(upright, rel=1e-12, abs=0.0)
    assert displaced_loops_mutual_inductance(0.02, 0.015, 0.01, 0.0, pi) == pytest.approx(-upright, rel=1e-12, abs=0.0)
    assert abs(displaced_loops_mutual_inductance(0.02, 0.015, 0.03, 0.0, pi / 2)) < 1e-14 * upright


def test_small_second_loop_samples_the_field_along_its_axis():
    height, offset, tilt, b = 0.025, 0.01, 0.4, 1e-6
    radial, axial = loop_flux_density(0.02, 0.0, offset, height)
    expected = pi * b**2 * (radial * sin(tilt) + axial * cos(tilt))
    assert displaced_loops_mutual_inductance(0.02, b, height, offset, tilt) == pytest.approx(
        expected, rel=1e-8, abs=0.0
    )


def test_leaning_outward_raises_and_leaning_inward_lowers():
    inward, upright, outward = displaced_loops_mutual_inductance(0.02, 0.003, 0.025, 0.01, [-0.2, 0.0, 0.2])
    assert inward < upright < outward


@pytest.mark.parametrize(("height", "offset", "tilt"), [(0.025, 0.01, 0.3), (0.04, 0.05, -1.2), (-0.03, 0.02, 2.5)])
def test_either_loop_may_be_the_first(height, offset, tilt):
    # The first loop seen from the second: its centre and axis in the second's axes.
    back_height = -(offset * sin(tilt) + height * cos(tilt))
    back_offset = -(offset * cos(tilt) - height * sin(tilt))
    there = displaced_loops_mutual_inductance(0.02, 0.007, height, offset, tilt)
    back = displaced_loops_mutual_inductance(0.007, 0.02, back_height, back_offset, -tilt)
    assert back == pytest.approx(there, rel=1e-11, abs=0.0)


def test_arrays_of_places_broadcast():
    grid = displaced_loops_mutual_inductance(0.02, 0.003, np.array([[0.02], [0.03]]), [0.0, 0.01, 0.02], 0.1)
    assert grid.shape == (2, 3)
    assert grid[1, 2] == pytest.approx(
        displaced_loops_mutual_inductance(0.02, 0.003, 0.03, 0.02, 0.1), rel=1e-12, abs=0.0
    )


def test_touching_loops_are_refused():
    with pytest.raises(AccuracyError, match=r"height 0 m, offset 0\.01 m, tilt 0 rad.*nearly touch"):
        displaced_loops_mutual_inductance(0.02, 0.0100001, 0.0, 0.01, 0.0)
