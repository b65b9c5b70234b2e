"""A coil's field at many points at once, against the closed forms that hold everywhere."""

import numpy as np
import pytest

from fem import coil_field as module
from fem.closed_forms import winding_flux_density, winding_vector_potential
from fem.coil_field import coil_field, coil_potential
from geometries.section import WindingSection

SQUARE = WindingSection(0.0205, 0.0235, -0.008, -0.005)
LONG = WindingSection(0.0095, 0.0105, 0.0, 0.01)
FLAT = WindingSection(0.01, 0.03, -0.0015, 0.0)


def points_beside(section: WindingSection, distance: float, count: int = 60):
    """Points above and below a section, at a distance from its ends and over more than its radii [m]."""
    random = np.random.default_rng(5)
    r = random.uniform(max(1e-4, section.inner_radius - distance), section.outer_radius + distance, count)
    return r, np.where(random.random(count) < 0.5, section.top + distance, section.bottom - distance)


@pytest.mark.parametrize("section", [SQUARE, LONG, FLAT], ids=["square", "long", "flat"])
@pytest.mark.parametrize("distance", [2e-4, 7e-4, 3e-3, 1e-2, 5e-2])
def test_field_is_that_of_the_closed_forms(section, distance):
    r, z = points_beside(section, distance)
    found = coil_field(section)(r, z)
    expected = winding_vector_potential(section, 1.0, r, z), *winding_flux_density(section, 1.0, r, z)
    for one, other in zip(found, expected, strict=True):
        # 1e-8 of what the rings give, as is asked; the parts of them that cancel far away leave a tenfold of it.
        assert np.abs(one - other).max() <= 2e-7 * np.abs(other).max()


def test_points_on_the_edge_and_inside_are_allowed():
    r = np.array([SQUARE.inner_radius, SQUARE.mean_radius, SQUARE.outer_radius])
    z = np.array([SQUARE.top, SQUARE.mid_height, SQUARE.bottom])
    potential, radial, axial = coil_field(SQUARE)(r, z)
    assert potential == pytest.approx(winding_vector_potential(SQUARE, 1.0, r, z), rel=1e-12, abs=0.0)
    assert np.all(np.isfinite(radial))
    assert np.all(np.isfinite(axial))


def test_shapes_are_kept_and_places_are_remembered(monkeypatch):
    field = coil_field(SQUARE)
    r, z = np.full((3, 4), 0.03), np.linspace(0.01, 0.02, 12).reshape(3, 4)
    first = field(r, z)
    assert all(part.shape == (3, 4) for part in first)
    monkeypatch.setattr(module, "_add", None)
    assert field(r.copy(), z.copy()) is first
    with pytest.raises(TypeError):
        field(r, z + 1e-9)


def test_the_potential_alone_is_that_of_the_whole_field():
    section = WindingSection(0.02, 0.023, -0.003, 0.0)
    r, z = np.array([0.0205, 0.0215, 0.024, 0.05, 0.001]), np.array([0.0005, -0.001, 0.0, 0.02, 0.04])
    assert coil_potential(section, r, z) == pytest.approx(coil_field(section)(r, z)[0], rel=1e-13, abs=0.0)
