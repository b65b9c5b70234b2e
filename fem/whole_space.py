"""A tag's core and the magnets beside it in the whole space, by edge elements in three dimensions (DESIGN 4.8).

No symmetry is asked for: the independent check of the map, and the way to what symmetry cannot do. Given fields of
coils are the sources, so that coils need no elements; what the bodies add is the unknown.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix

from fem.arrays import Array, ComplexArray, IndexArray
from fem.conjugate_gradients import conjugate_gradients
from fem.edge_elements import BodyElements, EdgeElements
from fem.model import Body, Model
from geometries.constants import MAGNETIC_CONSTANT

GivenField = Callable[[Array], tuple[Array | ComplexArray, Array | ComplexArray]]
"""A coil's field in air: places of shape (3, …) [m] to A [T m] and B [T] of the same shape."""

Sampled = tuple[tuple[ComplexArray, ComplexArray], ...]
"""A given field's A and B at the quadrature points of each body, as `WholeSpace.sampled` returns it."""

GRADIENT_DEGREE = 4
"""Of the polynomial whose gradient is taken out of what is given in a conductor."""


@dataclass(frozen=True, eq=False)
class WholeSpace:
    """The weak form of DESIGN 4.8, multiplied by μ0, on given elements.

    Parameters
    ----------
    elements : EdgeElements
        Of a ball.
    model : Model
        Constants by region; regions of the mesh that are not named are air.

    Notes
    -----
    ∫ν curl A_s·curl v + jω∫σ A_s·v + ∮A_s·v/(μ0 R) = −∫(ν−ν0) B·curl v − jω∫σ A·v for a given field A, B. The term
    on the sphere is exact for a dipole at its centre. No gauge: the matrix is singular, its right-hand side consistent.
    """

    elements: EdgeElements
    model: Model

    @cached_property
    def _bodies(self) -> list[tuple[Body, BodyElements]]:
        parts = self.elements.bodies
        return [(body, parts[name]) for name, body in self.model.bodies.items() if name in parts]

    def _eddy(self, body: Body) -> complex:
        """jωμ0σ [1/m²]."""
        return 1j * self.model.angular_frequency * MAGNETIC_CONSTANT * body.conductivity

    @cached_property
    def matrix(self) -> csr_matrix:
        """The whole matrix, real where every term is."""
        elements = self.elements
        found = _assembled(elements.dofs, _curl_products(elements.curls, elements.volumes), elements.count)
        found = found + _assembled(elements.outer_dofs, elements.outer_masses / elements.radius, elements.count)
        for body, part in self._bodies:
            members = part.members
            terms = (body.reluctivity - 1.0) * _curl_products(elements.curls[..., members], elements.volumes[members])
            if body.conductivity:
                masses = np.einsum("iceq,jceq,eq->ije", part.values, part.values, part.weights, optimize=True)
                terms = terms + self._eddy(body) * masses
            kept = np.asarray(terms.real if self.model.lossless else terms)
            found = found + _assembled(part.dofs, kept, elements.count)
        return found

    def sampled(self, given: GivenField) -> Sampled:
        """A given field where the bodies are: evaluated once, used by load and linkages."""
        found = []
        for body, part in self._bodies:
            potential, density = (np.asarray(field, complex) for field in given(part.positions))
            found.append((without_gradient(potential, part) if body.conductivity else potential, density))
        return tuple(found)

    def load(self, given: Sampled) -> ComplexArray:
        """Right-hand side of a given field [T m]."""
        found = np.zeros(self.elements.count, dtype=complex)
        for (body, part), (potential, density) in zip(self._bodies, given, strict=True):
            flux = (density * part.weights).sum(axis=-1)
            answer = (body.reluctivity - 1.0) * np.einsum("ice,ce->ie", self.elements.curls[..., part.members], flux)
            if body.conductivity:
                weighted = potential * part.weights
                answer = answer + self._eddy(body) * np.einsum("iceq,ceq->ie", part.values, weighted, optimize=True)
            np.add.at(found, part.dofs, -answer)
        return found

    def solve(self, given: Sampled) -> ComplexArray:
        """What the bodies add to a given field: line integrals of the potential along the edges [T m²].

        Raises
        ------
        FieldError
            Where the iteration does not converge.
        """
        load = self.load(given)
        if np.iscomplexobj(self.matrix.data):
            return np.asarray(conjugate_gradients(self.matrix, load))
        real, imaginary = (conjugate_gradients(self.matrix, part.copy()) for part in (load.real, load.imag))
        return np.asarray(real + 1j * imaginary)

    def added_linkage(self, answer: ComplexArray, given: Sampled, other: Sampled) -> complex:
        """What the bodies add to the flux linkage that the coil of one field has with the coil of ``other`` [H].

        Parameters
        ----------
        answer : ndarray
            Of `solve` for ``given``.
        given, other : Sampled
            Fields per ampere. The same twice gives the change of the coil's own linkage.

        Notes
        -----
        ∫ M·B' − jω∫σ A·A' with M = (1/μ0 − ν) B the bodies' magnetisation and −jωσA their current, both under the
        whole field A, B of the first coil, times the other coil's field A', B' in air: reciprocity. The matrix is
        symmetric, so exchanging the coils gives the same number but for what the iteration left.
        """
        total = 0.0 + 0.0j
        for (body, part), first, second in zip(self._bodies, given, other, strict=True):
            own, curls = answer[part.dofs], self.elements.curls[..., part.members]
            density = first[1] + np.einsum("ice,ie->ce", curls, own)[..., None]
            total += (1.0 - body.reluctivity) * (density * second[1] * part.weights).sum()
            if body.conductivity:
                potential = first[0] + np.einsum("iceq,ie->ceq", part.values, own, optimize=True)
                total -= self._eddy(body) * (potential * second[0] * part.weights).sum()
        return complex(total / MAGNETIC_CONSTANT)


def without_gradient(potential: ComplexArray, part: BodyElements) -> ComplexArray:
    """A given potential less the gradient that comes nearest to it over a body, of a polynomial of x, y, z.

    Parameters
    ----------
    potential : ndarray of complex, shape (3, n_element, n_point)
        A at the quadrature points [T m].

    Notes
    -----
    In a conductor a gradient drives nothing: charge on its surface takes it up. It is most of A in a bar that stands
    beside a coil, and what elements of the lowest order leave of it would count as current.
    """
    centre, size = part.positions.mean(axis=(1, 2), keepdims=True), np.ptp(part.positions)
    x = (part.positions - centre) / size
    powers = [(i, j, k) for i in range(5) for j in range(5) for k in range(5) if 0 < i + j + k <= GRADIENT_DEGREE]
    gradients = np.stack([_monomial_gradient(x, power) for power in powers], axis=-1)
    weight = np.sqrt(np.abs(part.weights))[None]  # some points of the rule weigh less than nothing
    table = (gradients * weight[..., None]).reshape(-1, len(powers))
    fitted = np.linalg.lstsq(table, (potential * weight).ravel(), rcond=None)[0]
    return np.asarray(potential - gradients @ fitted)


def _monomial_gradient(x: Array, power: tuple[int, int, int]) -> Array:
    """Gradient of x^i y^j z^k, shape of ``x``."""
    found = []
    for axis in range(3):
        lowered = [max(n - (m == axis), 0) for m, n in enumerate(power)]
        found.append(power[axis] * x[0] ** lowered[0] * x[1] ** lowered[1] * x[2] ** lowered[2])
    return np.stack(found)


def _curl_products(curls: Array, volumes: Array) -> Array:
    return np.asarray(np.einsum("ice,jce->ije", curls, curls, optimize=True) * volumes)


def _assembled(dofs: IndexArray, matrices: Array | ComplexArray, count: int) -> csr_matrix:
    """Sum of element matrices of shape (6, 6, n_element)."""
    small = dofs.astype(np.int32)
    rows, columns = np.repeat(small, 6, axis=0).ravel(), np.tile(small, (6, 1)).ravel()
    return coo_matrix((matrices.ravel(), (rows, columns)), shape=(count, count)).tocsr()
