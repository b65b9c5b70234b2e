"""M of a candidate at its places: map, lines and single places agree, and every place asked for can be had."""

from dataclasses import replace

import numpy as np
import pytest

from geometries.errors import GeometryError
from studies.asked_places import worst_line
from studies.coupling import Coupling, coupling_of
from studies.engineering import tilt_text
from studies.specification import MapGrid, Place, Requirement
from tests.studies.conftest import Evaluator


@pytest.fixture(scope="session")
def coupling(evaluation_of: Evaluator) -> Coupling:
    found = evaluation_of()
    return coupling_of(found.candidate, found.coils)


HEIGHTS, OFFSETS, TILTS = np.array([6e-3, 12e-3, 30e-3]), np.array([0.0, 8e-3]), np.radians([0.0, 20.0, 70.0])


def test_the_axis_agrees_with_a_ring_and_a_dipole_far_away(evaluation_of: Evaluator) -> None:
    """Far above, M = B·m: the closed form of a ring's axial field times the tag's N·area.

    Nothing but glass-ceramic about, an air-core tag whose mean turn area is π(r1² + r1r2 + r2²)/3.
    """
    found = evaluation_of()
    far = coupling_of(replace(found.candidate, grid=MapGrid((0.2,), (0.0,), (0.0,))), found.coils)
    mutual = far.extremes_at(np.array([0.2]), 0.0, 0.0)[0][0]
    section = found.coils.base.section
    distance = 0.2 - section.mid_height
    field = 2e-7 * np.pi * 40 * section.mean_radius**2 / np.hypot(section.mean_radius, distance) ** 3
    area = 300 * np.pi * (2e-3**2 + 2e-3 * 4e-3 + 4e-3**2) / 3.0
    assert mutual.real == pytest.approx(field * area, rel=3e-3, abs=0.0)
    assert abs(mutual.imag) < 1e-6 * abs(mutual.real)


def test_lines_and_map_agree(coupling: Coupling) -> None:
    found = coupling.grid(HEIGHTS, OFFSETS, TILTS)
    greatest = found.greatest_mutual_inductance
    for i, offset in enumerate(OFFSETS):
        for j, tilt in enumerate(TILTS):
            least, most = coupling.extremes_at(HEIGHTS, offset, tilt)
            np.testing.assert_allclose(least, found.worst_mutual_inductance[:, i, j], rtol=1e-12)
            np.testing.assert_allclose(most, greatest[:, i, j], rtol=1e-12)


def test_least_and_greatest_enclose_every_lean(coupling: Coupling) -> None:
    """Leans in the plane of the offset are the map itself at ±tilt; both lie between the extremes."""
    outward = coupling.grid(HEIGHTS, OFFSETS, TILTS)
    inward = coupling.grid(HEIGHTS, OFFSETS, -TILTS)
    greatest = np.abs(outward.greatest_mutual_inductance)
    for found in (outward.mutual_inductance, inward.mutual_inductance):
        assert np.all(np.abs(found) <= greatest * (1.0 + 1e-12))
        assert np.all(np.abs(outward.worst_mutual_inductance) <= np.abs(found) * (1.0 + 1e-9))
    np.testing.assert_allclose(inward.worst_mutual_inductance, outward.worst_mutual_inductance, rtol=1e-6)


def test_leaning_outward_helps_off_the_axis_and_nothing_matters_on_it(coupling: Coupling) -> None:
    """DESIGN 2: at an offset above the coil a positive tilt raises M and a negative one lowers it."""
    tilts = np.radians([-20.0, 0.0, 20.0])
    found = coupling.grid(np.array([12e-3]), OFFSETS, tilts).mutual_inductance.real[0]
    assert found[1, 0] < found[1, 1] * np.cos(tilts[2]) < found[1, 2]
    assert found[0, 0] == pytest.approx(found[0, 2], rel=1e-9, abs=0.0)


def test_a_lying_tag_on_the_axis_couples_to_nothing(coupling: Coupling) -> None:
    """Common practice, no source, and exact by symmetry: at right angles on the axis nothing is picked up."""
    upright = np.abs(coupling.extremes_at(HEIGHTS, 0.0, 0.0)[0])
    least, greatest = coupling.extremes_at(HEIGHTS, 0.0, 0.5 * np.pi)
    assert np.all(np.abs(least) < 1e-9 * upright)
    assert np.all(np.abs(greatest) < 1e-9 * upright)


def test_an_upside_down_tag_has_the_sign_turned(coupling: Coupling) -> None:
    turned = coupling.grid(HEIGHTS, OFFSETS, np.array([0.0, np.pi])).mutual_inductance
    np.testing.assert_allclose(turned[..., 1], -turned[..., 0], rtol=1e-9)


def test_the_error_does_not_vanish_where_the_tag_lies_across_the_field(coupling: Coupling) -> None:
    upright, lying = coupling.error(HEIGHTS, 0.0, 0.0), coupling.error(HEIGHTS, 0.0, 0.5 * np.pi)
    assert np.all(upright > 0.0)
    assert np.all(lying >= upright)
    relative = upright / np.abs(coupling.extremes_at(HEIGHTS, 0.0, 0.0)[0])
    assert np.all(relative < 0.1)


def test_a_map_of_one_height_has_lines_above_it(evaluation_of: Evaluator) -> None:
    found = evaluation_of()
    for height in (6e-3, 0.5):
        grid, place = MapGrid((height,), (0.0,), (0.0,)), Place(height, 0.0, 0.0)
        one = replace(found.candidate, grid=grid, require=Requirement((place,)))
        assert coupling_of(one, found.coils).ceiling >= 2.0 * height


def test_what_reaches_above_the_tag_is_refused_with_both_heights(evaluation_of: Evaluator) -> None:
    found = evaluation_of()
    low = replace(found.candidate, grid=MapGrid((1e-3,), (20e-3,), (0.0,)), require=Requirement())
    rings = found.coils.base.field.sources
    raised = tuple(replace(ring, height=ring.height + 6e-3) for ring in rings)
    coils = replace(found.coils, base=replace(found.coils.base, field=replace(found.coils.base.field, sources=raised)))
    with pytest.raises(
        GeometryError, match=r"lowest place of the tag reaches down to .* mm off the axis, but a winding"
    ) as caught:
        coupling_of(low, coils)
    assert caught.value.key == "map.height"


def test_the_worst_line_takes_the_largest_offset_and_lean_required(evaluation_of: Evaluator) -> None:
    candidate = evaluation_of().candidate
    places = (Place(10e-3, 3e-3, 0.0), Place(12e-3, 1e-3, -0.3))
    assert worst_line(replace(candidate, require=Requirement(places))) == (3e-3, 0.3)
    offset, tilt = worst_line(replace(candidate, require=Requirement()))
    assert offset == pytest.approx(5e-3, rel=1e-12, abs=0.0)  # an eighth of 40 mm, the map going further
    assert tilt_text(tilt) == "20°"
