"""Sources gathered into a few loops: moments kept, fields as from all of them."""

from math import pi

import numpy as np
import pytest

from fem import gathered_loops
from fem.gathered_loops import CELLS, KEPT_AS_THEY_ARE, Loops, gathered
from fem.sources import Rings, winding_rings
from fem.volume_integral import base_field
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection

COIL = WindingSection(20e-3, 23e-3, -8e-3, -5e-3)


def magnetised_disc() -> Rings:
    """A disc 60 mm wide and 6 mm thick under the coil, its current and both magnetisations varying over it."""
    r, z = (a.ravel() for a in np.meshgrid(np.linspace(0.3e-3, 30e-3, 120), np.linspace(-20e-3, -14e-3, 30)))
    weight = r * 0.25e-3 * 0.2e-3
    fall = np.exp((z + 14e-3) / 2e-3)
    return Rings(
        r, z, weight, (4e3 - 1e3j) * r / 30e-3 * fall, (2e2 + 1e2j) * r / 30e-3 * fall, 3e2 * np.cos(40.0 * r) * fall
    )  # fmt: skip


def test_current_and_moment_are_kept_to_rounding() -> None:
    disc = magnetised_disc()
    loops = gathered((disc,))
    assert loops.radius.size < disc.radius.size / 10
    assert loops.moment == pytest.approx(disc.moment, rel=1e-12, abs=0.0)
    alone = Rings(disc.radius, disc.height, disc.weight, disc.current, 0.0 * disc.radial, 0.0 * disc.axial)
    total = complex((alone.weight / alone.radius) @ alone.current)
    assert complex(gathered((alone,)).current.sum()) == pytest.approx(total, rel=1e-12, abs=0.0)


def one_kind(part: str) -> Rings:
    disc = magnetised_disc()
    parts = {name: getattr(disc, name) * (name == part) for name in ("current", "radial", "axial")}
    return Rings(disc.radius, disc.height, disc.weight, **parts)


@pytest.mark.parametrize("part", ["current", "radial", "axial"])
def test_the_field_of_each_kind_of_source_is_off_by_the_square_of_side_over_distance(part: str) -> None:
    alone = one_kind(part)
    r = np.array([2e-3, 15e-3, 40e-3, 60e-3, 5e-3])
    z = np.array([-2e-3, 0.0, -17e-3, 30e-3, -40e-3])
    distance = np.array([12e-3, 14e-3, 10e-3, np.hypot(30e-3, 44e-3), 20e-3])
    _, *expected = base_field((alone,), r, z)
    scale = np.sqrt(np.abs(expected[0]) ** 2 + np.abs(expected[1]) ** 2)
    bound = 1.5 * (30e-3 / CELLS / distance) ** 2
    assert bound.max() < 0.025
    for found, wanted in zip(gathered((alone,)).flux_density(r, z), expected, strict=True):
        assert np.all(np.abs(found - wanted) < bound * scale)


def test_twice_as_many_cells_are_four_times_as_good(monkeypatch: pytest.MonkeyPatch) -> None:
    alone, axis = one_kind("axial"), np.array([-2e-3, 10e-3])
    exact = alone.axial_flux_density(axis)
    errors = []
    for cells in (12, 24, 48):
        monkeypatch.setattr(gathered_loops, "CELLS", cells)
        found = gathered((alone,)).flux_density(np.full(2, 1e-9), axis)[1]
        errors.append(np.abs(found / exact - 1.0))
    assert np.all(errors[0] > 3.5 * errors[1])
    assert np.all(errors[1] > 3.5 * errors[2])


def test_a_thin_layer_has_one_row_of_loops() -> None:
    r = np.linspace(1e-3, 50e-3, 400)
    layer = Rings(r, np.full_like(r, -3e-3), r * 1e-4, 50.0 * r + 0j, 0j * r, 1e-2 + 0j * r)
    loops = gathered((layer,))
    assert np.all(loops.height == -3e-3)
    assert loops.moment == pytest.approx(layer.moment, rel=1e-12, abs=0.0)


def test_the_winding_and_many_cases() -> None:
    winding = winding_rings(COIL)
    assert np.array_equal(gathered((winding,)).radius, winding.radius)
    assert winding.radius.size < KEPT_AS_THEY_ARE
    both = Rings(*(getattr(winding, n) for n in ("radius", "height", "weight")), *(
        np.stack([getattr(winding, n), 2.0 * getattr(winding, n)], axis=1) for n in ("current", "radial", "axial")
    ))  # fmt: skip
    one = gathered((both,)).combined(np.array([1.0, 0.5]))
    assert one.moment == pytest.approx(2.0 * winding.moment, rel=1e-12, abs=0.0)


def test_a_loop_on_its_axis_in_closed_form() -> None:
    """μ0 a²/(2 (a² + d²)^(3/2)), Smythe's textbook form of Biot and Savart's law, from memory."""
    loop = Loops(np.array([30e-3]), np.array([-5e-3]), np.array([1.0 + 1.0j]), np.zeros(1))
    d = np.array([1e-3, 20e-3, 100e-3])
    expected = np.sqrt(2.0) * MAGNETIC_CONSTANT * 30e-3**2 / (2.0 * (30e-3**2 + d**2) ** 1.5)
    assert loop.size(np.full(3, 1e-9), d - 5e-3) == pytest.approx(expected, rel=1e-6, abs=0.0)
    assert loop.moment == pytest.approx(pi * 30e-3**2 * (1.0 + 1.0j), rel=1e-12, abs=0.0)


def test_places_right_beside_a_gathered_body_are_told_apart() -> None:
    loops, side = gathered((magnetised_disc(), winding_rings(COIL))), 30e-3 / CELLS
    r, z = np.full(3, 14.8e-3), np.array([-14e-3 + side, -14e-3 + 1.6 * side, -8e-3])
    assert loops.blurred(r, z).tolist() == [True, False, False]
    assert not loops.blurred(np.array([20.1e-3]), np.array([-6e-3]))[0]  # in the winding, which is as it was


def test_a_body_of_current_alone_is_good_to_two_per_cent_where_it_is_no_longer_blurred() -> None:
    """Half as far off as a magnetised one, the field of all rings as the truth."""
    alone, side = one_kind("current"), 30e-3 / CELLS
    loops, r = gathered((alone,)), np.linspace(1e-3, 29e-3, 60)
    z = np.full(r.size, -14e-3 + 0.76 * side)
    assert not loops.blurred(r, z).any()
    assert loops.blurred(r, z - 0.06 * side).any()
    _, *expected = base_field((alone,), r, z)
    scale = np.sqrt(np.abs(expected[0]) ** 2 + np.abs(expected[1]) ** 2).max()
    for found, wanted in zip(loops.flux_density(r, z), expected, strict=True):
        assert np.abs(found - wanted).max() < 0.02 * scale
