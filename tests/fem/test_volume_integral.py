"""The whole volume integral of M against Neumann's integral, and its base field against closed forms."""

import numpy as np
import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.closed_forms import loop_flux_density, winding_flux_density, winding_vector_potential
from fem.sources import Rings, winding_rings
from fem.tag_map import axis_mutual_inductance
from fem.tag_solution import tag_solution
from fem.volume_integral import base_field, volume_mutual_inductance
from geometries.stack import Stack
from tests.fem.cases import AIR_TAG, COIL, DRUM_TAG, FREQUENCY, sheet_stack
from tests.reference.loop_integrals import neumann_mutual

R, Z = np.array([0.002, 0.011, 0.03]), np.array([0.005, 0.02, 0.001])


@pytest.mark.slow
@pytest.mark.parametrize("place", [(0.025, 0.0, 0.0), (0.02, 0.03, -0.6), (0.04, 0.01, 1.4), (0.01, 0.004, 0.2)])
def test_air_cored_tag_against_neumann_s_integral(place):
    tag = tag_solution(AIR_TAG, FREQUENCY, 1e-3)
    found = volume_mutual_inductance((winding_rings(COIL),), tag, *place)
    assert found.real == pytest.approx(neumann_mutual(COIL, AIR_TAG.section, *place), rel=1e-6, abs=0.0)


def test_drum_on_the_axis_is_what_the_moments_say():
    tag = tag_solution(DRUM_TAG, FREQUENCY, 1e-3)
    sources = base_solution(BaseProblem(sheet_stack(50.0, -0.003, 0.06), COIL, FREQUENCY, 1e-3, ())).sources
    expected = axis_mutual_inductance(sources, tag.moments, np.array([0.025]))[0]
    assert volume_mutual_inductance(sources, tag, 0.025, 0.0, 0.0) == pytest.approx(expected, rel=1e-6, abs=0.0)


def test_closer_than_the_sphere_about_the_tag():
    # A long coil through which the sphere passes, not the tag: only the integral holds there.
    close = (0.0, 0.0, 0.0)
    tag = tag_solution(AIR_TAG, FREQUENCY, 1e-3)
    coil = COIL.raised(-COIL.mid_height)
    found = volume_mutual_inductance((winding_rings(coil),), tag, *close)
    assert found.real == pytest.approx(neumann_mutual(coil, AIR_TAG.section, *close), rel=1e-6, abs=0.0)


def test_base_field_of_a_winding():
    found = base_field((winding_rings(COIL),), R, Z)
    radial, axial = winding_flux_density(COIL, 1.0, R, Z)
    for part, expected in zip(found, (winding_vector_potential(COIL, 1.0, R, Z), radial, axial), strict=True):
        assert part == pytest.approx(expected + 0j, rel=1e-7, abs=1e-15)


@pytest.mark.parametrize(("radial", "axial"), [(1.0, 0.0), (0.0, 1.0)])
def test_base_field_of_magnetisation_is_that_of_two_loops(radial, axial):
    none = np.zeros(1, dtype=complex)
    rings = Rings(np.array([0.01]), np.array([-0.002]), np.ones(1), none, none + radial, none + axial)
    step = 1e-5
    # curl M: a loop outside less one inside, or one below less one above.
    first, second = ((0.0, -step / 2), (0.0, step / 2)) if radial else ((step / 2, 0.0), (-step / 2, 0.0))
    fields = [loop_flux_density(0.01 + dr, -0.002 + dz, R, Z) for dr, dz in (first, second)]
    _, b_r, b_z = base_field((rings,), R, Z)
    for found, part in ((b_r, 0), (b_z, 1)):
        expected = (fields[0][part] - fields[1][part]) / (0.01 * step)
        assert found == pytest.approx(expected + 0j, rel=1e-4, abs=0.0)


def test_nothing_but_the_base_s_sources_counts():
    tag = tag_solution(AIR_TAG, FREQUENCY, 1e-3)
    alone = base_solution(BaseProblem(Stack(), COIL, FREQUENCY, 1e-3, ())).sources
    place = (0.03, 0.01, 0.2)
    twice = volume_mutual_inductance((*alone, *alone), tag, *place)
    assert twice == pytest.approx(2.0 * volume_mutual_inductance(alone, tag, *place), rel=1e-12, abs=0.0)
