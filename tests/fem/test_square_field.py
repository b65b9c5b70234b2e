"""The field over a winding's own section, against the closed forms and against integrals over far more points."""

from math import pi

import numpy as np
import pytest

from fem.closed_forms import winding_flux_density
from fem.coil_family import SQUARE_ERROR
from fem.graded_rules import graded_rule
from fem.square_field import own_flux_density, square_lengths
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection
from tests.fem.cases import COIL

SECTIONS = {
    "square": COIL,
    "slim and long": WindingSection(0.0215, 0.0225, -0.0109, -0.0050),
    "flat": WindingSection(0.0301, 0.0376, -0.0050, -0.0045),
    "one layer": WindingSection(0.0315, 0.0318, -0.0200, -0.0050),
    "near the axis": WindingSection(0.0040, 0.0160, -0.0080, -0.0050),
    "small": WindingSection(0.0070, 0.0078, -0.0090, -0.0050),
}


def nothing_added(r, z):
    return np.zeros(r.shape, dtype=complex), np.zeros(r.shape, dtype=complex)


@pytest.mark.parametrize("name", SECTIONS)
def test_own_field_is_that_of_the_closed_form(name):
    section = SECTIONS[name]
    x = np.array([0.03, 0.31, 0.64, 0.97])
    r, z = (grid.ravel() for grid in np.meshgrid(
        section.inner_radius + section.radial_build * x, section.bottom + section.winding_length * x
    ))  # fmt: skip
    found, expected = own_flux_density(section, r, z), winding_flux_density(section, 1.0, r, z)
    largest = np.hypot(*expected).max()
    allowed = 4e-3 if name == "one layer" else 2e-3  # as its docstring says of single places
    for own, closed in zip(found, expected, strict=True):
        assert np.abs(own - closed).max() < allowed * largest
        # What the points leave changes its sign from place to place.
        assert abs((own - closed).mean()) < 0.2 * allowed * largest


def square_by_many_points(section: WindingSection) -> float:
    """∫ |H|² 2πr dS / area in air [A²/m per A²], points crowded towards all four sides."""
    nodes, weights = graded_rule(16, 3)
    x = np.concatenate([0.5 * nodes, 1.0 - 0.5 * nodes[::-1]])
    shares = 0.5 * np.concatenate([weights, weights[::-1]])
    r, z = np.meshgrid(section.inner_radius + section.radial_build * x, section.bottom + section.winding_length * x)
    radial, axial = winding_flux_density(section, 1.0, r.ravel(), z.ravel())
    square = (radial**2 + axial**2) / MAGNETIC_CONSTANT**2
    return float((np.outer(shares, shares).ravel() * 2.0 * pi * r.ravel() * square).sum())


@pytest.mark.parametrize("name", SECTIONS)
def test_mean_square_is_that_of_many_points(name):
    own, installed = square_lengths(SECTIONS[name], nothing_added)
    assert own == pytest.approx(square_by_many_points(SECTIONS[name]), rel=0.5 * SQUARE_ERROR, abs=0.0)
    assert installed == own


def test_an_added_field_counts_with_its_phase():
    # An even axial field b over the section: ∫|H + b|² = ∫|H|² + 2 Re b ∫H_z + |b|² ∫1, 2π ∫ r dS / area = 2π r_mean.
    field = (0.3 + 0.4j) * 1e-5

    def even(r, z):
        return np.zeros(r.shape, dtype=complex), np.full(r.shape, field)

    own, plus = square_lengths(COIL, even)
    same, minus = square_lengths(COIL, lambda r, z: tuple(-part for part in even(r, z)))
    assert own == same
    added = 2.0 * pi * COIL.mean_radius * abs(field / MAGNETIC_CONSTANT) ** 2
    assert 0.5 * (plus + minus) - own == pytest.approx(added, rel=1e-10, abs=0.0)
    # Only what is in phase with the current's own field shows in the difference.
    _, imaginary = square_lengths(COIL, lambda r, z: (0.0 * r + 0j, np.full(r.shape, 4e-6j)))
    assert imaginary - own == pytest.approx(2.0 * pi * COIL.mean_radius * (4e-6 / MAGNETIC_CONSTANT) ** 2, rel=1e-10)


def test_added_radial_and_axial_fields_are_not_mixed_up():
    # Over a section symmetric top to bottom an even radial field adds nothing in first order, an axial one does.
    _, radial = square_lengths(COIL, lambda r, z: (np.full(r.shape, 1e-9 + 0j), 0.0 * r + 0j))
    own, axial = square_lengths(COIL, lambda r, z: (0.0 * r + 0j, np.full(r.shape, 1e-9 + 0j)))
    assert abs(radial - own) < 1e-3 * abs(axial - own)
