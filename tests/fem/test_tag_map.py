"""M over places, against Neumann's integral, the volume integral, two-coil solves and plain symmetry."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from fem.air_field import AirField, AirSpace, air_field
from fem.base_solution import BaseProblem, base_solution
from fem.near_metal import two_coil_mutual_inductance
from fem.refinement import refined
from fem.tag_map import (
    axis_mutual_inductance,
    least_on_path,
    mutual_inductance_at,
    tag_map,
)
from fem.tag_solution import tag_solution
from fem.volume_integral import volume_mutual_inductance
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import axis_plan
from geometries.stack import Stack
from tests.fem.cases import (
    AIR_TAG,
    COIL,
    DRUM_TAG,
    FREQUENCY,
    NICKEL_CHROMIUM,
    ROD_TAG,
    axis_problem,
    lossy,
    plate_stack,
    ribbon_stack,
    sheet_stack,
)
from tests.reference.loop_integrals import neumann_mutual

PLACES = [(0.025, 0.0, 0.0), (0.025, 0.008, 0.3), (0.020, 0.030, -0.6), (0.040, 0.010, 1.4), (0.025, 0.005, -1.5)]
SPACE = AirSpace(0.045, 0.010, 0.05)
STACKS = {"air": Stack(), "ferrite plate": plate_stack(Material("ferrite", None, 0.0, 900.0), -0.009, 2e-3, 0.03)}


def sources(stack=STACKS["air"], accuracy=1e-4):
    return base_solution(BaseProblem(stack, COIL, FREQUENCY, accuracy, (0.025,))).sources


def field(stack=STACKS["air"], tolerance=1e-8):
    return air_field(list(sources(stack)), SPACE, tolerance)


def at(series, moments, place):
    """M and the size it is measured by at one place."""
    found = tag_map(series, moments, *(np.array([x]) for x in place))
    return found.mutual_inductance[0, 0, 0], found.upright_field[0, 0]


@pytest.mark.parametrize("place", PLACES)
def test_air_cored_windings_anywhere_against_neumann_s_integral(place):
    # Coaxial, displaced and tilted: F. E. Neumann's double line integral over the filaments of both sections.
    moments = tag_solution(AIR_TAG, FREQUENCY, 1e-4).moments
    found, _ = at(field(), moments, place)
    assert found.real == pytest.approx(neumann_mutual(COIL, AIR_TAG.section, *place), rel=2e-4, abs=0.0)
    assert found.imag == 0.0


def two_coil_solve(stack, tag, height, levels):
    """The whole problem on one mesh. Its boundary lies twice as far off as usual, for the echo of the second degree is
    5e-4 of M else (tests of the boundary)."""
    plan = axis_plan(stack, COIL, tag, height, FREQUENCY)
    mesh = refined(section_mesh(replace(plan, outer_radius=2.0 * plan.outer_radius)), levels)
    return two_coil_mutual_inductance(mesh, axis_problem(stack, tag, height))


def test_air_cored_windings_by_the_elements_own_flux_linkage():
    found = two_coil_solve(Stack(), AIR_TAG, 0.025, 1)
    assert found.real == pytest.approx(neumann_mutual(COIL, AIR_TAG.section, 0.025, 0.0, 0.0), rel=2e-4, abs=0.0)


@pytest.mark.parametrize("stack", STACKS.values(), ids=STACKS)
@pytest.mark.parametrize(
    "tag", [DRUM_TAG, ROD_TAG, pytest.param(lossy(DRUM_TAG), marks=pytest.mark.slow)], ids=["drum", "rod", "lossy drum"]
)
def test_cored_tags_on_the_axis_against_a_two_coil_solve(tag, stack):
    # With a ferrite plate well below, the tag's own image stays small: 38 mm from a 30 mm plate.
    height = 0.025 if stack is STACKS["air"] else 0.045
    moments = tag_solution(tag, FREQUENCY, 1e-4).moments
    found = axis_mutual_inductance(sources(stack), moments, np.array([height]))[0]
    assert found == pytest.approx(two_coil_solve(stack, tag, height, 1), rel=1e-3, abs=0.0)
    # The dipole alone would not do.
    dipole = moments.moments[0] * sum(rings.axial_flux_density(np.array([0.025])) for rings in sources())[0]
    in_air = axis_mutual_inductance(sources(), moments, np.array([0.025]))[0]
    assert abs(dipole / in_air - 1.0) > 5e-3


def test_map_and_axis_agree_over_every_kind_of_surroundings():
    # The map samples A/r off the axis, the axis formula sums B_z on it: two ways from the same rings.
    for stack in (STACKS["ferrite plate"], sheet_stack(50.0, -0.003, 0.06), ribbon_stack(-0.003, 0.06, 2e-4)):
        moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-4).moments
        heights = np.array([0.02, 0.04])
        mapped = tag_map(field(stack), moments, heights, np.zeros(1), np.zeros(1)).mutual_inductance[:, 0, 0]
        assert mapped == pytest.approx(axis_mutual_inductance(sources(stack), moments, heights), rel=1e-6, abs=0.0)


@pytest.mark.slow
@pytest.mark.parametrize("tag", [DRUM_TAG, lossy(DRUM_TAG), ROD_TAG], ids=["drum", "lossy drum", "rod"])
@pytest.mark.parametrize("place", PLACES[1:])
def test_moments_against_the_whole_volume_integral(tag, place):
    solution = tag_solution(tag, FREQUENCY, 1e-4)
    found, size = at(field(), solution.moments, place)
    assert abs(found - volume_mutual_inductance(sources(), solution, *place)) < 1e-5 * size


def test_tag_at_right_angles_on_the_axis_picks_up_nothing():
    # Common practice, no source.
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-4).moments
    found = tag_map(field(), moments, np.array([0.025]), np.zeros(1), np.array([0.0, pi / 2])).mutual_inductance[0, 0]
    assert abs(found[1]) < 1e-6 * abs(found[0])


def test_open_ribbon_costs_next_to_nothing_where_a_closed_foil_kills():
    # Common practice, no source: a coil still reads through an open ribbon heater on mica.
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-3).moments

    def coupling(stack):
        return abs(axis_mutual_inductance(sources(stack, 1e-3), moments, np.array([0.025]))[0])

    in_air = coupling(Stack())
    heater = ribbon_stack(-0.004, 0.07)
    assert abs(coupling(heater) / in_air - 1.0) < 0.01
    for resistivity in (2.8e-8, 1.72e-8):  # aluminium, copper; 0.1 mm is half a skin depth: a meshed body
        foil = plate_stack(Material("foil", resistivity_20=resistivity), -0.004, 1e-4, 0.07)
        assert 20.0 * np.log10(in_air / coupling(foil)) > 10.0
    # Nor is it the ribbon's poor conductor that spares the coupling: closed, it costs more than a tenth of a decibel.
    closed = sheet_stack(NICKEL_CHROMIUM.conductivity(20.0) * 2e-5, -0.004, 0.07)
    assert 20.0 * np.log10(in_air / coupling(closed)) > 0.1


def test_positive_tilt_leans_outward_and_raises_m_at_an_offset():
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-3).moments
    upright, out, inward = (at(field(), moments, (0.03, 0.015, tilt))[0].real for tilt in (0.0, 0.35, -0.35))
    assert out > upright > inward > 0.0


def test_turned_over_is_the_opposite():
    # By 180° the axis is reversed; the tag is symmetric end to end but for its mesh.
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-4).moments
    upright, _ = at(field(), moments, (0.03, 0.01, 0.0))
    assert at(field(), moments, (0.03, 0.01, pi))[0] == pytest.approx(-upright, rel=1e-4, abs=0.0)


def test_scattered_places_are_the_grid():
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-3).moments
    found = mutual_inductance_at(field(), moments, *(np.array(column) for column in zip(*PLACES, strict=True)))
    expected = [at(field(), moments, place)[0] for place in PLACES]
    assert found == pytest.approx(np.array(expected), rel=1e-9, abs=0.0)


def test_grid_is_height_by_offset_by_tilt():
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-3).moments
    heights, offsets, tilts = np.array([0.02, 0.03, 0.04]), np.array([0.0, 0.01]), np.array([0.0, 0.4, -0.2, 1.0])
    found = tag_map(field(), moments, heights, offsets, tilts)
    assert found.mutual_inductance.shape == found.worst_mutual_inductance.shape == (3, 2, 4)
    assert found.upright_field.shape == (3, 2)
    assert found.mutual_inductance[2, 1, 3] == pytest.approx(
        at(field(), moments, (0.04, 0.01, 1.0))[0], rel=1e-9, abs=0.0
    )


def test_worst_lean_is_the_least_of_all_directions():
    # Leans to any side, found by brute force from the volume integral's own geometry: mirrored halves and a fine fan.
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-3).moments
    heights, tilt, offset = np.array([0.022, 0.035]), 0.5, 0.012
    line = tag_map(field(), moments, heights, np.array([offset]), np.array([tilt]))
    worst = line.worst_mutual_inductance[:, 0, 0]
    for height, least in zip(heights, worst, strict=True):
        leans = np.linspace(0.0, 2.0 * pi, 181)
        axis = np.stack([np.sin(tilt) * np.cos(leans), np.sin(tilt) * np.sin(leans), np.full(181, np.cos(tilt))])
        total = np.zeros(181, dtype=complex)
        for s, weight in zip(moments.nodes, moments.weights, strict=True):
            place = np.array([[offset], [0.0], [height]]) + s * axis
            over_radius, b_z = field().flux_density_at(np.hypot(place[0], place[1]), place[2])
            total += weight * (over_radius * (place[0] * axis[0] + place[1] * axis[1]) + b_z * axis[2])
        assert abs(least) == pytest.approx(np.abs(total).min(), rel=2e-3, abs=0.0)
        # Inward, as one would think; and the map says the same.
        assert np.argmin(np.abs(total)) == 90
    mapped = tag_map(field(), moments, heights, np.array([offset]), np.array([tilt]))
    assert mapped.worst_mutual_inductance[:, 0, 0] == pytest.approx(worst, rel=1e-12, abs=0.0)


def test_zero_crossing_between_directions_is_not_missed():
    path = np.array([3.0 + 0.0j, 1.0 + 0.0j, -2.0 + 0.0j])[:, None]
    assert least_on_path(path)[0] == pytest.approx(0.0, abs=1e-15)
    past = np.array([1.0 + 1.0j, -1.0 + 1.0j])[:, None]
    assert least_on_path(past)[0] == pytest.approx(1.0j, rel=1e-12, abs=0.0)
    assert least_on_path(np.array([2.0 + 0j, 5.0 + 0j])[:, None])[0] == pytest.approx(2.0, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("tilt", [0.0, 0.35, -0.35, pi / 2, pi])
def test_a_grid_at_once_is_the_sum_over_samples_place_by_place(tilt):
    # Upright and lying the samples share distances or heights; a lossy tag has complex weights.
    moments = tag_solution(lossy(DRUM_TAG), FREQUENCY, 1e-3).moments
    moments = replace(moments, moments=moments.moments * np.exp(0.7j))
    heights, offsets = np.linspace(0.02, 0.04, 5), np.array([0.0, 0.006, 0.03])
    found = tag_map(field(), moments, heights, offsets, np.array([tilt]))
    across = np.meshgrid(heights, offsets, [tilt], indexing="ij")
    expected = mutual_inductance_at(field(), moments, *across)
    strength = found.upright_field[..., None]
    assert np.max(np.abs(found.mutual_inductance - expected) / strength) < 1e-12


def test_a_larger_grid_asks_no_more_often_of_the_field(monkeypatch):
    moments = tag_solution(DRUM_TAG, FREQUENCY, 1e-3).moments
    asked = []
    terms = AirField._terms

    def counted(self, u, w):
        asked.append(u.size)
        return terms(self, u, w)

    monkeypatch.setattr(AirField, "_terms", counted)
    for count in (2, 20):
        grid = np.linspace(0.02, 0.04, count), np.linspace(0.0, 0.03, count)
        tag_map(field(), moments, *grid, np.array([0.0, 0.35, pi / 2]))
    assert len(asked) == 2 * (3 + 1)
