"""What each element contributes to the error of a terminal quantity (DESIGN 4.6)."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fem.arrays import Array, ComplexArray, IndexArray
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT

SHARE_OF_SUM = 0.25
"""Share of Σ|η| that an error is taken to be at least, whatever cancels."""


@dataclass(frozen=True, eq=False)
class TwoOrders:
    """The same loads solved with quadratic and with cubic elements on one mesh.

    Parameters
    ----------
    quadratic, cubic : System
        The two discretisations.
    coarse, fine : ndarray, shape (n_unknown, n_load)
        Their solutions [V s/m].
    """

    quadratic: System
    cubic: System
    coarse: ComplexArray
    fine: ComplexArray

    @cached_property
    def _embedding(self) -> Array:
        """Quadratic element coefficients to cubic ones, the same in every element."""
        from_values = np.linalg.pinv(self.cubic.elements.values[:, 0].T)
        return np.asarray(from_values @ self.quadratic.elements.values[:, 0].T)

    def _difference(self, cubic_dofs: IndexArray, quadratic_dofs: IndexArray) -> ComplexArray:
        raised = np.einsum("ij,jel->eil", self._embedding, self.coarse[quadratic_dofs])
        return np.asarray(self.fine[cubic_dofs].transpose(1, 0, 2) - raised)

    def contributions(self, first: int, second: int) -> ComplexArray:
        """η_K = 2π a_K(d_first, d_second), with d the difference of the two orders, shape (n_element,) [H]."""
        difference = self._difference(self.cubic.elements.dofs, self.quadratic.elements.dofs)
        found = _forms(difference[..., first], self.cubic.element_matrices, difference[..., second])
        pairs = zip(self.cubic.line_matrices, self.quadratic.line_matrices, strict=True)
        for (lines, matrices), (coarse_lines, _) in pairs:
            difference = self._difference(lines.dofs, coarse_lines.dofs)
            np.add.at(found, lines.elements, _forms(difference[..., first], matrices, difference[..., second]))
        for loop, coarse_loop in zip(self.cubic.loops, self.quadratic.loops, strict=True):
            difference = self._difference(loop.lines.dofs, coarse_loop.lines.dofs)
            parts = np.einsum("bl,lbm->lm", loop.line_loads, difference)
            np.add.at(found, loop.lines.elements, loop.factor * parts[:, first].sum() * parts[:, second])
        return found * (2.0 * np.pi / MAGNETIC_CONSTANT)


def _forms(left: ComplexArray, matrices: ComplexArray, right: ComplexArray) -> ComplexArray:
    return np.asarray(np.einsum("ei,eij,ej->e", left, matrices, right, optimize=True))


def estimated_error(contributions: Array | ComplexArray) -> float:
    """max(|Σ η|, ¼ Σ |η|): what a cubic result may be off by."""
    return float(max(abs(contributions.sum()), SHARE_OF_SUM * np.abs(contributions).sum()))
