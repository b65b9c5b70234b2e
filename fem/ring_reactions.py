"""What bodies and thin layers answer to many rings at once: loads, linkages and sources, each ring a case.

The same terms as `System.reaction_load`, `reaction_field.given_form` and `sources.induced_rings`, which take one field
after another; the rings' own fields at the elements' points are worked out once here and serve all three.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fem.arrays import Array, ComplexArray, IndexArray
from fem.elements import Lines
from fem.sources import Rings, unit_ring
from fem.system import ClosedLoop, System
from geometries.constants import MAGNETIC_CONSTANT


@dataclass(frozen=True, eq=False)
class RingReactions:
    """Rings of one ampere over a discretised surrounding.

    Parameters
    ----------
    system : System
        Whose bodies and layers answer.
    places : ndarray, shape (2, n_ring)
        r and z of the rings [m].
    """

    system: System
    places: Array

    @cached_property
    def loads(self) -> ComplexArray:
        """−d(A, v) of every ring, shape (n_unknown, n_ring)."""
        found = np.zeros((self.system.elements.count, self.places.shape[1]), dtype=complex)
        for body in self._bodies:
            contrast, eddy = self._constants(body)
            answer = self._weighted(body.curls[0], contrast, body.radial)
            answer += self._weighted(body.curls[1], contrast, body.axial)
            if np.any(eddy):
                answer += self._weighted(body.values, eddy, body.potential)
            np.subtract.at(found, body.dofs, answer)
        for sheet in self._sheets:
            closed, ribbon = self.system.sheet_constants(sheet.name)
            weights = sheet.lines.weights
            answer = self._weighted(sheet.lines.values, np.asarray(closed * weights), sheet.potential)

            answer += self._weighted(sheet.lines.normal_fields, np.asarray(ribbon * weights), sheet.normal)
            np.subtract.at(found, sheet.lines.dofs, answer)
        for loop, linkages in self._loops:
            found -= loop.factor * np.outer(loop.load, linkages)
        return found

    def added(self, reactions: ComplexArray) -> ComplexArray:
        """What the surroundings add to the linkages of every two rings, shape (n_ring, n_ring) [H].

        ``reactions`` are the solutions for `loads`; see `reaction_field.added_linkages`.
        """
        count = self.places.shape[1]
        given = np.zeros((count, count), dtype=complex)
        for body in self._bodies:
            contrast, eddy = self._constants(body)
            given += _pairs(body.radial, contrast) + _pairs(body.axial, contrast) + _pairs(body.potential, eddy)
        for sheet in self._sheets:
            closed, ribbon = self.system.sheet_constants(sheet.name)
            given += _pairs(sheet.potential, np.asarray(closed * sheet.lines.weights))
            given += _pairs(sheet.normal, np.asarray(ribbon * sheet.lines.weights))
        for loop, linkages in self._loops:
            given += loop.factor * np.outer(linkages, linkages)
        return np.asarray(2.0 * np.pi / MAGNETIC_CONSTANT * (self.loads.T @ reactions - given))

    def sources(self, reactions: ComplexArray) -> list[Rings]:
        """Induced currents and magnetisation by body and layer, the rings' answers as cases."""
        return [self._body_sources(body, reactions) for body in self._bodies] + [
            self._sheet_sources(sheet, reactions) for sheet in self._sheets
        ]

    def _body_sources(self, body: "_Body", reactions: ComplexArray) -> Rings:
        elements = self.system.elements
        coefficients = reactions[body.dofs]
        eddy, contrast = self.system.eddy[body.members], 1.0 - self.system.reluctivity[body.members]
        r, z = elements.positions[:, body.members].reshape(2, -1)
        shape = r.size, self.places.shape[1]
        current, radial, axial = (
            (constant[:, None, None] * (given + _summed(functions, coefficients)) / MAGNETIC_CONSTANT).reshape(shape)
            if np.any(constant)
            else np.broadcast_to(0.0j, shape)  # tens of megabytes for nothing otherwise
            for constant, given, functions in (
                (-eddy, body.potential, body.values),
                (contrast, body.radial, body.curls[0]),
                (contrast, body.axial, body.curls[1]),
            )
        )
        return Rings(r, z, elements.weights[body.members].ravel(), current, radial, axial, body.name)

    def _sheet_sources(self, sheet: "_Sheet", reactions: ComplexArray) -> Rings:
        lines, count = sheet.lines, self.places.shape[1]
        closed, ribbon = self.system.sheet_constants(sheet.name)
        coefficients = reactions[lines.dofs]
        current = -closed * (sheet.potential + _summed(lines.values, coefficients)) / MAGNETIC_CONSTANT
        axial = -ribbon * (sheet.normal + _summed(lines.normal_fields, coefficients)) / MAGNETIC_CONSTANT
        for loop, linkages in self._loops:
            if loop.name == sheet.name:
                whole = loop.load @ reactions + linkages
                current = current - loop.factor * loop.turn_density * whole / MAGNETIC_CONSTANT
        r, z = lines.positions.reshape(2, -1)
        none = np.broadcast_to(0.0j, (r.size, count))
        return Rings(r, z, lines.weights.ravel(), current.reshape(-1, count), none, axial.reshape(-1, count))

    def _constants(self, body: "_Body") -> tuple[ComplexArray, ComplexArray]:
        """Contrast of reluctivity and eddy term at the points of a body, weights included."""
        weights, members = self.system.elements.weights[body.members], body.members
        contrast = (self.system.reluctivity[members] - 1.0)[:, None] * weights
        return contrast, self.system.eddy[members, None] * weights

    @staticmethod
    def _weighted(functions: Array, weights: Array | ComplexArray, given: Array) -> ComplexArray:
        """Σ over an element's points of w φ_i times the rings' fields, shape (n_basis, n_element, n_ring)."""
        weighted = np.moveaxis(functions * weights, 1, 0)
        return np.asarray(np.moveaxis(weighted.real @ given + 1j * (weighted.imag @ given), 0, 1))

    @cached_property
    def _bodies(self) -> "list[_Body]":
        elements = self.system.elements
        found = []
        for name in self.system.model.bodies:
            if name not in elements.mesh.regions:  # glass and the like act on nothing and are not meshed
                continue
            members = elements.mesh.regions[name]
            potential, radial, axial = self._fields(elements.positions[:, members])
            found.append(
                _Body(
                    name,
                    members,
                    elements.dofs[:, members],
                    elements.values[:, members],
                    elements.curls[:, :, members],
                    potential,
                    radial,
                    axial,
                )
            )
        return found

    @cached_property
    def _sheets(self) -> "list[_Sheet]":
        found = []
        for name, lines in self.system.elements.sheets.items():
            if name in self.system.model.sheets:
                potential, _, normal = self._fields(lines.positions)
                found.append(_Sheet(name, lines, potential, normal))
        return found

    @cached_property
    def _loops(self) -> list[tuple[ClosedLoop, Array]]:
        """Closed loops and what each ring links of them."""
        found = []
        for loop in self.system.loops:
            potential, _, _ = self._fields(loop.lines.positions)
            found.append((loop, loop.turn_density * np.tensordot(loop.lines.weights, potential, axes=2)))
        return found

    def _fields(self, positions: Array) -> tuple[Array, Array, Array]:
        """A, B_r and B_z of every ring at points, shape of the points and (n_ring,)."""
        r, z = positions[..., None]
        return unit_ring(self.places[0], self.places[1], r, z)


@dataclass(frozen=True, slots=True, eq=False)
class _Body:
    """A body's elements and the rings' fields at their points, shape (n_element, n_point, n_ring)."""

    name: str
    members: IndexArray
    dofs: IndexArray
    values: Array
    curls: Array
    potential: Array
    radial: Array
    axial: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """A thin layer's edges and the rings' fields at their points, shape (n_edge, n_point, n_ring)."""

    name: str
    lines: Lines
    potential: Array
    normal: Array


def _pairs(fields: Array, weights: ComplexArray) -> ComplexArray:
    """Σ w f_i f_j over all points, shape (n_ring, n_ring)."""
    flat = fields.reshape(-1, fields.shape[-1])
    parts = [flat.T @ (weight.reshape(-1, 1) * flat) for weight in (weights.real, weights.imag) if np.any(weight)]
    factors = [factor for factor, weight in ((1.0, weights.real), (1j, weights.imag)) if np.any(weight)]
    return np.asarray(sum((f * p for f, p in zip(factors, parts, strict=True)), 0.0j))


def _summed(functions: Array, coefficients: ComplexArray) -> ComplexArray:
    """Functions with the given coefficients at the points, shape (n_element, n_point, n_ring)."""
    by_element = np.moveaxis(functions, 0, -1)
    return np.asarray(by_element @ np.moveaxis(coefficients, 1, 0))
