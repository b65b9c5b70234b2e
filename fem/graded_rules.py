"""Quadrature rules on (0, 1): plain Gauss-Legendre, and rules that crowd their nodes towards an end."""

from collections.abc import Iterator
from functools import cache

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

GRADING_POWER = 8
GRADED_NODES = 64


@cache
def gauss_rule(count: int) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights of Gauss-Legendre quadrature on (0, 1).

    Parameters
    ----------
    count : int
        Number of nodes.

    Returns
    -------
    nodes, weights : ndarray, shape (count,)
        Read-only.
    """
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return _frozen(0.5 * (nodes + 1.0)), _frozen(0.5 * weights)


@cache
def graded_rule(count: int = GRADED_NODES, power: int = GRADING_POWER) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights on (0, 1) for an integrand that is singular at, or just beside, the end 0.

    Parameters
    ----------
    count : int
        Number of nodes.
    power : int
        Exponent p of the substitution x = t^p.

    Notes
    -----
    A logarithm at 0 becomes t^(p-1) log t, which Gauss-Legendre integrates with an error near count^(-2p). Logarithms
    and jumps smoothed over any length below the interval, ln(x² + ε²) and arctan(x/ε), come out within 2e-11.
    """
    nodes, weights = gauss_rule(count)
    return _frozen(nodes**power), _frozen(weights * power * nodes ** (power - 1))


def graded_towards_both_ends(
    start: float, end: float, count: int, power: int = GRADING_POWER
) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights on (start, end), crowded towards both ends; ``2 * count`` of them."""
    x, weights = graded_rule(count, power)
    half = 0.5 * (end - start)
    nodes = np.concatenate((start + half * x, end - half * x[::-1]))
    return nodes, half * np.concatenate((weights, weights[::-1]))


def chunks(count: int, work: int, most: int = 4_000_000) -> Iterator[slice]:
    """Slices of ``count`` items of ``work`` values each, so that no array holds more than about ``most`` values."""
    step = max(1, most // max(1, work))
    for start in range(0, count, step):
        yield slice(start, start + step)


def _frozen(values: FloatArray) -> FloatArray:
    # Cached arrays are shared by every caller.
    values.setflags(write=False)
    return values
