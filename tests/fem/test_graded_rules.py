"""Quadrature rules against integrals known in closed form."""

import numpy as np
import pytest

from fem.graded_rules import chunks, gauss_rule, graded_rule, graded_towards_both_ends


def test_gauss_rule_is_exact_to_degree_2n_less_1():
    x, weights = gauss_rule(5)
    assert weights @ x**9 == pytest.approx(0.1, rel=1e-14, abs=0.0)
    assert abs(weights @ x**10 - 1.0 / 11.0) > 1e-8


@pytest.mark.parametrize("smoothing", 10.0 ** np.arange(-8.0, 0.6, 0.5))
def test_graded_rule_on_smoothed_logarithm_and_jump(smoothing):
    x, weights = graded_rule()
    logarithm = np.log1p(smoothing**2) - 2.0 + 2.0 * smoothing * np.arctan(1.0 / smoothing)
    jump = np.arctan(1.0 / smoothing) - 0.5 * smoothing * np.log1p(1.0 / smoothing**2)
    assert abs(weights @ np.log(x**2 + smoothing**2) - logarithm) < 3e-11
    assert abs(weights @ np.arctan(x / smoothing) - jump) < 3e-11


def test_graded_rule_on_a_logarithm():
    x, weights = graded_rule()
    assert weights @ np.log(x) == pytest.approx(-1.0, abs=1e-13)


def test_both_ends():
    x, weights = graded_towards_both_ends(2.0, 5.0, 32)
    assert x.shape == (64,)
    assert np.all((x >= 2.0) & (x <= 5.0))
    # ∫ ln((x − 2)(5 − x)) dx = 2 · 3 (ln 3 − 1); nodes that round onto an end carry next to no weight.
    inside = (x > 2.0) & (x < 5.0)
    value = weights[inside] @ np.log((x[inside] - 2.0) * (5.0 - x[inside]))
    assert value == pytest.approx(6.0 * (np.log(3.0) - 1.0), abs=1e-11)


def test_cached_rules_cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        gauss_rule(5)[0][0] = 1.0


def test_chunks_cover_everything_once():
    parts = list(chunks(10, 3, most=9))
    assert [list(range(10))[part] for part in parts] == [[0, 1, 2], [3, 4, 5], [6, 7, 8], [9]]
