"""Readable heights from sampled margins."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from links.errors import LinkError
from links.reading import reading_window

HEIGHTS = np.array([5e-3, 10e-3, 15e-3, 20e-3, 25e-3])


def test_one_interval_with_both_edges_between_samples() -> None:
    window = reading_window(HEIGHTS, np.array([-1.0, 4.0, 6.0, 2.0, -6.0]))
    assert window.lower == pytest.approx(6e-3)
    assert window.upper == pytest.approx(21.25e-3)
    assert not window.starts_at_begin
    assert not window.reaches_end
    assert not window.gaps


def test_read_everywhere_it_was_looked_at() -> None:
    window = reading_window(HEIGHTS, np.array([9.0, 4.0, 6.0, 2.0, 0.0]))
    assert window.intervals == ((5e-3, 25e-3),)
    assert window.starts_at_begin
    assert window.reaches_end


def test_read_nowhere() -> None:
    window = reading_window(HEIGHTS, np.array([-9.0, -np.inf, np.nan, -2.0, -1e-9]))
    assert window.intervals == ()
    assert window.lower is None
    assert window.upper is None
    assert not any((window.starts_at_begin, window.reaches_end, window.gaps))


def test_the_topmost_interval_counts_and_the_gap_is_told() -> None:
    window = reading_window(HEIGHTS, np.array([3.0, -3.0, -1.0, 1.0, -1.0]))
    assert np.array(window.intervals) == pytest.approx(np.array([[5e-3, 7.5e-3], [17.5e-3, 22.5e-3]]))
    assert (window.lower, window.upper) == window.intervals[1]
    assert window.gaps
    assert not window.starts_at_begin


def test_beside_nothing_or_unknown_the_readable_sample_is_the_edge() -> None:
    window = reading_window(HEIGHTS, np.array([-np.inf, 5.0, 5.0, 5.0, np.nan]))
    assert window.intervals == ((10e-3, 20e-3),)


def test_a_single_height_and_an_infinite_margin() -> None:
    assert reading_window(np.array([5e-3]), np.array([1.0])).intervals == ((5e-3, 5e-3),)
    assert reading_window(HEIGHTS[:2], np.array([np.inf, -1.0])).intervals == ((5e-3, 5e-3),)


@given(st.lists(st.floats(-40.0, 40.0), min_size=2, max_size=40))
def test_every_sample_lies_in_an_interval_just_if_its_margin_is_not_negative(margins: list[float]) -> None:
    heights = np.arange(len(margins)) * 1e-3
    window = reading_window(heights, np.array(margins))
    inside = [any(low <= height <= high for low, high in window.intervals) for height in heights]
    wanted = np.array(margins) >= 0.0
    # A margin a rounding error under 0 may put the edge on its own sample.
    clear = np.abs(margins) > 1e-9
    assert np.array_equal(np.array(inside)[clear], wanted[clear])
    edges = np.array(window.intervals).ravel()
    assert np.all(np.diff(edges) >= 0.0)


def test_what_is_no_curve_is_refused() -> None:
    with pytest.raises(LinkError, match=r"^margins: shape \(2,\) given over heights of shape \(5,\); one row each$"):
        reading_window(HEIGHTS, np.zeros(2))
    with pytest.raises(LinkError, match=r"^heights: they must rise from one to the next$"):
        reading_window(HEIGHTS[::-1], np.zeros(5))
    with pytest.raises(LinkError, match="margins"):
        reading_window(np.array([]), np.array([]))
