"""Turns in a section: known counts, laws that hold for any section, and advice that works when it is followed."""

import re
from math import ceil, floor, pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometries.errors import GeometryError, PackingError
from geometries.materials import find_material
from geometries.packing import check_turns, fill_factor, largest_turns, packing_share, section_side_for_turns
from geometries.section import WindingSection
from geometries.wire import Wire

DIAMETERS = st.floats(0.05e-3, 1.0e-3)
SIDES = st.floats(0.5, 40.0)  # in wire diameters


def section(build: float, length: float) -> WindingSection:
    # Symmetric about 0, and starting from 0, so that the sides are exact.
    return WindingSection(0.0, build, -0.5 * length, 0.5 * length)


def wire(overall_diameter: float) -> Wire:
    return Wire(find_material("copper"), 0.8 * overall_diameter, overall_diameter)


def packs(build: float, length: float, diameter: float, turns: int) -> bool:
    """Whether circles laid in the best square or staggered rows by brute force reach ``turns``."""
    slack = 1.0 + 1e-8

    def rows(across: float, along: float, step: float, shift: float) -> int:
        count, position, row = 0, 0.5 * diameter, 0
        while position + 0.5 * diameter <= across * slack:
            count += max(0, floor((along * slack - shift * (row % 2)) / diameter))
            position, row = position + step, row + 1
        return count

    return turns <= max(
        rows(build, length, diameter, 0.0),
        rows(build, length, 0.5 * sqrt(3.0) * diameter, 0.5 * diameter),
        rows(length, build, 0.5 * sqrt(3.0) * diameter, 0.5 * diameter),
    )


def test_90_turns_of_a_third_of_a_millimetre_fit_3_by_3_and_105_do_not() -> None:
    check_turns(section(3e-3, 3e-3), 90, wire(0.30e-3))
    with pytest.raises(PackingError):
        check_turns(section(3e-3, 3e-3), 105, wire(0.30e-3))


def test_known_counts() -> None:
    assert largest_turns(section(3e-3, 3e-3), 0.3e-3) == 95  # 0.95 of 10 x 10
    assert largest_turns(section(0.3e-3, 3e-3), 0.3e-3) == 9  # one layer: a helix of N turns is N + 1 wires wide
    assert largest_turns(section(0.3e-3, 0.3e-3), 0.3e-3) == 1
    assert largest_turns(section(0.29e-3, 30e-3), 0.3e-3) == 0
    # Not two wires wide and not enough for staggering: one layer, however much area there is.
    assert largest_turns(section(1.4 * 0.3e-3, 3e-3), 0.3e-3) == 10


def test_sides_that_are_not_exact_in_binary_lose_no_wire() -> None:
    one_wire_deep = WindingSection(9.7e-3, 10e-3, -9e-3, -6e-3)
    assert one_wire_deep.radial_build < 0.3e-3  # by rounding alone
    assert largest_turns(one_wire_deep, 0.3e-3) == 9


def test_fill_counts_round_wire_with_its_covering() -> None:
    assert packing_share(section(3e-3, 3e-3), 90, 0.3e-3) == pytest.approx(0.9, rel=1e-12, abs=0.0)
    assert fill_factor(section(3e-3, 3e-3), 100, 0.3e-3) == pytest.approx(pi / 4, rel=1e-12, abs=0.0)


@given(width=SIDES, length=SIDES, diameter=DIAMETERS)
def test_what_is_said_to_fit_can_be_laid_out(width: float, length: float, diameter: float) -> None:
    build, height = width * diameter, length * diameter
    most = largest_turns(section(build, height), diameter)
    assert packs(build, height, diameter, most)
    assert most <= max(1.0, 0.95 * width * length * (1 + 1e-6))
    assert (most == 0) == (min(width, length) * (1 + 1e-9) < 1.0)


@given(width=SIDES, length=SIDES, diameter=DIAMETERS, more=st.floats(1.0, 2.0))
def test_more_room_never_holds_less(width: float, length: float, diameter: float, more: float) -> None:
    small = largest_turns(section(width * diameter, length * diameter), diameter)
    assert largest_turns(section(more * width * diameter, length * diameter), diameter) >= small
    assert largest_turns(section(width * diameter, more * length * diameter), diameter) >= small
    assert largest_turns(section(width * diameter, length * diameter), diameter / more) >= small


@given(width=SIDES, length=SIDES, diameter=DIAMETERS)
def test_build_and_length_may_change_places(width: float, length: float, diameter: float) -> None:
    one = largest_turns(section(width * diameter, length * diameter), diameter)
    assert one == largest_turns(section(length * diameter, width * diameter), diameter)


@given(turns=st.integers(1, 2000), diameter=DIAMETERS)
def test_a_section_made_for_its_turns_holds_them_with_room_to_spare(turns: int, diameter: float) -> None:
    side = section_side_for_turns(turns, diameter)
    check_turns(section(side, side), turns, wire(diameter))
    assert packing_share(section(side, side), turns, diameter) <= 0.8 * (1 + 1e-9)
    assert side <= 1.35 * diameter * ceil(sqrt(turns))


@given(turns=st.integers(2, 500), width=st.floats(1.0, 12.0), length=st.floats(1.0, 12.0), diameter=DIAMETERS)
def test_the_advice_of_the_error_works(turns: int, width: float, length: float, diameter: float) -> None:
    build, height = width * diameter, length * diameter
    if turns <= largest_turns(section(build, height), diameter):
        return
    with pytest.raises(PackingError) as caught:
        check_turns(section(build, height), turns, wire(diameter), "tag.turns")
    found = re.search(r"need about (\S+) × (\S+) mm, or wire of at most (\S+) mm", caught.value.message)
    assert found is not None
    advised_build, advised_height, advised_wire = (float(text) * 1e-3 for text in found.groups())
    check_turns(section(advised_build, advised_height), turns, wire(diameter))
    if advised_wire > 0.0:
        check_turns(section(build, height), turns, wire(advised_wire))


def test_the_error_says_how_many_fit_and_what_would_do() -> None:
    with pytest.raises(PackingError) as caught:
        check_turns(section(3e-3, 3e-3), 105, wire(0.30e-3))
    assert caught.value.key == "base_coil.turns"
    assert caught.value.message == (
        "105 turns of wire 0.3 mm over its covering do not fit the section of 3 × 3 mm; it holds 95. "
        "They need about 3.16 × 3.16 mm, or wire of at most 0.285 mm over its covering"
    )


def test_a_wire_without_thickness_is_refused() -> None:
    with pytest.raises(GeometryError, match="overall_diameter: a wire of 0 m cannot be wound"):
        largest_turns(section(3e-3, 3e-3), 0.0)
    with pytest.raises(GeometryError, match="both must be above 0"):
        section_side_for_turns(0, 0.3e-3)
