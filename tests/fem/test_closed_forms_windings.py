"""Windings of rectangular section: identities that tie potential, flux density and inductances together."""

from math import pi

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.special import j0, j1, struve

from fem.closed_forms_loops import displaced_loops_mutual_inductance, loop_vector_potential
from fem.closed_forms_windings import (
    _near_flux_density,
    _near_potential,
    displaced_windings_mutual_inductance,
    winding_flux_density,
    winding_mutual_inductance,
    winding_self_inductance,
    winding_vector_potential,
)
from fem.errors import AccuracyError
from geometries.section import WindingSection

MU0 = 4e-7 * pi
COIL = WindingSection(0.0205, 0.0235, -0.0015, 0.0015)
TAG = WindingSection(0.0012, 0.0026, -0.001, 0.001)
SOLID = WindingSection(0.0, 0.01, 0.0, 0.02)
PARTS = (
    WindingSection(0.0205, 0.0217, -0.0015, 0.0003),
    WindingSection(0.0217, 0.0235, -0.0015, 0.0003),
    WindingSection(0.0205, 0.0235, 0.0003, 0.0015),
)


def gauss(start, end, count=40):
    x, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (start + end) + 0.5 * (end - start) * x, 0.5 * (end - start) * weights


def places_about_the_coil():
    places = np.random.default_rng(7).random((2, 60))
    return 0.0195 + 0.005 * places[0], -0.0025 + 0.005 * places[1]


def test_potential_inside_against_direct_quadrature():
    r, z = 0.0213, 0.0004
    total = 0.0
    # Four rectangles, so that the logarithm sits in a corner.
    for radii in ((COIL.inner_radius, r), (r, COIL.outer_radius)):
        for heights in ((COIL.bottom, z), (z, COIL.top)):
            total += dblquad(lambda h, a: loop_vector_potential(a, h, r, z), *radii, *heights, epsabs=1e-18)[0]
    assert winding_vector_potential(COIL, 1, r, z) == pytest.approx(total / COIL.area, rel=1e-8, abs=0.0)


@pytest.mark.parametrize("part_of_one", [winding_vector_potential, winding_flux_density])
def test_a_winding_is_the_sum_of_its_parts(part_of_one):
    r, z = places_about_the_coil()
    whole = np.asarray(part_of_one(COIL, 64, r, z))
    parts = sum(np.asarray(part_of_one(part, 64 * part.area / COIL.area, r, z)) for part in PARTS)
    assert np.max(np.abs(parts - whole)) < 1e-11 * np.max(np.abs(whole))


def test_inductance_is_the_sum_over_pairs_of_parts():
    shares = [part.area / COIL.area for part in PARTS]
    pairs = (
        winding_mutual_inductance(p, 64 * share_p, q, 64 * share_q)
        for p, share_p in zip(PARTS, shares, strict=True)
        for q, share_q in zip(PARTS, shares, strict=True)
    )
    assert sum(pairs) == pytest.approx(winding_self_inductance(COIL, 64), rel=1e-12, abs=0.0)


def test_far_and_near_forms_agree_where_they_change_over():
    half = 0.0015
    for clearance in (1.4, 1.6, 4.9, 5.1):
        r, z = np.array([0.0235 + clearance * half, 0.022]), np.array([0.0005, 0.0015 + clearance * half])
        radial, axial = winding_flux_density(COIL, 1, r, z)
        near_radial, near_axial = _near_flux_density(COIL, r, z)
        size = np.hypot(near_radial, near_axial)
        assert winding_vector_potential(COIL, 1, r, z) == pytest.approx(_near_potential(COIL, r, z), rel=1e-11, abs=0.0)
        assert np.all(np.hypot(radial - near_radial, axial - near_axial) < 1e-10 * size)


def test_flux_density_is_the_curl_of_the_potential():
    r, z = places_about_the_coil()
    step = 1e-6
    radial, axial = winding_flux_density(COIL, 1, r, z)

    def flux_function(r, z):
        return r * winding_vector_potential(COIL, 1, r, z)

    size = np.max(np.hypot(radial, axial))
    across = -(flux_function(r, z + step) - flux_function(r, z - step)) / (2.0 * step * r)
    along = (flux_function(r + step, z) - flux_function(r - step, z)) / (2.0 * step * r)
    assert np.max(np.abs(across - radial)) < 1e-5 * size
    assert np.max(np.abs(along - axial)) < 1e-5 * size


def test_field_round_part_of_the_section_is_the_current_inside():
    inner, outer, bottom, top = 0.021, 0.0226, -0.0006, 0.0011
    r, r_weights = gauss(inner, outer)
    z, z_weights = gauss(bottom, top)
    along_r = winding_flux_density(COIL, 64, r, top)[0] - winding_flux_density(COIL, 64, r, bottom)[0]
    along_z = winding_flux_density(COIL, 64, inner, z)[1] - winding_flux_density(COIL, 64, outer, z)[1]
    inside = 64 * (outer - inner) * (top - bottom) / COIL.area
    assert r_weights @ along_r + z_weights @ along_z == pytest.approx(MU0 * inside, rel=1e-10, abs=0.0)


def test_edges_corners_and_axis_are_finite():
    r = np.array([0.0205, 0.0235, 0.0205, 0.0235, 0.022, 0.0])
    z = np.array([-0.0015, 0.0015, 0.0, 0.0, 0.0015, 0.0])
    radial, axial = winding_flux_density(COIL, 1, r, z)
    assert np.all(np.isfinite(radial))
    assert np.all(np.isfinite(axial))
    potential = winding_vector_potential(COIL, 1, r, z)
    nudged = winding_vector_potential(COIL, 1, np.abs(r - 1e-12), z)
    assert potential == pytest.approx(nudged, rel=1e-8, abs=1e-15)


def test_section_that_reaches_the_axis():
    # Axis field of a solid cylinder of azimuthal current: μ0 J/2 ∫ [ζ/√(a² + ζ²)] da between its ends.
    z = np.array([0.005, 0.02, 0.021])
    radial, axial = winding_flux_density(SOLID, 1, 0.0, z)
    below, above = z - SOLID.bottom, z - SOLID.top
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = [np.where(zeta == 0.0, 0.0, zeta * np.arcsinh(0.01 / np.abs(zeta))) for zeta in (below, above)]
    assert np.all(radial == 0.0)
    assert axial == pytest.approx(0.5 * MU0 * (ends[0] - ends[1]) / SOLID.area, rel=1e-11, abs=0.0)
    assert np.all(winding_vector_potential(SOLID, 1, 0.0, z) == 0.0)


@pytest.mark.parametrize("section", [COIL, TAG, WindingSection(0.01, 0.03, 0.0, 0.001)])
def test_self_inductance_is_the_flux_linkage(section):
    r, r_weights = gauss(section.inner_radius, section.outer_radius, 24)
    z, z_weights = gauss(section.bottom, section.top, 24)
    potential = winding_vector_potential(section, 300, r, z[:, None])
    linkage = 2.0 * pi * 300 / section.area * (z_weights @ (potential * r) @ r_weights)
    assert winding_self_inductance(section, 300) == pytest.approx(linkage, rel=2e-7, abs=0.0)


def test_self_inductance_is_the_field_s_energy_in_bessel_functions():
    # L = 2πμ0 N²/(h² (r2 − r1)²) ∫ P²/α⁶ (αh + e^(−αh) − 1) dα, P = ∫ x J1(x) dx (Dodd & Deeds 1968).
    edges = np.linspace(0.0, 2e5, 6001)
    x, weights = gauss(0.0, 1.0, 10)
    alpha = (edges[:-1, None] + np.diff(edges)[:, None] * x).ravel()
    weights = (np.diff(edges)[:, None] * weights).ravel()

    def moment(x):
        return 0.5 * pi * x * (j1(x) * struve(0, x) - j0(x) * struve(1, x))

    both = (moment(alpha * COIL.outer_radius) - moment(alpha * COIL.inner_radius)) ** 2
    length = COIL.winding_length
    integral = weights @ (both / alpha**6 * (alpha * length + np.expm1(-alpha * length)))
    # Beyond the last α: both → (2/π)·(…)/2 on average, that is α (r1 + r2)/π, times length/α⁵.
    integral += length * (COIL.inner_radius + COIL.outer_radius) / pi / (3.0 * edges[-1] ** 3)
    expected = 2.0 * pi * MU0 * integral / COIL.area**2
    assert winding_self_inductance(COIL, 1) == pytest.approx(expected, rel=1e-9, abs=0.0)


def test_inductance_scales_with_size_and_turns():
    large = WindingSection(*(10.0 * v for v in (0.0205, 0.0235, -0.0015, 0.0015)))
    assert winding_self_inductance(large, 7) == pytest.approx(
        490.0 * winding_self_inductance(COIL, 1), rel=1e-12, abs=0.0
    )


@pytest.mark.parametrize("height", [0.0, 0.003, 0.004, 0.0043, 0.01, 0.03])
def test_mutual_inductance_is_the_flux_linkage_of_the_second(height):
    second = TAG.raised(height)
    r, r_weights = gauss(second.inner_radius, second.outer_radius, 16)
    z, z_weights = gauss(second.bottom, second.top, 16)
    potential = winding_vector_potential(COIL, 64, r, z[:, None])
    linkage = 2.0 * pi * 300 / second.area * (z_weights @ (potential * r) @ r_weights)
    there = winding_mutual_inductance(COIL, 64, second, 300)
    assert there == pytest.approx(linkage, rel=1e-10, abs=0.0)
    assert winding_mutual_inductance(second, 300, COIL, 64) == pytest.approx(there, rel=1e-12, abs=0.0)


def test_displaced_windings_come_back_to_one_axis():
    apart = displaced_windings_mutual_inductance(COIL, 64, TAG, 300, 0.025, 0.0, 0.0)
    assert apart == pytest.approx(winding_mutual_inductance(COIL, 64, TAG.raised(0.025), 300), rel=1e-10, abs=0.0)


def test_displaced_thin_windings_are_loops():
    thin = WindingSection(0.003 - 1e-7, 0.003 + 1e-7, -1e-7, 1e-7)
    filament = WindingSection(0.02 - 1e-7, 0.02 + 1e-7, 0.001 - 1e-7, 0.001 + 1e-7)
    there = displaced_windings_mutual_inductance(filament, 2, thin, 3, 0.025, 0.012, 0.5)
    assert there == pytest.approx(
        6 * displaced_loops_mutual_inductance(0.02, 0.003, 0.024, 0.012, 0.5), rel=1e-8, abs=0.0
    )


def test_displaced_winding_is_placed_by_its_own_origin():
    # Turned right over, a winding that sits above its origin lies below it, its sense reversed.
    raised = TAG.raised(0.004)
    over = displaced_windings_mutual_inductance(COIL, 64, raised, 300, 0.025, 0.0, pi)
    assert over == pytest.approx(-winding_mutual_inductance(COIL, 64, TAG.raised(0.021), 300), rel=1e-9, abs=0.0)


def test_windings_that_cross_are_refused():
    with pytest.raises(AccuracyError, match="nearly touch"):
        displaced_windings_mutual_inductance(COIL, 1, WindingSection(0.001, 0.003, -0.001, 0.001), 1, 0.0, 0.0211, 0.0)


def test_far_windings_are_dipoles():
    # Their moments are π times the mean square radius; the next term is 3/2 (a/d)² = 7e-4.
    far = winding_mutual_inductance(COIL, 1, TAG.raised(1.0), 1)
    squares = (0.022**2 + 0.003**2 / 12.0) * (0.0019**2 + 0.0014**2 / 12.0)
    assert far == pytest.approx(0.5 * MU0 * pi * squares, rel=1e-3, abs=0.0)
