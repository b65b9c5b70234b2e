"""What each element contributes to the error of a terminal quantity (DESIGN 4.6).

The difference of quadratic and cubic elements is the error of the *quadratic* ones, nearly; it says where to refine.
What the cubic result itself is off by is less, by a share that each element's own solution tells: how fast its parts
of rising degree fall.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import zeta

from fem.arrays import Array, ComplexArray, IndexArray
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT

SHARE_OF_SUM = 0.25
"""Share of Σ|η| that the difference of the orders is taken to be at least, whatever cancels."""

SLOWEST_FALL = 3.0
"""Exponent of the slowest fall of an element's energies with the degree: 4λ + 1 for A ~ ρ^λ, λ = ½ at a sheet's end."""


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
        coefficients = self.coarse[quadratic_dofs]
        raised = (self._embedding @ coefficients.reshape(coefficients.shape[0], -1)).reshape(
            -1, *coefficients.shape[1:]
        )
        return np.ascontiguousarray((self.fine[cubic_dofs] - raised).transpose(1, 0, 2))

    @cached_property
    def _terms(self) -> list[tuple[IndexArray, ComplexArray, ComplexArray]]:
        """Elements, matrices and difference of the two orders, of the bodies first, then of every line."""
        difference = self._difference(self.cubic.elements.dofs, self.quadratic.elements.dofs)
        found = [(np.arange(difference.shape[0]), self.cubic.element_matrices, difference)]
        pairs = zip(self.cubic.line_matrices, self.quadratic.line_matrices, strict=True)
        for (lines, matrices), (coarse_lines, _) in pairs:
            found.append((lines.elements, matrices, self._difference(lines.dofs, coarse_lines.dofs)))
        return found

    @cached_property
    def _loop_linkages(self) -> list[tuple[IndexArray, complex, ComplexArray]]:
        """Elements, factor and flux linkage of d by edge and load, shape (n_edge, n_load), of every closed loop."""
        found = []
        for loop, coarse_loop in zip(self.cubic.loops, self.quadratic.loops, strict=True):
            difference = self._difference(loop.lines.dofs, coarse_loop.lines.dofs)
            linkages = np.einsum("bl,lbm->lm", loop.line_loads, difference)
            found.append((loop.lines.elements, loop.factor, linkages))
        return found

    def contributions(self, first: int, second: int) -> ComplexArray:
        """η_K = 2π a_K(d_first, d_second), with d the difference of the two orders, shape (n_element,) [H]."""
        found = np.zeros(self.cubic.elements.dofs.shape[1], dtype=complex)
        for (elements, _, difference), tested in zip(self._terms, self._tested(first), strict=True):
            np.add.at(found, elements, (tested * difference[..., second]).sum(axis=1))
        for elements, factor, linkages in self._loop_linkages:
            np.add.at(found, elements, factor * linkages[:, first].sum() * linkages[:, second])
        return np.asarray(found * (2.0 * np.pi / MAGNETIC_CONSTANT), dtype=complex)

    def loss_contributions(self, first: int, second: int) -> Array:
        """What each element's d can do to the imaginary part of a terminal quantity, shape (n_element,) [H].

        Notes
        -----
        With d = p + jq for either load and a = a' + ja'', Im a(d1, d2) is
        a''(p1, p2) − a''(q1, q2) + a'(p1, q2) + a'(q1, p2). The error's phases are not those of d, so nothing is let
        cancel: each form is taken by its bound √(a(x, x) a(y, y)).
        """
        found = np.zeros(self.cubic.elements.dofs.shape[1])
        both = zip(self._terms, self._roots(first), self._roots(second), strict=True)
        for (elements, *_), (stored, lost), (other_stored, other_lost) in both:
            crossed = (stored * other_stored[:, ::-1]).sum(axis=1)
            np.add.at(found, elements, (lost * other_lost).sum(axis=1) + crossed)
        for elements, factor, linkages in self._loop_linkages:
            np.add.at(found, elements, np.abs(factor * linkages[:, first].sum() * linkages[:, second]))
        return found * (2.0 * np.pi / MAGNETIC_CONSTANT)

    @cached_property
    def _known(self) -> "_Known":
        return _Known({}, {}, {})

    def _tested(self, number: int) -> list[ComplexArray]:
        """a_K(d, φ_i) of a load's d, of each of the terms, shape (n_element, n_basis)."""
        known = self._known.tested
        if number not in known:
            known[number] = [(matrices @ d[..., number, None])[..., 0] for _, matrices, d in self._terms]
        return known[number]

    def _roots(self, number: int) -> list[tuple[Array, Array]]:
        """√|a'(x, x)| and √|a''(x, x)| of a load's p and q, of each of the terms, each of shape (n_element, 2)."""
        known = self._known.roots
        if number not in known:
            known[number] = [
                (np.sqrt(np.abs(_energies(matrices.real, d[..., number]))),
                 np.sqrt(np.abs(_energies(matrices.imag, d[..., number]))))
                for _, matrices, d in self._terms
            ]  # fmt: skip
        return known[number]

    def remaining_error(self, first: int, second: int) -> float:
        """Σ |η_K| √(s_first s_second): what the cubic result of a terminal quantity may be off by [H].

        Nothing is let cancel from element to element.
        """
        return float((np.abs(self.contributions(first, second)) * self._shares(first, second)).sum())

    def remaining_share(self, number: int) -> float:
        """`remaining_error` of a flux linkage over Σ|η|: what other quantities of that field are taken to keep, too."""
        return self.remaining_error(number, number) / float(np.abs(self.contributions(number, number)).sum())

    def remaining_loss_error(self, first: int, second: int) -> float:
        """The same of the imaginary part [H]."""
        return float((self.loss_contributions(first, second) * self._shares(first, second)).sum())

    def _shares(self, first: int, second: int) -> Array:
        return np.asarray(np.sqrt(self._remaining_share(first) * self._remaining_share(second)))

    def _remaining_share(self, number: int) -> Array:
        """Energy of all degrees above 3 over that of degree 3 in each element, shape (n_element,).

        Notes
        -----
        An element's cubic solution is split into its parts of degree 2 and 3, orthogonal to all lower degrees; their
        energies are E_2 and E_3. A smooth field's fall geometrically or faster, those near an edge, where A ~ ρ^λ, as
        k^{−(4λ+1)}. The power through E_2 and E_3, s = ln(E_2/E_3)/ln(3/2), is the slower of the two laws and sums to
        Σ_{k≥4} (k/3)^{−s} = 3^s ζ(s, 4): a twelfth where E_3 is a fortieth of E_2, and 1.1 at a sheet's end.
        An element's parts can fall steeply by chance where its neighbours' do not, and what spoils a field at a corner
        spoils it in every element there: an element takes the largest share of all that meet it.
        """
        if number not in self._known.shares:
            matrices, elements = self.cubic.elements.curl_matrices, self.cubic.elements
            coefficients = self.fine[elements.dofs, number].T
            quadratic, cubic = (_energies(matrices, coefficients @ part.T).sum(axis=1) for part in self._degrees)
            ratio = np.clip(cubic / np.where(quadratic > 0.0, quadratic, 1.0), 1e-12, 1.0)
            fall = np.maximum(-np.log(ratio) / np.log(1.5), SLOWEST_FALL)
            self._known.shares[number] = self._largest_about(np.asarray(3.0**fall * zeta(fall, 4.0)))
        return self._known.shares[number]

    def _largest_about(self, values: Array) -> Array:
        """The largest of the values of each element and of all that share a corner with it, shape (n_element,)."""
        triangles = self.cubic.elements.mesh.triangles
        corners = np.zeros(int(triangles.max()) + 1)
        np.maximum.at(corners, triangles, np.broadcast_to(values, triangles.shape))
        return np.asarray(corners[triangles].max(axis=0))

    @cached_property
    def _degrees(self) -> tuple[Array, Array]:
        """Matrices that take an element's cubic coefficients to those of its parts of degree 2 and 3.

        The parts are orthogonal over the triangle; affine maps keep degree and orthogonality: one triangle serves all.
        """
        elements = self.cubic.elements
        points = elements.positions[:, 0]
        root = np.sqrt(elements.weights[0] / points[0])
        x, y = (points - points.mean(axis=1, keepdims=True)) / np.ptp(points, axis=1)[:, None]
        powers = [x ** (degree - k) * y**k for degree in range(4) for k in range(degree + 1)]
        polynomials = np.linalg.qr(np.stack(powers, axis=1) * root[:, None])[0] / root[:, None]
        to_nodes = np.linalg.pinv(elements.values[:, 0].T) @ polynomials
        from_nodes = np.linalg.inv(to_nodes)
        quadratic, cubic = slice(3, 6), slice(6, 10)
        return to_nodes[:, quadratic] @ from_nodes[quadratic], to_nodes[:, cubic] @ from_nodes[cubic]


@dataclass(frozen=True, slots=True)
class _Known:
    """What has been worked out of the loads, by their number: several goals share a load."""

    tested: dict[int, list[ComplexArray]]
    roots: dict[int, list[tuple[Array, Array]]]
    shares: dict[int, Array]


def _energies(matrices: Array, values: ComplexArray) -> Array:
    """Forms (x, x) of the real and the imaginary part of the values in each element, shape (n_element, 2)."""
    parts = np.stack([values.real, values.imag], axis=-1)
    return np.asarray((parts * (np.ascontiguousarray(matrices) @ parts)).sum(axis=1))


def estimated_error(contributions: Array | ComplexArray) -> float:
    """max(|Σ η|, ¼ Σ |η|): what a quadratic result may be off by, and what is refined for."""
    return float(max(abs(contributions.sum()), SHARE_OF_SUM * np.abs(contributions).sum()))
