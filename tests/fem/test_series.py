"""Chebyshev polynomials and sums of series, against cosines and against complex arithmetic."""

import numpy as np
import pytest
from numpy.polynomial import chebyshev

from fem.series import chebyshev_polynomials, derivative, first_summed, joined, real_parts, times


@pytest.mark.parametrize("count", [1, 2, 3, 8, 9, 44, 400])
def test_polynomials_are_cosines_of_multiples(count):
    angle = np.linspace(0.0, np.pi, 60).reshape(3, 20)
    found = chebyshev_polynomials(np.cos(angle), count)
    assert found.shape == (count, 3, 20)
    expected = np.cos(np.arange(count)[:, None, None] * angle)
    assert np.max(np.abs(found - expected)) < 1e-15 * max(count, 2) ** 2


def test_a_series_summed_is_the_complex_product():
    random = np.random.default_rng(1)
    series = random.normal(size=(5, 4)) + 1j * random.normal(size=(5, 4))
    polynomials = random.normal(size=(5, 2, 3))
    found = joined(first_summed(real_parts(series), polynomials))
    assert found == pytest.approx(np.einsum("nm,nab->mab", series, polynomials), rel=1e-12, abs=1e-14)


@pytest.mark.parametrize("factors", [np.array([2.0 + 0j, -1.0]), np.array([2.0 + 1j, -3j])], ids=["real", "complex"])
def test_parts_times_factors_are_the_complex_product(factors):
    values = np.array([[1.0 + 2j, 0.5], [-3j, 1.0 - 1j]])
    found = joined(times(np.stack((values.real, values.imag)), factors))
    assert found == pytest.approx(values * factors, rel=1e-15, abs=0.0)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 9, 44])
def test_derivative_against_numpy_s(count):
    series = np.random.default_rng(2).normal(size=(count, 3)) * (1.0 + 2j)
    found = derivative(series)
    assert found.shape == (max(count - 1, 1), 3)
    assert found == pytest.approx(chebyshev.chebder(series, axis=0), rel=1e-12, abs=1e-12)
