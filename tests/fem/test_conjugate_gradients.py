"""Conjugate gradients: singular but consistent systems, complex symmetric ones, and what does not converge."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix, diags

from fem.conjugate_gradients import conjugate_gradients
from fem.errors import FieldError


def laplacian(count: int) -> csr_matrix:
    """Of a ring of points: singular, its null space the constant."""
    ring = diags([2.0, -1.0, -1.0], [0, 1, -1], shape=(count, count)).tolil()
    ring[0, -1] = ring[-1, 0] = -1.0
    return ring.tocsr()


def test_a_singular_consistent_system() -> None:
    matrix = laplacian(60)
    wanted = np.sin(2.0 * np.pi * np.arange(60) / 60.0) + 0.3 * np.cos(10.0 * np.pi * np.arange(60) / 60.0)
    found = conjugate_gradients(matrix, matrix @ wanted)
    np.testing.assert_allclose(found, wanted, atol=1e-7)  # the start has no constant part, nor has the answer


def test_a_complex_symmetric_system() -> None:
    rng = np.random.default_rng(5)
    matrix = (laplacian(80) + diags(0.1 + 0.4j * rng.random(80))).tocsr()
    wanted = rng.standard_normal(80) + 1j * rng.standard_normal(80)
    np.testing.assert_allclose(conjugate_gradients(matrix, matrix @ wanted, 1e-10), wanted, atol=1e-8)


def test_nothing_gives_nothing() -> None:
    assert not conjugate_gradients(laplacian(5), np.zeros(5)).any()


def test_an_inconsistent_system_is_told_with_its_residual() -> None:
    with pytest.raises(FieldError, match=r"relative residual of .* after \d+ steps"):
        conjugate_gradients(laplacian(60), np.ones(60) + np.arange(60.0), most_steps=200)


def test_too_few_steps_are_told() -> None:
    matrix = laplacian(60) + diags(np.full(60, 1e-6))
    with pytest.raises(FieldError, match="after 3 steps"):
        conjugate_gradients(matrix.tocsr(), np.sin(np.arange(60.0)), most_steps=3)
