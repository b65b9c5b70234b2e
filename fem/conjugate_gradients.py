"""Conjugate gradients for the consistent singular matrix of an ungauged potential."""

import numpy as np
from scipy.sparse import csr_matrix

from fem.arrays import Array, ComplexArray
from fem.errors import FieldError

TOLERANCE = 1e-8
MOST_STEPS = 5000


def conjugate_gradients(
    matrix: csr_matrix, right: Array | ComplexArray, tolerance: float = TOLERANCE, most_steps: int = MOST_STEPS
) -> Array | ComplexArray:
    """Solution x of a symmetric system, real or complex symmetric, by its diagonal as the preconditioner.

    Parameters
    ----------
    matrix : csr_matrix, shape (n, n)
        Real symmetric and not negative, or complex symmetric (products are then taken without conjugation). It may be
        singular where ``right`` is consistent: what its null space adds to x stays zero.
    right : ndarray, shape (n,)
        Complex only where the matrix is.
    tolerance : float
        Wanted residual over ``right``, both by their norm.

    Raises
    ------
    FieldError
        Where the residual has not come down after ``most_steps``, or the iteration breaks down.
    """
    size = float(np.linalg.norm(right))
    found = np.zeros(right.shape, dtype=np.result_type(matrix.dtype, right.dtype))
    if size == 0.0:
        return found
    inverse = 1.0 / matrix.diagonal()
    residual = right.astype(found.dtype)
    direction = inverse * residual
    product = residual @ direction  # no conjugate, so that a complex symmetric matrix is its own adjoint
    steps = 0
    while steps < most_steps:
        steps += 1
        image = matrix @ direction
        curvature = direction @ image
        if curvature == 0.0 or not np.isfinite(curvature):
            break
        length = product / curvature
        found += length * direction
        residual -= length * image
        if np.linalg.norm(residual) <= tolerance * size:
            return found
        turned = inverse * residual
        product, before = residual @ turned, product
        direction *= product / before
        direction += turned
    raise FieldError(
        f"conjugate gradients left a relative residual of {np.linalg.norm(residual) / size:.1e} after {steps} steps, "
        f"{tolerance:.0e} is wanted; check the sizes and constants of the core and of the magnets"
    )
