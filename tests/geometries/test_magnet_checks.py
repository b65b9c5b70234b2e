"""Magnets beside a tag: what they sweep, and what they may not overlap."""

from dataclasses import replace

import pytest

from geometries.magnet import Magnet
from geometries.magnet_checks import magnet_faults, swept_section
from geometries.materials import Material
from geometries.tag import ShieldCan
from tests.fem.cases import ALUMINIUM, DRUM_TAG, ROD_TAG

STUFF = Material("magnet", relative_permeability=1.1)


def bar(x: float, y: float = 0.0, z: float = 0.0, name: str = "bar") -> Magnet:
    """A bar of 2 × 2 × 6 mm with its centre at a place in millimetres."""
    return Magnet(name, STUFF, (2e-3, 2e-3, 6e-3), (x * 1e-3, y * 1e-3, z * 1e-3))


def test_extremes_and_reach() -> None:
    found = bar(5.0, 1.0, 2.0)
    assert found.low == pytest.approx((4e-3, 0.0, -1e-3), rel=1e-12, abs=1e-15)
    assert found.high == pytest.approx((6e-3, 2e-3, 5e-3), rel=1e-12, abs=1e-15)
    assert found.reach == pytest.approx((36e-6 + 4e-6 + 25e-6) ** 0.5, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("x", "y", "nearest", "farthest"),
    [(5.0, 0.0, 4.0, 37.0**0.5), (0.0, -5.0, 4.0, 37.0**0.5), (0.5, 0.0, 0.0, 3.25**0.5), (4.0, 5.0, 5.0, 61.0**0.5)],
)
def test_a_bar_sweeps_from_its_nearest_side_to_its_farthest_corner(
    x: float, y: float, nearest: float, farthest: float
) -> None:
    radii = [r for r, _ in swept_section(bar(x, y))]
    assert min(radii) == pytest.approx(nearest * 1e-3, rel=1e-9, abs=1e-12)
    assert max(radii) == pytest.approx(farthest * 1e-3, rel=1e-9, abs=0.0)


def test_bars_clear_of_the_tag_or_touching_it_are_allowed() -> None:
    assert magnet_faults((bar(5.0), bar(-5.0, name="other")), DRUM_TAG) == ()  # the flanges reach 4 mm
    assert magnet_faults((bar(0.0, z=6.0),), DRUM_TAG) == ()  # stands on the flange at 3 mm
    assert magnet_faults((bar(5.0), bar(7.0, name="other")), DRUM_TAG) == ()


@pytest.mark.parametrize(
    ("place", "words"), [(bar(4.9), "core"), (bar(0.0, 4.9), "core"), (bar(0.0, z=5.9), "core"), (bar(2.9), "winding")]
)
def test_an_overlap_with_the_tag_is_told_with_its_key(place: Magnet, words: str) -> None:
    (fault,) = magnet_faults((place,), DRUM_TAG)
    assert fault.key == "magnets.bar.place"
    assert f"overlaps the tag's {words}" in fault.message


def test_beside_a_rod_the_winding_is_met_first() -> None:
    (fault,) = magnet_faults((bar(3.1),), ROD_TAG)
    assert "overlaps the tag's winding; it must keep 2.2 mm" in fault.message
    assert magnet_faults((bar(3.3),), ROD_TAG) == ()


def test_an_overlap_with_the_can_is_told() -> None:
    can = ShieldCan(ALUMINIUM, 0.005, 1e-3, -4e-3, 4e-3)
    (fault,) = magnet_faults((bar(6.0),), replace(DRUM_TAG, shield=can))
    assert "overlaps the tag's can" in fault.message


def test_magnets_may_not_overlap_each_other() -> None:
    (fault,) = magnet_faults((bar(5.0), bar(6.5, name="other")), DRUM_TAG)
    assert fault.key == "magnets.other.place"
    assert "overlaps bar" in fault.message
