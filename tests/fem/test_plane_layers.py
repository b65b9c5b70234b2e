"""Plane layers against images, limits, and losses of the coil's own field."""

from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fem.closed_forms import winding_flux_density, winding_mutual_inductance, winding_vector_potential
from fem.plane_layers import (
    layered_coil_impedance_change,
    layers_factors,
    reflected_impedance,
    reflected_mutual_inductance,
    ribbon_reflection,
    sheet_reflection,
    sheet_transmission,
    transmitted_mutual_inductance,
)
from geometries.section import WindingSection

MU0 = 4e-7 * pi
FREQUENCY = 134.2e3
OMEGA = 2.0 * pi * FREQUENCY
COIL = WindingSection(0.0205, 0.0235, 0.0005, 0.0035)
IMAGE = WindingSection(0.0205, 0.0235, -0.0035, -0.0005)
TAG = WindingSection(0.0012, 0.0026, 0.024, 0.026)
TAG_BELOW = WindingSection(0.0012, 0.0026, -0.026, -0.024)
ALPHA = np.array([1.0, 20.0, 100.0, 1e3, 1e4])


def test_perfect_conductor_is_an_image_of_the_coil():
    change = reflected_mutual_inductance(COIL, 64, COIL, 64, lambda alpha: -np.ones_like(alpha) + 0j)
    assert change.real == pytest.approx(-winding_mutual_inductance(COIL, 64, IMAGE, 64), rel=1e-12, abs=0.0)
    assert change.imag == 0.0


def test_magnetic_half_space_is_a_weaker_image():
    change = layered_coil_impedance_change(COIL, 64, FREQUENCY, [(0.0, 9.0, None)])
    expected = 1j * OMEGA * 0.8 * winding_mutual_inductance(COIL, 64, IMAGE, 64)
    assert change == pytest.approx(expected, rel=1e-12, abs=0.0)


def test_lossy_magnetic_half_space_takes_power():
    assert layered_coil_impedance_change(COIL, 64, FREQUENCY, [(0.0, 9.0 - 1.0j, None)]).real > 0.0


def test_half_space_nearing_a_perfect_conductor():
    # Γ → −1 + 2α/α1: the image is a skin depth (1 − j) δ/2 further off, so that ΔR = ω × what ΔL lacks.
    change = layered_coil_impedance_change(COIL, 64, FREQUENCY, [(1e15, 1.0, None)])
    lacking = OMEGA * winding_mutual_inductance(COIL, 64, IMAGE, 64) + change.imag
    assert 0.0 < lacking < 1e-3 * abs(change.imag)
    assert change.real == pytest.approx(lacking, rel=1e-3, abs=0.0)


def test_mutual_image_of_a_tag_on_the_same_side():
    change = reflected_mutual_inductance(COIL, 64, TAG, 300, lambda alpha: -np.ones_like(alpha) + 0j)
    assert change.real == pytest.approx(-winding_mutual_inductance(IMAGE, 64, TAG, 300), rel=1e-12, abs=0.0)


def test_nothing_between_is_air():
    clear = transmitted_mutual_inductance(COIL, 64, TAG_BELOW, 300, lambda alpha: np.ones_like(alpha) + 0j)
    assert clear == pytest.approx(winding_mutual_inductance(COIL, 64, TAG_BELOW, 300), rel=1e-12, abs=0.0)
    slab = transmitted_mutual_inductance(
        COIL, 64, TAG_BELOW, 300, lambda alpha: layers_factors(alpha, FREQUENCY, [(0.0, 1.0, 0.005)])[1], 0.005
    )
    assert slab == pytest.approx(clear, rel=1e-12, abs=0.0)


def test_cutting_a_layer_in_two_changes_nothing():
    whole = layers_factors(ALPHA, FREQUENCY, [(1e6, 2.0 - 0.1j, 0.003)])
    parts = layers_factors(ALPHA, FREQUENCY, [(1e6, 2.0 - 0.1j, 0.001), (1e6, 2.0 - 0.1j, 0.002)])
    assert parts[0] == pytest.approx(whole[0], rel=1e-12, abs=0.0)
    assert parts[1] == pytest.approx(whole[1], rel=1e-12, abs=0.0)


def test_thick_layer_is_a_half_space():
    thick = layers_factors(ALPHA, FREQUENCY, [(1e7, 1.0, 0.01)])
    endless = layers_factors(ALPHA, FREQUENCY, [(1e7, 1.0, None)])
    assert thick[0] == pytest.approx(endless[0], rel=1e-12, abs=0.0)
    assert np.all(endless[1] == 0.0)
    # ORNL-TM-1987 in words: (α μ − α1)/(α μ + α1)
    inner = np.sqrt(ALPHA**2 + 1j * OMEGA * MU0 * 1e7)
    assert endless[0] == pytest.approx((ALPHA - inner) / (ALPHA + inner), rel=1e-9, abs=0.0)


def test_thin_layer_tends_to_the_sheet_in_proportion_to_its_thickness():
    errors = []
    for thickness in (2e-6, 1e-6):
        reflection, transmission = layers_factors(ALPHA[:4], FREQUENCY, [(1.0 / thickness, 1.0, thickness)])
        through = transmission * np.exp(ALPHA[:4] * thickness)
        errors.append(np.abs(reflection / sheet_reflection(ALPHA[:4], FREQUENCY, 1.0) - 1.0))
        assert through == pytest.approx(sheet_transmission(ALPHA[:4], FREQUENCY, 1.0), rel=1e-3, abs=0.0)
    assert np.all(errors[1] < 2e-3)
    assert errors[0] / errors[1] == pytest.approx(np.full(4, 2.0), rel=0.01, abs=0.0)


layer = st.tuples(
    st.sampled_from([0.0, 1e4, 1e6, 6e7]), st.sampled_from([1.0, 5.0, 100.0 - 10.0j]), st.floats(1e-5, 5e-3)
)


@settings(deadline=None, max_examples=60)
@given(st.lists(layer, min_size=1, max_size=4))
def test_layers_pass_the_same_both_ways_and_make_no_power(layers):
    reflection, forward = layers_factors(ALPHA, FREQUENCY, layers)
    backward = layers_factors(ALPHA, FREQUENCY, layers[::-1])[1]
    assert np.all(np.abs(forward - backward) <= 1e-9 * np.abs(backward) + 1e-300)
    # ΔR = −ω Im ΔM ≥ 0.
    assert np.all(reflection.imag <= 1e-12 * np.abs(reflection))


def test_weak_sheet_takes_the_loss_of_the_coil_s_own_field():
    conductance = 1e-5
    r, weights = radial_rule()
    potential = winding_vector_potential(COIL, 64, r, 0.0)
    loss = np.sum(weights * conductance * np.abs(OMEGA * potential) ** 2 * 2.0 * pi * r)
    change = reflected_impedance(COIL, 64, FREQUENCY, lambda alpha: sheet_reflection(alpha, FREQUENCY, conductance))
    assert change.real == pytest.approx(loss, rel=1e-4, abs=0.0)


def test_weak_ribbons_take_the_loss_of_the_coil_s_own_normal_field():
    conductance, width, pitch = 1e-3, 2.5e-3, 4e-3
    r, weights = radial_rule()
    normal = winding_flux_density(COIL, 64, r, 0.0)[1]
    per_area = OMEGA**2 * conductance * width**3 * normal**2 / (24.0 * pitch)
    loss = 2.0 * np.sum(weights * per_area * 2.0 * pi * r)  # R = 2P/|I|²
    change = reflected_impedance(
        COIL, 64, FREQUENCY, lambda alpha: ribbon_reflection(alpha, FREQUENCY, conductance, width, pitch)
    )
    assert change.real == pytest.approx(loss, rel=1e-3, abs=0.0)


def radial_rule():
    """Nodes and weights for r from 0 to 10 m, fine about the coil."""
    edges = np.concatenate((np.linspace(0.0, 0.06, 61), np.geomspace(0.06, 10.0, 40)[1:]))
    x, weights = np.polynomial.legendre.leggauss(8)
    widths = np.diff(edges)[:, None]
    return (edges[:-1, None] + 0.5 * widths * (x + 1.0)).ravel(), (0.5 * widths * weights).ravel()


def test_ribbons_screen_themselves():
    def factor(conductance):
        return ribbon_reflection(np.array([50.0]), FREQUENCY, conductance, 2.5e-3, 4e-3)[0] / conductance

    # X = 2: the screening factor 1/(1 + jcX) of a half-filled layer.
    filled = 2.5 / 4.0
    x = 2.0
    c = 0.119 - 0.0455 * filled**2 - 0.0155 * filled**6
    weak, strong = factor(1e-9), factor(x / (OMEGA * MU0 * 2.5e-3))
    q = 1j * x * (2.5e-3) ** 2 * 50.0 / (24.0 * 4e-3) / (1.0 + 1j * c * x)
    assert strong / weak * (1.0 + q) == pytest.approx(1.0 / (1.0 + 1j * c * x), rel=1e-6, abs=0.0)


def test_coil_below_is_the_mirror_of_the_coil_above():
    layers = [(1e6, 1.0, 0.002), (0.0, 50.0, None)]
    above = layered_coil_impedance_change(COIL, 64, FREQUENCY, layers)
    assert layered_coil_impedance_change(IMAGE, 64, FREQUENCY, layers) == pytest.approx(above, rel=1e-14, abs=0.0)


def test_close_clearance_is_still_an_image():
    close, image = WindingSection(0.02, 0.03, 1e-5, 0.001), WindingSection(0.02, 0.03, -0.001, -1e-5)
    change = reflected_mutual_inductance(close, 1, close, 1, lambda alpha: -np.ones_like(alpha) + 0j)
    assert change.real == pytest.approx(-winding_mutual_inductance(close, 1, image, 1), rel=1e-10, abs=0.0)


def test_faults_are_named():
    with pytest.raises(ValueError, match="touches or crosses the surface"):
        layered_coil_impedance_change(WindingSection(0.02, 0.03, 0.0, 0.001), 1, FREQUENCY, [(1e6, 1.0, None)])
    with pytest.raises(ValueError, match="must be the last"):
        layered_coil_impedance_change(COIL, 1, FREQUENCY, [(1e6, 1.0, None), (1e6, 1.0, 0.001)])
    with pytest.raises(ValueError, match="different sides"):
        reflected_mutual_inductance(COIL, 1, TAG_BELOW, 1, lambda alpha: 0j * alpha)
    with pytest.raises(ValueError, match="one winding must lie above the layers"):
        transmitted_mutual_inductance(COIL, 1, TAG, 1, lambda alpha: 1.0 + 0j * alpha)
    with pytest.raises(ValueError, match="touches or crosses"):
        transmitted_mutual_inductance(COIL, 1, TAG_BELOW, 1, lambda alpha: 1.0 + 0j * alpha, 0.025)
