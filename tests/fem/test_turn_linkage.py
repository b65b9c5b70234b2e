"""The turn that links the most, against rings of wire, and against a finer grid."""

from math import pi

import numpy as np
import pytest

from fem.closed_forms_loops import loop_mutual_inductance
from fem.closed_forms_windings import winding_self_inductance, winding_vector_potential
from fem.turn_linkage import excess_turn_linkage, greatest_turn_share
from geometries.section import WindingSection

COIL = WindingSection(20.5e-3, 23.5e-3, -1.5e-3, 1.5e-3)
FLAT = WindingSection(5e-3, 30e-3, -0.5e-3, 0.5e-3)
LONG = WindingSection(10e-3, 11e-3, -30e-3, 30e-3)


def in_air(section: WindingSection) -> float:
    return greatest_turn_share(section, winding_self_inductance(section, 1.0))


def rings_ratio(section: WindingSection, radial: int, axial: int) -> float:
    """Largest over mean linkage of so many equal turns, each a ring; a ring links itself as a wire filling its cell."""
    build, length = section.radial_build / radial, section.winding_length / axial
    r = section.inner_radius + build * (np.arange(radial) + 0.5)
    z = section.bottom + length * (np.arange(axial) + 0.5)
    radii, heights = (grid.ravel() for grid in np.meshgrid(r, z, indexing="ij"))
    apart = np.abs(heights[:, None] - heights[None, :])
    np.fill_diagonal(apart, 0.2235 * (build + length))  # geometric mean distance of a cell with itself
    linkages = loop_mutual_inductance(radii[:, None], radii[None, :], apart).sum(axis=1)
    return float(linkages.max() / linkages.mean())


@pytest.mark.parametrize(("section", "radial", "axial"), [(COIL, 12, 12), (FLAT, 50, 2), (LONG, 2, 100)])
def test_it_is_that_of_rings_of_wire(section: WindingSection, radial: int, axial: int) -> None:
    """Rings sum what the closed form integrates: the same within the cell's size over the winding's."""
    assert in_air(section) == pytest.approx(rings_ratio(section, radial, axial), rel=0.01, abs=0.0)


@pytest.mark.parametrize("section", [COIL, FLAT, LONG])
def test_a_finer_grid_finds_no_more_than_a_hundredth(section: WindingSection) -> None:
    r, z = np.meshgrid(
        np.linspace(section.inner_radius, section.outer_radius, 25), np.linspace(section.bottom, section.top, 25)
    )
    finest = (2.0 * pi * r * winding_vector_potential(section, 1.0, r, z)).max() / winding_self_inductance(section, 1.0)
    assert 1.0 < in_air(section) <= finest * (1.0 + 1e-9)
    assert in_air(section) == pytest.approx(finest, rel=0.01, abs=0.0)


def test_what_lowers_every_turn_alike_leaves_them_more_uneven() -> None:
    air = winding_self_inductance(COIL, 1.0)
    installed = greatest_turn_share(COIL, 0.8 * air)
    assert installed - 1.0 == pytest.approx((in_air(COIL) - 1.0) / 0.8, rel=1e-12, abs=0.0)
    assert excess_turn_linkage(COIL) == pytest.approx((in_air(COIL) - 1.0) * air, rel=1e-9, abs=0.0)
