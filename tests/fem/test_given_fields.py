"""Coils' fields in the tag's axes: against closed forms, and turned the right way."""

from math import cos, radians, sin

import numpy as np
import pytest

from fem.air_field import AirField, AirSpace, air_field
from fem.closed_forms import displaced_windings_mutual_inductance, winding_flux_density, winding_vector_potential
from fem.given_fields import air_linkage, placed_base_field, winding_field
from fem.sources import winding_rings
from geometries.section import WindingSection
from tests.fem.cases import COIL, DRUM_TAG


@pytest.fixture(scope="module")
def base() -> AirField:
    return air_field([winding_rings(COIL)], AirSpace(0.03, 0.004, 0.05), 1e-8)


def test_the_windings_field_is_the_closed_form() -> None:
    section = DRUM_TAG.section
    x, y, z = np.array([[1e-3, 0.0, 5e-3], [0.5e-3, -1.4e-3, 2e-3], [2.4e-3, 0.5e-3, -1e-3]])
    potential, density = winding_field(section)(np.stack([x, y, z]))
    r = np.hypot(x, y)
    azimuthal = winding_vector_potential(section, 1.0, r, z)
    radial, axial = winding_flux_density(section, 1.0, r, z)
    np.testing.assert_allclose(potential.real, [-y / r * azimuthal, x / r * azimuthal, 0.0 * r], rtol=1e-5, atol=1e-15)
    np.testing.assert_allclose(density.real, [x / r * radial, y / r * radial, axial], rtol=1e-4, atol=1e-9)


def test_the_windings_field_holds_on_its_axis() -> None:
    """A loop's closed form, by Biot and Savart: the section as one loop is 1 % off at most that far away."""
    section = DRUM_TAG.section
    _, density = winding_field(section)(np.array([[0.0], [0.0], [0.02]]))
    loop = 2e-7 * np.pi * section.mean_radius**2 / np.hypot(section.mean_radius, 0.02) ** 3
    assert density[2, 0].real == pytest.approx(loop, rel=0.05, abs=0.0)
    assert np.abs(density[:2]).max() < 1e-6 * loop


@pytest.mark.parametrize(("height", "offset", "tilt"), [(0.015, 0.0, 0.0), (0.02, 0.012, 25.0), (0.03, 0.02, -60.0)])
def test_the_flux_through_a_displaced_winding(base: AirField, height: float, offset: float, tilt: float) -> None:
    """Against the sum over displaced loops; positive tilt leans outward."""
    found = air_linkage(DRUM_TAG.section, placed_base_field(base, height, offset, radians(tilt)))
    section = DRUM_TAG.section
    expected = displaced_windings_mutual_inductance(
        COIL, 1.0, section, 1.0, offset=offset, height=height, tilt=radians(tilt)
    )
    assert found.real == pytest.approx(expected, rel=1e-6, abs=0.0)


def test_a_tilt_leans_the_axis_outward(base: AirField) -> None:
    height, offset, tilt = 0.02, 0.01, radians(30.0)
    along = np.array([[0.0], [0.0], [1e-3]])
    _, turned = placed_base_field(base, height, offset, tilt)(along)
    place = np.array([[offset + 1e-3 * sin(tilt)], [0.0], [height + 1e-3 * cos(tilt)]])
    _, upright = placed_base_field(base, 0.0, 0.0, 0.0)(place)
    axis = np.array([sin(tilt), 0.0, cos(tilt)])
    assert turned[2, 0] == pytest.approx(axis @ upright[:, 0], rel=1e-9, abs=0.0)
    assert np.linalg.norm(turned) == pytest.approx(np.linalg.norm(upright), rel=1e-9, abs=0.0)


def test_the_potential_belongs_to_the_flux_density(base: AirField) -> None:
    """curl A = B in the tag's axes, by central differences."""
    given, step = placed_base_field(base, 0.02, 0.01, 0.4), 1e-5
    at = np.array([[1e-3], [2e-3], [-1e-3]])
    slopes = np.empty((3, 3))
    for axis in range(3):
        moved = np.zeros((3, 1))
        moved[axis] = step
        slopes[axis] = ((given(at + moved)[0] - given(at - moved)[0]) / (2.0 * step)).real[:, 0]
    curl = [slopes[1, 2] - slopes[2, 1], slopes[2, 0] - slopes[0, 2], slopes[0, 1] - slopes[1, 0]]
    np.testing.assert_allclose(curl, given(at)[1].real[:, 0], rtol=1e-5, atol=1e-12)


def test_one_turn_in_a_uniform_field() -> None:
    section = WindingSection(1e-3, 3e-3, -1e-3, 1e-3)

    def uniform(places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        x, y, z = places
        return np.stack([-0.5 * y, 0.5 * x, 0.0 * z]), np.stack([0.0 * x, 0.0 * y, 0.0 * z + 1.0])

    mean_area = np.pi * (1e-3**2 + 1e-3 * 3e-3 + 3e-3**2) / 3.0
    assert air_linkage(section, uniform).real == pytest.approx(mean_area, rel=1e-12, abs=0.0)
