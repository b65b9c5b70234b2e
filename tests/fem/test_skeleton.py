"""A cell's rings stand for every winding in it: its field outside, and by reciprocity what comes back to it."""

import numpy as np
import pytest

from fem.closed_forms import winding_flux_density, winding_mutual_inductance
from fem.coil_field import coil_field
from fem.skeleton import Skeleton, misfit, skeleton
from fem.sources import unit_ring
from geometries.section import WindingSection

CELL = WindingSection(0.008, 0.032, -0.013, -0.005)
SHEET = ((0.0, -0.004), (0.075, -0.004))
PAN = (((0.0, -0.040), (0.08, -0.040)), ((0.08, -0.040), (0.08, -0.038)), ((0.08, -0.038), (0.0, -0.038)))
BOX = (((0.0, 0.0), (0.05, 0.0)), ((0.05, 0.0), (0.05, 0.1)), ((0.05, 0.1), (0.0, 0.1)))
WINDINGS = {
    "like the cell": CELL,
    "slim at the top outside": WindingSection(0.0315, 0.032, -0.0055, -0.005),
    "slim at the top inside": WindingSection(0.008, 0.0083, -0.009, -0.005),
    "thick in the middle": WindingSection(0.015, 0.025, -0.011, -0.007),
    "flat at the bottom": WindingSection(0.010, 0.030, -0.013, -0.0125),
}


@pytest.fixture(scope="module")
def one() -> Skeleton:
    return skeleton(CELL, (SHEET, *PAN, *BOX))


def of_rings(one: Skeleton, weights: np.ndarray, r: np.ndarray, z: np.ndarray) -> list[np.ndarray]:
    """A, B_r and B_z of the weighted rings."""
    return [part @ weights for part in unit_ring(*one.rings, r[:, None], z[:, None])]


@pytest.mark.parametrize("name", WINDINGS)
def test_the_rings_make_the_winding_s_field_on_all_that_surrounds(one, name):
    weights = one.weights(WINDINGS[name])
    r = np.linspace(0.0011, 0.0747, 90)  # none of them a check point
    for height, reach in ((-0.004, 0.075), (-0.038, 0.08), (-0.039, 0.08), (0.0, 0.05), (0.04, 0.05)):
        at = r[r < reach]
        places = at, np.full(at.size, height)
        found, true = of_rings(one, weights, *places), coil_field(WINDINGS[name])(*places)
        assert np.abs(found[0] - true[0]).max() < 1e-5 * np.abs(true[0]).max(), height
        # What is left of the potential turns over from check point to check point, 0.35 mm at the nearest: its slope
        # weighs 2π/0.7 mm, some 100 times what A/r does.
        for part, expected in zip(found[1:], true[1:], strict=True):
            assert np.abs(part - expected).max() < 1e-3 * np.abs(expected).max(), height


@pytest.mark.parametrize("name", WINDINGS)
def test_misfit_says_how_far_the_potential_is_off(one, name):
    stated = misfit(one, (WINDINGS[name],))
    r = np.linspace(0.002, 0.07, 37)
    places = r, np.full(r.size, -0.004)
    found, true = of_rings(one, one.weights(WINDINGS[name]), *places)[0], coil_field(WINDINGS[name])(*places)[0]
    assert np.abs(found / true - 1.0).max() <= 3.0 * stated
    assert stated < 1e-5


def test_misfit_is_the_largest_of_its_windings(one):
    several = tuple(WINDINGS.values())
    assert misfit(one, several) == max(misfit(one, (each,)) for each in several)


def test_far_away_the_rings_have_the_winding_s_moment(one):
    # On the axis above the box, where no check point lies.
    height = np.array([0.3])
    winding = WINDINGS["thick in the middle"]
    _, _, axial = unit_ring(*one.rings, np.array([1e-6])[:, None], height[:, None])
    true = winding_flux_density(winding, 1.0, np.zeros(1), height)[1]
    assert axial @ one.weights(winding) == pytest.approx(true, rel=1e-4, abs=0.0)


def test_currents_at_the_check_points_link_a_winding_as_given(one):
    # Linkages such as a coil outside the cell causes: its flux through each ring.
    outside = WindingSection(0.05, 0.06, 0.02, 0.03)
    potential = coil_field(outside)(*one.rings)[0]
    linkages = 2.0 * np.pi * one.rings[0] * potential * (1.0 + 0.5j)
    currents = one.answer_currents(linkages)
    for name in ("thick in the middle", "flat at the bottom"):
        section = WINDINGS[name]
        expected = winding_mutual_inductance(section, 1.0, outside, 1.0)
        assert one.weights(section) @ linkages == pytest.approx(expected * (1.0 + 0.5j), rel=1e-5, abs=0.0)
        r, z = np.array([section.mean_radius, section.inner_radius + 1e-3]), np.full(2, section.mid_height)
        fields = [part @ currents for part in unit_ring(*one.checks, r[:, None], z[:, None])]
        for found, true in zip(fields, coil_field(outside)(r, z), strict=True):
            assert found == pytest.approx(true * (1.0 + 0.5j), rel=1e-3, abs=0.0)


def test_rings_lie_on_the_cell_s_edge_and_checks_on_the_lines(one):
    r, z = one.rings
    on_edge = np.isclose(r, CELL.inner_radius) | np.isclose(r, CELL.outer_radius)
    assert np.all(on_edge | np.isclose(z, CELL.bottom) | np.isclose(z, CELL.top))
    heights = {float(round(height, 6)) for height in one.checks[1]}
    assert {-0.004, -0.04, -0.038, 0.0, 0.1} <= heights
    assert one.checks[0].min() > 0.0


def test_near_surroundings_ask_for_more_rings():
    # Half as far off: no more than twice as many points.
    close = skeleton(CELL, (((0.0, -0.0045), (0.075, -0.0045)), *PAN, *BOX))
    far = skeleton(CELL, (((0.0, -0.001), (0.075, -0.001)), *PAN, *BOX))
    assert far.rings.shape[1] < close.rings.shape[1] < 300


def test_the_same_cell_gives_the_same_weights_bit_for_bit(one):
    again = skeleton(CELL, (SHEET, *PAN, *BOX))
    first = one.weights(WINDINGS["thick in the middle"])
    again.weights(WINDINGS["like the cell"])
    assert np.array_equal(again.weights(WINDINGS["thick in the middle"]), first)
