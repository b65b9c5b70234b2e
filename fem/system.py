"""Assembly, factorisation and solution of the weak form on one set of elements."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.linalg import SuperLU, splu

from fem.arrays import Array, ComplexArray, IndexArray
from fem.elements import Elements, Lines
from fem.errors import FieldError
from fem.model import Model
from geometries.constants import MAGNETIC_CONSTANT

FieldOf = Callable[[Array, Array], tuple[Array, Array, Array]]
"""A given field: (r, z) to the potential A and the flux density B_r, B_z."""

RESIDUAL_BOUND = 1e-8

BLOCK = 16
"""Right-hand sides solved for at once."""


@dataclass(frozen=True, eq=False)
class ClosedLoop:
    """A spiral layer whose ends are joined: adds factor · (load · A)(load · v) to the form.

    Parameters
    ----------
    name : str
        Of the sheet.
    lines : Lines
        Its edges.
    turn_density : float
        [1/m].
    factor : complex
        2π·jωμ0/Z [1/m²·m²], Z the loop's own impedance.
    count : int
        Number of unknowns.
    """

    name: str
    lines: Lines
    turn_density: float
    factor: complex
    count: int

    @cached_property
    def line_loads(self) -> Array:
        """∫ φ_i r dl times the turn density, shape (n_basis, n_edge)."""
        return np.asarray(self.turn_density * (self.lines.values * self.lines.weights).sum(axis=-1))

    @cached_property
    def load(self) -> Array:
        """The same by unknowns; 2π load · A is the spiral's flux linkage [V s]."""
        load = np.zeros(self.count)
        np.add.at(load, self.lines.dofs, self.line_loads)
        return load

    def given_linkage(self, potential: Array | ComplexArray) -> complex:
        """∫ A r dl times the turn density, of a potential given at the quadrature points."""
        return complex(self.turn_density * (potential * self.lines.weights).sum())

    def sheet_current(self, potential: ComplexArray) -> complex:
        """Current per radial length that the field drives in the spiral [A/m]."""
        return complex(-self.factor * self.turn_density * (self.load @ potential) / MAGNETIC_CONSTANT)


@dataclass(frozen=True, eq=False)
class System:
    """The weak form of DESIGN 4.1 and 4.2, multiplied by μ0, on given elements.

    Parameters
    ----------
    elements : Elements
        Mesh and order.
    model : Model
        Constants by region and sheet.
    """

    elements: Elements
    model: Model

    @cached_property
    def reluctivity(self) -> ComplexArray:
        """ν/ν0 of each element [1]."""
        nu = np.ones(self.elements.mesh.triangles.shape[1], dtype=complex)
        for name, body in self.model.bodies.items():
            nu[self.elements.mesh.regions.get(name, slice(0, 0))] = body.reluctivity
        return nu

    @cached_property
    def eddy(self) -> ComplexArray:
        """jωμ0σ of each element [1/m²]."""
        eddy = np.zeros(self.elements.mesh.triangles.shape[1], dtype=complex)
        for name, body in self.model.bodies.items():
            factor = 1j * self.model.angular_frequency * MAGNETIC_CONSTANT * body.conductivity
            eddy[self.elements.mesh.regions.get(name, slice(0, 0))] = factor
        return eddy

    @cached_property
    def element_matrices(self) -> ComplexArray:
        """Each element's own part, shape (n_element, n_basis, n_basis)."""
        matrices = self.reluctivity[:, None, None] * self.elements.curl_matrices
        conducting = np.flatnonzero(self.eddy)
        matrices[conducting] += self.eddy[conducting, None, None] * self.elements.mass_matrices[conducting]
        return matrices

    @cached_property
    def line_matrices(self) -> list[tuple[Lines, ComplexArray]]:
        """Edges that add to the form, with their matrices: thin layers and the outer half circle."""
        terms = [(self.elements.outer, self.elements.outer_matrices.astype(complex))]
        for name, lines in self.elements.sheets.items():
            if name in self.model.sheets:
                terms.append((lines, self._sheet_matrices(name, lines)))
        return terms

    @cached_property
    def loops(self) -> "list[ClosedLoop]":
        """Layers wound as one spiral whose ends are joined: windings in which the field drives one common current."""
        found = []
        for name, lines in self.elements.sheets.items():
            terms = self.model.sheets.get(name)
            if terms is not None and terms.loop is not None:
                factor = 2j * np.pi * self.model.angular_frequency * MAGNETIC_CONSTANT / terms.loop.impedance
                found.append(ClosedLoop(name, lines, terms.loop.turn_density, factor, self.elements.count))
        return found

    def _sheet_matrices(self, name: str, lines: Lines) -> ComplexArray:
        closed, ribbon = self.sheet_constants(name)
        return closed * lines.mass_matrices + ribbon * lines.normal_matrices

    def sheet_constants(self, name: str) -> tuple[complex, complex]:
        """jωμ0σt [1/m] and the ribbon's magnetisation length [m] of a thin layer."""
        terms = self.model.sheets[name]
        factor = 1j * self.model.angular_frequency * MAGNETIC_CONSTANT
        return complex(factor * terms.conductance), complex(terms.magnetisation)

    @cached_property
    def matrix(self) -> csc_matrix:
        """The whole matrix but for the closed loops, on the axis too; real where every term is."""
        dofs = self.elements.dofs.T
        count = dofs.shape[1]
        return self._assembled(np.repeat(dofs, count, axis=1).ravel(), np.tile(dofs, (1, count)).ravel())

    def _assembled(self, rows: NDArray[np.integer], columns: NDArray[np.integer]) -> csc_matrix:
        """Everything but the closed loops, entries in the order of the element matrices; edges count with theirs."""
        matrices = self.element_matrices.copy()
        for lines, added in self.line_matrices:
            np.add.at(matrices, lines.elements, added)
        data = matrices.real.ravel() if self.model.lossless else matrices.ravel()
        return coo_matrix((data, (rows, columns)), shape=(self.elements.count, self.elements.count)).tocsc()

    @cached_property
    def _free_matrix(self) -> csc_matrix:
        count = self.elements.free.size
        return self._assembled(*self.elements.rows_and_columns)[:count, :count]

    @cached_property
    def _factors(self) -> SuperLU:
        """Columns are taken one by one: panels of several cost a quarter more on matrices as sparse as these."""
        return splu(
            self._free_matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            panel_size=1,
            options={"SymmetricMode": True},
        )

    def solve(self, loads: ComplexArray | Array) -> ComplexArray:
        """Potentials [V s/m] for right-hand sides of shape (n_unknown, n_load).

        Raises
        ------
        FieldError
            Where the factorisation breaks down or the residual is not small.

        Notes
        -----
        Many go in blocks: all at once take twice as long, since they do not fit into the processor's caches.
        """
        if loads.shape[1] > BLOCK:
            whole = np.zeros((self.elements.count, loads.shape[1]), dtype=complex)
            for start in range(0, loads.shape[1], BLOCK):
                part = slice(start, start + BLOCK)
                whole[:, part] = self.solve(loads[:, part])
            return whole
        free, right = self.elements.free, loads[self.elements.free]
        try:
            found = self._solve_free(right)
        except RuntimeError as fault:
            raise FieldError(
                f"the field matrix could not be factorised ({fault}); check the materials and sizes"
            ) from fault
        scale = np.abs(right).max(axis=0)
        residual = np.abs(self._times_free(found) - right).max(axis=0) / np.where(scale == 0.0, 1.0, scale)
        if not np.all(residual < RESIDUAL_BOUND):
            raise FieldError(
                f"the field solve left a relative residual of {residual.max():.1e}; ask for a coarser accuracy"
            )
        solution = np.zeros((self.elements.count, loads.shape[1]), dtype=complex)
        solution[free] = found
        return solution

    def _times_free(self, potentials: ComplexArray | Array) -> ComplexArray:
        """The matrix with the closed loops times potentials."""
        found = np.asarray(self._free_matrix @ potentials, dtype=complex)
        for loop in self.loops:
            own = loop.load[self.elements.free]
            found += loop.factor * np.outer(own, own @ potentials)
        return found

    def _solve_free(self, right: ComplexArray | Array) -> ComplexArray | Array:
        """The loops' terms are of rank one each: Woodbury's formula, with one more solve a loop."""
        found = self._solve_without_loops(right)
        if not self.loops:
            return found
        loads = np.stack([loop.load[self.elements.free] for loop in self.loops], axis=1)
        answers, coupling = self._loop_answers
        corrected: ComplexArray | Array = found - answers @ np.linalg.solve(coupling, loads.T @ found)
        return corrected

    @cached_property
    def _loop_answers(self) -> tuple[ComplexArray, ComplexArray]:
        """Potentials of the loops, each alone at unit load, and the small matrix that couples them."""
        loads = np.stack([loop.load[self.elements.free] for loop in self.loops], axis=1)
        answers = np.asarray(self._solve_without_loops(loads), dtype=complex)
        return answers, np.diag([1.0 / loop.factor for loop in self.loops]) + loads.T @ answers

    def _solve_without_loops(self, right: ComplexArray | Array) -> ComplexArray | Array:
        if not self.model.lossless:
            return np.asarray(self._factors.solve(right.astype(complex)))
        if np.iscomplexobj(right):
            return np.asarray(self._factors.solve(right.real.copy()) + 1j * self._factors.solve(right.imag.copy()))
        return np.asarray(self._factors.solve(right))

    def winding_load(self, region: str, area: float) -> Array:
        """Right-hand side of one ampere in one turn spread evenly over a winding's section [T m²]."""
        load = np.zeros(self.elements.count)
        members = self.elements.mesh.regions[region]
        np.add.at(load, self.elements.dofs[:, members].T, self.elements.loads[members] * (MAGNETIC_CONSTANT / area))
        return load

    def flux_linkage(self, potential: ComplexArray, region: str, area: float) -> complex:
        """Flux linkage of one turn spread evenly over a winding's section [V s]."""
        return complex(2.0 * np.pi / MAGNETIC_CONSTANT * (self.winding_load(region, area) @ potential))

    def reaction_load(self, given: FieldOf) -> ComplexArray:
        """Right-hand side −d(A, v) by which bodies and layers answer a given field A (DESIGN 4.7)."""
        load = np.zeros(self.elements.count, dtype=complex)
        members = np.flatnonzero((self.reluctivity != 1.0) | (self.eddy != 0.0))
        if members.size:
            self._add_body_reaction(load, members, given)
        for name, lines in self.elements.sheets.items():
            if name in self.model.sheets:
                closed, ribbon = self.sheet_constants(name)
                potential, _, normal = given(*lines.positions)
                density = closed * lines.values * potential + ribbon * lines.normal_fields * normal
                np.add.at(load, lines.dofs, -(density * lines.weights).sum(axis=-1))
        for loop in self.loops:
            load -= loop.factor * loop.given_linkage(given(*loop.lines.positions)[0]) * loop.load
        return load

    def _add_body_reaction(self, load: ComplexArray, members: IndexArray, given: FieldOf) -> None:
        elements = self.elements
        potential, radial, axial = given(*elements.positions[:, members])
        curls, weights = elements.curls[:, :, members], elements.weights[members]
        contrast = (self.reluctivity[members] - 1.0)[:, None] * weights
        answer = (curls[0] * (radial * contrast) + curls[1] * (axial * contrast)).sum(axis=-1)
        answer += (elements.values[:, members] * (self.eddy[members, None] * weights * potential)).sum(axis=-1)
        np.add.at(load, elements.dofs[:, members], -answer)
