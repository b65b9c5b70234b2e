"""A winding's resistance put together from its parts."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy.special import jv

from fem.base_solution import BaseProblem, base_solution
from fem.closed_forms import winding_flux_density
from fem.winding_resistance import winding_resistance
from geometries.materials import Material
from geometries.stack import Stack
from geometries.wire import Wire
from tests.fem.cases import COIL, FREQUENCY

COPPER = Material("copper", resistivity_20=1.7241e-8, temperature_coefficient=0.00393, density=8890.0)
WIRE = Wire(COPPER, 0.25e-3, 0.30e-3)
MU0 = 4e-7 * pi
OMEGA = 2.0 * pi * FREQUENCY
FIELD_SQUARE_LENGTH = 5e5


def found(wire=WIRE, turns=64.0, frequency=FREQUENCY, square=FIELD_SQUARE_LENGTH):
    return winding_resistance(COIL, turns, wire, frequency, square)


def test_length_and_direct_current_resistance():
    length = 64.0 * 2.0 * pi * 0.022
    assert found().wire_length == pytest.approx(length, rel=1e-12, abs=0.0)
    assert found().direct_current == pytest.approx(1.7241e-8 * length / (pi * 0.125e-3**2), rel=1e-12, abs=0.0)
    assert found().conductor_mass == pytest.approx(8890.0 * length * pi * 0.125e-3**2, rel=1e-12, abs=0.0)


def test_mass_is_unknown_where_the_density_is():
    assert found(replace(WIRE, conductor=replace(COPPER, density=None))).conductor_mass is None


def test_skin_part_by_bessel_functions():
    # Z/R0 = (ka/2) J0(ka)/J1(ka), k² = −jωμ0σ.
    ka = np.sqrt(-1j * OMEGA * MU0 / 1.7241e-8) * 0.125e-3
    expected = (ka / 2.0 * jv(0, ka) / jv(1, ka)).real - 1.0
    assert found().skin == pytest.approx(found().direct_current * expected, rel=1e-9, abs=0.0)


def test_thin_wire_s_proximity_part():
    # R = 2P/|I|², P = πω²μ0²σd⁴|H|²/128 per length; the field of N turns is N times that of one, and so is the length.
    thin = replace(WIRE, diameter=0.02e-3)
    expected = pi * OMEGA**2 * MU0**2 / 1.7241e-8 * 0.02e-3**4 / 128.0 * 2.0 * 64.0**3 * FIELD_SQUARE_LENGTH
    assert found(thin).proximity == pytest.approx(expected, rel=1e-3, abs=0.0)


def test_parts_add_up_and_the_total_grows_with_heat():
    parts = found()
    assert parts.total == pytest.approx(parts.direct_current + parts.skin + parts.proximity, rel=1e-14, abs=0.0)
    hot = found(replace(WIRE, temperature=250.0))
    assert hot.direct_current / parts.direct_current == pytest.approx(1.0 + 0.00393 * 230.0, rel=1e-12, abs=0.0)
    # Eddy losses fall as the conductor gets worse.
    assert hot.proximity < parts.proximity


def test_proximity_part_of_a_coil_in_air_from_its_own_field():
    # ∫ |H|² 2πr dS / area from the closed form of the winding's field inside its section.
    x, weights = np.polynomial.legendre.leggauss(12)
    r, z = np.meshgrid(COIL.mean_radius + 0.5 * COIL.radial_build * x, COIL.mid_height + 0.5 * COIL.winding_length * x)
    radial, axial = winding_flux_density(COIL, 1.0, r.ravel(), z.ravel())
    square = (radial**2 + axial**2).reshape(r.shape) / MU0**2
    length = (np.outer(weights, weights) / 4.0 * square * 2.0 * pi * r).sum()
    solution = base_solution(BaseProblem(Stack(), COIL, FREQUENCY, 1e-4, ()))
    assert solution.field_square_length == pytest.approx(length, rel=2e-3, abs=0.0)
    assert found(square=solution.field_square_length).proximity == pytest.approx(
        found(square=length).proximity, rel=2e-3
    )
