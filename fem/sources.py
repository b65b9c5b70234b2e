"""Every source of a solved field as rings round the axis: winding, induced current, magnetisation.

Outside all of them the field follows from these rings by an integral that is far more accurate than the
elements themselves: its error is a product of two discretisation errors, like that of M (DESIGN 4.6).
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ellipe, ellipkm1

from fem.arrays import Array, ComplexArray
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """Rings of current and of magnetic moment, arrays of shape (n_ring,); for many cases, strengths (n_ring, n_case).

    Parameters
    ----------
    radius, height : ndarray
        [m].
    weight : ndarray
        r dS (or r dl) [m³ or m²].
    current : ndarray
        Azimuthal current density J [A/m² or A/m].
    radial, axial : ndarray
        Magnetisation M_r, M_z [A/m or A].
    name : str
        Of the body or layer of the mesh; empty for a winding.
    """

    radius: Array
    height: Array
    weight: Array
    current: ComplexArray
    radial: ComplexArray
    axial: ComplexArray
    name: str = ""

    @property
    def magnetised(self) -> bool:
        """Whether any ring carries a moment."""
        return bool(np.any(self.radial) or np.any(self.axial))

    @property
    def top(self) -> float:
        """Height of the highest ring [m]."""
        return float(self.height.max())

    @property
    def moment(self) -> complex:
        """Magnetic moment along the axis [A m²]."""
        return complex(self.moments)

    @property
    def moments(self) -> ComplexArray:
        """The same of every case, shape (n_case,), or () of a single one."""
        return np.asarray(np.pi * ((self.weight * self.radius) @ self.current + 2.0 * self.weight @ self.axial))

    def potential_over_radius(self, r: Array, z: Array) -> ComplexArray:
        """A/r at places off the axis and outside the sources [T], shape of ``r``, the cases behind it.

        Notes
        -----
        By reciprocity from the field of a unit ring through the place: r A = Σ w (J A_ring + M · B_ring).
        """
        cases = self.current.shape[1:]
        found = np.empty((r.size, *cases), dtype=complex)
        step = max(1, 400_000 // self.radius.size)
        for start in range(0, r.size, step):
            place = slice(start, start + step)
            found[place] = self._integral(r.ravel()[place, None], z.ravel()[place, None])
        return np.asarray(found.reshape(*r.shape, *cases) / (r**2).reshape(*r.shape, *(1,) * len(cases)))

    def _integral(self, r: Array, z: Array) -> ComplexArray:
        if not self.magnetised:
            return np.asarray(unit_ring_potential(r, z, self.radius, self.height) @ self._weighted(self.current))
        potential, radial, axial = unit_ring(r, z, self.radius, self.height)
        found = potential @ self._weighted(self.current)
        return np.asarray(found + radial @ self._weighted(self.radial) + axial @ self._weighted(self.axial))

    def _weighted(self, strengths: ComplexArray) -> ComplexArray:
        return np.asarray((self.weight * strengths.T).T)

    def axial_flux_density(self, z: Array) -> ComplexArray:
        """B_z on the axis [T], shape of ``z``, the cases behind it."""
        d = np.asarray(z).reshape(-1, 1) - self.height
        square = self.radius**2 + d * d
        scale = 0.5 * MAGNETIC_CONSTANT / square**1.5
        found = (scale * self.radius) @ self._weighted(self.current)
        if self.magnetised:
            found = found - (scale * 3.0 * d * self.radius / square) @ self._weighted(self.radial)
            found = found + (scale * (3.0 * d * d / square - 1.0)) @ self._weighted(self.axial)
        return np.asarray(found, dtype=complex).reshape(*np.shape(z), *self.current.shape[1:])


def unit_ring(radius: Array, height: Array, r: Array, z: Array) -> tuple[Array, Array, Array]:
    """A, B_r and B_z of a ring carrying 1 A, by fast elliptic integrals; arguments broadcast.

    Notes
    -----
    Maxwell's form: it loses digits where k² is small (1e-16/k⁴ relative), which does not matter in a sum over rings
    and makes it five times quicker than the cancellation-free ``closed_forms.loop_flux_density``.
    """
    d = z - height
    outer = (r + radius) ** 2 + d * d
    inner = (r - radius) ** 2 + d * d
    m1 = inner / outer
    first, second = ellipkm1(m1), ellipe(1.0 - m1)
    root = np.sqrt(outer)
    scale = MAGNETIC_CONSTANT / (2.0 * np.pi)
    potential = scale * root / r * ((0.5 + 0.5 * m1) * first - second)
    axial = scale / root * (first + (radius**2 - r * r - d * d) / inner * second)
    radial = scale * d / (r * root) * ((radius**2 + r * r + d * d) / inner * second - first)
    return potential, radial, axial


def unit_ring_potential(radius: Array, height: Array, r: Array, z: Array) -> Array:
    """A alone of such a ring: all that currents need, at three fifths of the time."""
    square = (z - height) ** 2
    outer = (r + radius) ** 2 + square
    m1 = ((r - radius) ** 2 + square) / outer
    scale = MAGNETIC_CONSTANT / (2.0 * np.pi)
    return np.asarray(scale * np.sqrt(outer) / r * ((0.5 + 0.5 * m1) * ellipkm1(m1) - ellipe(1.0 - m1)))


def winding_rings(section: WindingSection, points: int = 8) -> Rings:
    """A winding section with one ampere in one turn as Gauss points."""
    nodes, weights = np.polynomial.legendre.leggauss(points)
    r = section.mean_radius + 0.5 * section.radial_build * nodes
    z = section.mid_height + 0.5 * section.winding_length * nodes
    radius, height = (a.ravel() for a in np.meshgrid(r, z, indexing="ij"))
    share = np.outer(weights, weights).ravel() / 4.0
    none = np.zeros(radius.size, dtype=complex)
    return Rings(
        radius, height, share * section.area * radius, np.full(radius.size, 1.0 / section.area + 0j), none, none
    )


def induced_rings(system: System, potential: ComplexArray) -> list[Rings]:
    """Induced currents and magnetisation of bodies and thin layers, one group a body."""
    bodies = [
        _body_rings(system, potential, name) for name in system.model.bodies if name in system.elements.mesh.regions
    ]
    return bodies + [
        _sheet_rings(system, potential, name) for name in system.elements.sheets if name in system.model.sheets
    ]


def _body_rings(system: System, potential: ComplexArray, name: str) -> Rings:
    elements = system.elements
    members = elements.mesh.regions[name]
    coefficients = potential[elements.dofs[:, members]]
    values = np.einsum("bep,be->ep", elements.values[:, members], coefficients)
    radial, axial = np.einsum("cbep,be->cep", elements.curls[:, :, members], coefficients)
    eddy, contrast = system.eddy[members, None], 1.0 - system.reluctivity[members, None]
    return Rings(
        elements.positions[0, members].ravel(),
        elements.positions[1, members].ravel(),
        elements.weights[members].ravel(),
        (-eddy * values / MAGNETIC_CONSTANT).ravel(),
        (contrast * radial / MAGNETIC_CONSTANT).ravel(),
        (contrast * axial / MAGNETIC_CONSTANT).ravel(),
        name,
    )


def _sheet_rings(system: System, potential: ComplexArray, name: str) -> Rings:
    lines = system.elements.sheets[name]
    closed, ribbon = system.sheet_constants(name)
    values = np.einsum("bep,be->ep", lines.values, potential[lines.dofs])
    normal = np.einsum("bep,be->ep", lines.normal_fields, potential[lines.dofs])
    none = np.zeros(values.size, dtype=complex)
    common = sum(loop.sheet_current(potential) for loop in system.loops if loop.name == name)
    return Rings(
        lines.positions[0].ravel(),
        lines.positions[1].ravel(),
        lines.weights.ravel(),
        (common - closed * values / MAGNETIC_CONSTANT).ravel(),
        none,
        (-ribbon * normal / MAGNETIC_CONSTANT).ravel(),
    )
