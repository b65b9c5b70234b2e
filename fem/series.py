"""Chebyshev series of two variables with complex coefficients, summed by products of real matrices.

A product of a real and a complex matrix makes the real one complex first and costs twice as much.
"""

import numpy as np

from fem.arrays import Array, ComplexArray


def chebyshev_polynomials(x: Array, count: int) -> Array:
    """T_0 … T_(count−1) at ``x``, shape (count, *x.shape).

    Notes
    -----
    T_(n+k) = 2 T_n T_k − T_(n−k) for all k up to n at once: a few long operations in place of ``count`` short ones.
    """
    found = np.empty((max(count, 2), *x.shape))
    found[0], found[1] = 1.0, x
    known = 2
    while known < count:
        last = known - 1
        more = min(last, count - known)
        np.multiply(found[1 : 1 + more], 2.0 * found[last], out=found[known : known + more])
        found[known : known + more] -= found[last - more : last][::-1]
        known += more
    return found[:count]


def real_parts(series: ComplexArray) -> Array:
    """Real and imaginary part of a series (n, m), transposed, shape (2, m, n)."""
    return np.stack((series.real.T, series.imag.T))


def first_summed(parts: Array, polynomials: Array) -> Array:
    """A series, as its `real_parts`, its first variable summed, shape (2, m, *polynomials.shape[1:])."""
    summed = parts @ polynomials.reshape(polynomials.shape[0], -1)
    return np.asarray(summed).reshape(2, -1, *polynomials.shape[1:])


def times(parts: Array, factors: ComplexArray) -> Array:
    """Real and imaginary part (2, …) times complex factors that broadcast with either."""
    found = parts * factors.real
    if factors.imag.any():
        found[0] -= parts[1] * factors.imag
        found[1] += parts[0] * factors.imag
    return np.asarray(found)


def derivative(series: ComplexArray) -> ComplexArray:
    """Series of the derivative by the first variable, one term fewer and at least one: d_k = Σ 2 j a_j, j = k+1, k+3 …

    d_0 is half of that.
    """
    count = series.shape[0]
    found = np.zeros((max(count - 1, 1), *series.shape[1:]), dtype=series.dtype)
    terms = 2.0 * np.arange(count).reshape(-1, *(1,) * (series.ndim - 1)) * series
    for last in range(count - 2, max(count - 4, -1), -1):  # every second term has the same neighbours above it
        found[last::-2] = np.cumsum(terms[last + 1 : 0 : -2], axis=0)
    found[0] *= 0.5
    return found


def joined(parts: Array) -> ComplexArray:
    """A complex array from its real and its imaginary part (2, …)."""
    return np.asarray(parts[0] + 1j * parts[1])
