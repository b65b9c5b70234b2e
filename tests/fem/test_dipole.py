"""The axial dipole against its closed form and a small loop."""

import numpy as np
import pytest

from fem.closed_forms import dipole_vector_potential, loop_flux_density
from fem.dipole import axial_dipole

R, Z = np.array([0.0, 0.01, 0.03, 0.05]), np.array([0.02, 0.0, -0.03, 0.07])
HEIGHT = 0.005


def test_potential_is_the_closed_form():
    assert axial_dipole(HEIGHT)(R, Z)[0] == pytest.approx(
        dipole_vector_potential(1.0, HEIGHT, R, Z), rel=1e-13, abs=0.0
    )


def test_flux_density_is_that_of_a_small_loop():
    radius = 1e-5
    radial, axial = loop_flux_density(radius, HEIGHT, R, Z)
    area = np.pi * radius**2
    _, found_radial, found_axial = axial_dipole(HEIGHT)(R, Z)
    assert found_radial == pytest.approx(radial / area, rel=1e-5, abs=0.0)
    assert found_axial == pytest.approx(axial / area, rel=1e-5, abs=0.0)


def test_field_on_the_axis():
    # μ0 m / (2π d³)
    assert axial_dipole(0.0)(np.zeros(1), np.array([0.02]))[2][0] == pytest.approx(2e-7 / 0.02**3, rel=1e-12, abs=0.0)
