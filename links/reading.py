"""Over which heights a tag is read."""

from dataclasses import dataclass

import numpy as np

from links.errors import LinkError
from links.quantities import RealArray


@dataclass(frozen=True, slots=True)
class ReadingWindow:
    """Heights over which the margin is not negative.

    Parameters
    ----------
    intervals : tuple of (float, float)
        Readable intervals, lower and upper edge, rising [m].
    starts_at_begin : bool
        The topmost interval begins with the lowest height looked at: it may reach further down.
    reaches_end : bool
        The topmost interval ends with the highest height looked at: it may reach further up.
    """

    intervals: tuple[tuple[float, float], ...]
    starts_at_begin: bool
    reaches_end: bool

    @property
    def lower(self) -> float | None:
        """Lower edge of the topmost interval [m]; None where nothing is read."""
        return self.intervals[-1][0] if self.intervals else None

    @property
    def upper(self) -> float | None:
        """Upper edge of the topmost interval, the read height [m]; None where nothing is read."""
        return self.intervals[-1][1] if self.intervals else None

    @property
    def gaps(self) -> bool:
        """Whether a tag taken down from the read height meets heights without reading, then readable ones again."""
        return len(self.intervals) > 1


def reading_window(heights: RealArray, margins: RealArray) -> ReadingWindow:
    """Readable heights from margins sampled along the height.

    Parameters
    ----------
    heights : ndarray, shape (n,)
        Strictly rising [m].
    margins : ndarray, shape (n,)
        [dB]; −∞ and nan (a place that could not be solved) count as not readable, 0 dB counts as readable.

    Returns
    -------
    ReadingWindow
        Edges by linear interpolation of the decibels between neighbours; beside −∞ or nan the edge is the readable
        sample itself. What lies between two samples is not seen.

    Raises
    ------
    LinkError
        Where the two do not match, are empty, or the heights do not rise.
    """
    heights, margins = np.asarray(heights, dtype=np.float64), np.asarray(margins, dtype=np.float64)
    _check_samples(heights, margins)
    steps = np.diff(np.concatenate(([False], margins >= 0.0, [False])).astype(np.int8))
    first, last = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1) - 1
    intervals = tuple(
        (_edge(heights, margins, int(low), -1), _edge(heights, margins, int(high), 1))
        for low, high in zip(first, last, strict=True)
    )
    if not intervals:
        return ReadingWindow((), False, False)
    return ReadingWindow(intervals, bool(first[-1] == 0), bool(last[-1] == heights.size - 1))


def _edge(heights: RealArray, margins: RealArray, inside: int, step: int) -> float:
    outside = inside + step
    at_the_end = not 0 <= outside < heights.size
    if at_the_end or not np.isfinite(margins[inside]) or not np.isfinite(margins[outside]):
        return float(heights[inside])
    share = margins[inside] / (margins[inside] - margins[outside])
    return float(heights[inside] + share * (heights[outside] - heights[inside]))


def _check_samples(heights: RealArray, margins: RealArray) -> None:
    if heights.ndim != 1 or heights.shape != margins.shape or heights.size == 0:
        raise LinkError("margins", f"shape {margins.shape} given over heights of shape {heights.shape}; one row each")
    if not np.all(np.diff(heights) > 0.0):
        raise LinkError("heights", "they must rise from one to the next")
