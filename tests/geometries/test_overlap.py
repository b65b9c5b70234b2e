"""Overlap of outlines against rectangles worked out by hand and against points thrown at random."""

import random
from math import cos, pi, sin

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from geometries.overlap import outline_fault, outlines_overlap, shared_area, signed_area
from geometries.tag import Outline

MM = 1e-3
SQUARE: Outline = ((1 * MM, 0.0), (3 * MM, 0.0), (3 * MM, 2 * MM), (1 * MM, 2 * MM))
TROUGH: Outline = ((0.0, 0.0), (9 * MM, 0.0), (9 * MM, 5 * MM), (8 * MM, 5 * MM), (8 * MM, 1 * MM), (0.0, 1 * MM))
STEPS = st.integers(0, 12)


def rectangle(r0: float, r1: float, z0: float, z1: float) -> Outline:
    return ((r0, z0), (r1, z0), (r1, z1), (r0, z1))


@st.composite
def rectangles(draw: st.DrawFn) -> Outline:
    """On a coarse grid of odd steps, so that touching and equal sides come up often and are not exact in binary."""
    r0, z0 = draw(STEPS), draw(STEPS)
    r1, z1 = r0 + 1 + draw(STEPS), z0 + 1 + draw(STEPS)
    return rectangle(*(0.1 * MM * step for step in (r0, r1, z0, z1)))


@st.composite
def stars(draw: st.DrawFn) -> Outline:
    """Simple outlines about a centre, re-entrant mostly, of one to nine points of any radius."""
    count = draw(st.integers(3, 9))
    radii = [draw(st.floats(0.5, 4.0)) * MM for _ in range(count)]
    r0, z0 = draw(st.floats(5.0, 9.0)) * MM, draw(st.floats(-3.0, 3.0)) * MM
    corners = [(r0 + a * cos(2 * pi * i / count), z0 + a * sin(2 * pi * i / count)) for i, a in enumerate(radii)]
    return tuple(corners)


def inside(point: tuple[float, float], outline: Outline) -> bool:
    """Even-odd rule along a ray, a way of its own."""
    r, z = point
    odd = False
    for (r0, z0), (r1, z1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if (z0 > z) != (z1 > z) and r < r0 + (z - z0) * (r1 - r0) / (z1 - z0):
            odd = not odd
    return odd


@given(first=rectangles(), second=rectangles())
def test_rectangles_share_what_arithmetic_says(first: Outline, second: Outline) -> None:
    width = min(first[2][0], second[2][0]) - max(first[0][0], second[0][0])
    height = min(first[2][1], second[2][1]) - max(first[0][1], second[0][1])
    deep = width > 1e-9 and height > 1e-9  # the grid is 1e-4 m: nothing lies between touching and this
    assert outlines_overlap(first, second) == deep
    assert shared_area(first, second) == pytest.approx(max(0.0, width) * max(0.0, height), abs=1e-15)


@given(first=stars(), second=stars(), seed=st.integers(0, 2**20))
def test_shared_area_agrees_with_points_thrown_at_random(first: Outline, second: Outline, seed: int) -> None:
    thrower = random.Random(seed)
    count, side = 4000, 22 * MM
    points = [(thrower.uniform(0.0, side), thrower.uniform(-0.5 * side, 0.5 * side)) for _ in range(count)]
    hits = sum(inside(point, first) and inside(point, second) for point in points)
    share = shared_area(first, second) / side**2
    # Six standard deviations of the count, and one hit: a shared speck may be missed or met.
    assert abs(hits / count - share) <= 6.0 * (share * (1.0 - share) / count) ** 0.5 + 1.5 / count
    if hits:
        assert outlines_overlap(first, second)


@given(outline=stars(), shift=st.floats(0.0, 2.0))
def test_an_outline_lies_wholly_in_itself_and_turning_it_round_changes_nothing(outline: Outline, shift: float) -> None:
    moved = tuple((r, z + shift * MM) for r, z in outline)
    assert shared_area(outline, outline) == pytest.approx(abs(signed_area(outline)), rel=1e-9, abs=0.0)
    assert shared_area(outline, moved) == pytest.approx(shared_area(moved[::-1], outline), rel=1e-9, abs=1e-18)
    assert signed_area(outline[::-1]) == pytest.approx(-signed_area(outline), rel=1e-12, abs=0.0)


@given(outline=stars(), along=st.floats(0.1, 0.9), aside=st.floats(-1.0, 1.0))
def test_two_halves_of_one_body_touch_and_do_not_overlap(outline: Outline, along: float, aside: float) -> None:
    # Cut along a bent line from the first corner to a middle one; kept where that line stays inside the body.
    assume(len(outline) >= 4)
    half = len(outline) // 2
    (r0, z0), (r1, z1) = outline[0], outline[half]
    bend = (r0 + along * (r1 - r0) + aside * MM, z0 + along * (z1 - z0))
    one, other = (bend, *outline[: half + 1]), (bend, *outline[half:], outline[0])
    assume(outline_fault(one) is None and outline_fault(other) is None)
    assume(signed_area(one) > 0.0 and signed_area(other) > 0.0)
    assert not outlines_overlap(one, other)
    assert shared_area(one, other) == pytest.approx(0.0, abs=1e-16)


@pytest.mark.parametrize("depth", [1e-13, -1e-13, -1e-3])
def test_touching_within_a_picometre_is_allowed(depth: float) -> None:
    assert not outlines_overlap(SQUARE, rectangle(3 * MM - depth, 5 * MM, 0.0, 2 * MM))
    assert not outlines_overlap(SQUARE, rectangle(1 * MM, 3 * MM, 2 * MM - depth, 5 * MM))


@pytest.mark.parametrize("depth", [1e-11, 1e-9, 1e-3])
def test_deeper_than_a_picometre_is_not(depth: float) -> None:
    assert outlines_overlap(SQUARE, rectangle(3 * MM - depth, 5 * MM, 0.0, 2 * MM))
    assert outlines_overlap(SQUARE, rectangle(1 * MM, 3 * MM, 2 * MM - depth, 5 * MM))


def test_a_body_in_another_s_hollow_is_free_and_one_inside_is_not() -> None:
    assert not outlines_overlap(TROUGH, rectangle(0.0, 8 * MM, 1 * MM, 5 * MM))
    assert outlines_overlap(TROUGH, rectangle(8.2 * MM, 8.4 * MM, 2 * MM, 3 * MM))
    assert outlines_overlap(rectangle(8.2 * MM, 8.4 * MM, 2 * MM, 3 * MM), TROUGH)


def test_sloping_sides_that_coincide_touch() -> None:
    cone: Outline = ((0.0, 0.0), (7 * MM, 0.0), (2.9 * MM, 6.1 * MM), (0.0, 6.1 * MM))
    ring: Outline = ((7 * MM, 0.0), (9 * MM, 0.0), (9 * MM, 6.1 * MM), (2.9 * MM, 6.1 * MM))
    assert not outlines_overlap(cone, ring)
    lifted = tuple((r - 1e-6, z) for r, z in ring)
    assert outlines_overlap(cone, lifted)


@given(share=st.floats(0.05, 0.95), lean=st.floats(1e-9, 1e-6))
@example(share=0.7360520742121478, lean=1.0146544398270243e-09)
@example(share=0.07613670881738115, lean=4.6246087741054636e-09)
def test_rounding_on_a_nearly_upright_side_is_not_an_overlap(share: float, lean: float) -> None:
    # Nanometres of lean over ten millimetres: rounding a radius moves the side's height by more than a picometre.
    low, high = (0.1, 0.0), (0.1 + lean, 10 * MM)
    between = (0.1 + share * lean, share * 10 * MM)
    inner: Outline = ((90 * MM, 0.0), low, high, (90 * MM, 10 * MM))
    outer: Outline = (low, (110 * MM, 0.0), (110 * MM, 10 * MM), high, between)
    assert not outlines_overlap(inner, outer)


def test_a_cross_without_a_corner_in_the_other_is_seen() -> None:
    assert shared_area(rectangle(0, 9 * MM, 4 * MM, 5 * MM), rectangle(4 * MM, 5 * MM, 0, 9 * MM)) == pytest.approx(
        1e-6
    )
    assert outlines_overlap(rectangle(0, 9 * MM, 4 * MM, 5 * MM), rectangle(4 * MM, 5 * MM, 0, 9 * MM))


@pytest.mark.parametrize(
    ("outline", "text"),
    [
        (((0.0, 0.0), (1 * MM, 0.0)), "2 corners do not bound a body; at least 3 are needed"),
        (
            ((-1 * MM, 0.0), (1 * MM, 0.0), (1 * MM, 1 * MM)),
            "the corner (-1 mm, 0 mm) lies across the axis; radii must not be negative",
        ),
        (
            (*SQUARE, SQUARE[0]),
            "the corner (1 mm, 0 mm) is given twice; the outline closes by itself",
        ),
        (
            (SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]),
            "the edge (1 mm, 0 mm) to (3 mm, 2 mm) meets the edge (3 mm, 0 mm) to (1 mm, 2 mm); "
            "it must not cross or touch itself",
        ),
        (  # a corner that touches a far edge
            ((0.0, 0.0), (4 * MM, 0.0), (4 * MM, 4 * MM), (2 * MM, 0.0), (0.0, 4 * MM)),
            "the edge (0 mm, 0 mm) to (4 mm, 0 mm) meets the edge (4 mm, 4 mm) to (2 mm, 0 mm); "
            "it must not cross or touch itself",
        ),
        (  # an edge that runs back over the one before
            ((0.0, 0.0), (4 * MM, 0.0), (2 * MM, 0.0), (2 * MM, 3 * MM)),
            "the edge (0 mm, 0 mm) to (4 mm, 0 mm) meets the edge (4 mm, 0 mm) to (2 mm, 0 mm); "
            "it must not cross or touch itself",
        ),
        (((float("nan"), 0.0), (1 * MM, 0.0), (1 * MM, 1 * MM)), "the corner (nan mm, 0 mm) is not a place"),
    ],
)
def test_improper_outlines_are_told_why(outline: Outline, text: str) -> None:
    assert outline_fault(outline) == text


def test_flat_outlines_have_no_area() -> None:
    assert outline_fault(((0.0, 0.0), (2 * MM, 0.0), (1 * MM, 0.0))) is not None
    assert outline_fault(((0.0, 0.0), (2 * MM, 0.0), (1 * MM, 1.5e-12))) == "the outline has no area"


@given(outline=stars())
def test_proper_outlines_pass_in_either_sense(outline: Outline) -> None:
    assert outline_fault(outline) is None
    assert outline_fault(outline[::-1]) is None


def test_outlines_may_lie_on_the_axis_and_meet_it_in_a_point() -> None:
    assert outline_fault(TROUGH) is None
    assert outline_fault(((0.0, 0.0), (2 * MM, 0.0), (2 * MM, 2 * MM))) is None
