"""What the outer half circle, exact for a dipole only, sends back (DESIGN 4.1)."""

import numpy as np
from scipy.special import lpmv

from fem.arrays import Array, ComplexArray
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT

DEGREES = (2, 3, 4)


def returned_flux_linkage(system: System, potential: ComplexArray, load: Array) -> float:
    """Bound of the flux linkage that the boundary's echo of degrees 2 to 4 adds to a winding [V s].

    Notes
    -----
    A part of degree l outside the sources, p ρ^{−(l+1)}, comes back as q ρ^l with
    q/p = (l−1)/(l+2) R^{−(2l+1)}, so that of the boundary value the share (l−1)/(2l+1) is echo.
    """
    mesh, elements = system.elements.mesh, system.elements
    reached = np.flatnonzero((load != 0.0)[elements.dofs].any(axis=0))  # others' values meet no load
    r, z = elements.positions[:, reached] - np.array([0.0, mesh.centre])[:, None, None]
    distance = np.hypot(r, z)
    echo = np.zeros_like(distance)
    for degree in DEGREES:
        share = abs(complex(_projection(system, potential, degree))) * (degree - 1.0) / (2.0 * degree + 1.0)
        echo += share * np.abs((distance / mesh.outer_radius) ** degree * lpmv(1, degree, z / distance))
    nodal = np.zeros(elements.count)
    dofs = elements.dofs[:, reached]
    np.maximum.at(nodal, dofs, np.broadcast_to(echo.max(axis=1), dofs.shape))
    return float(2.0 * np.pi / MAGNETIC_CONSTANT * (np.abs(load) @ nodal))


def returned_reaction(system: System, first: ComplexArray, second: ComplexArray) -> tuple[float, float]:
    """What the same echo adds to 2π a(A_first, A_second) of two reaction fields: to its real and imaginary part [H].

    Returns
    -------
    real, imaginary : float
        Sizes of the two parts [H].

    Notes
    -----
    The condition's coefficient is 1/R where a part of degree l wants l/R; that difference, 2π/μ0 (l − 1)/R ∫ A A r dl,
    is taken with the boundary values as they are, echo included, which makes it a quarter too large for l = 2. The
    coils may lie outside the half circle: their own field does not come into it.
    """
    return returned_products(boundary_parts(system, first), boundary_parts(system, second))


def boundary_parts(system: System, potentials: ComplexArray) -> ComplexArray:
    """Parts of degree 2 to 4 of boundary values, scaled so that their products are what comes back [H^½].

    ``potentials`` has the shape (n_unknown, …), the result (n_degree, …).
    """
    radius = system.elements.mesh.outer_radius
    parts = []
    for degree in DEGREES:
        norm = 2.0 * degree * (degree + 1.0) / (2.0 * degree + 1.0)
        factor = 2.0 * np.pi / MAGNETIC_CONSTANT * (degree - 1.0) * radius * norm
        parts.append(np.sqrt(factor) * _projection(system, potentials, degree))
    return np.array(parts)


def returned_products(first: ComplexArray, second: ComplexArray) -> tuple[float, float]:
    """Real and imaginary size of what comes back, from the `boundary_parts` of two fields [H]."""
    products = first * second
    return float(np.abs(products.real).sum()), float(np.abs(products.imag).sum())


def _projection(system: System, potentials: ComplexArray, degree: int) -> ComplexArray:
    """Coefficients of P_l¹(cos θ) in potentials on the outer half circle [T m], the shape behind their unknowns."""
    lines, mesh = system.elements.outer, system.elements.mesh
    z = np.clip((lines.positions[1] - mesh.centre) / mesh.outer_radius, -1.0, 1.0)
    legendre = lpmv(1, degree, z) * lines.weights
    norm = 2.0 * degree * (degree + 1.0) / (2.0 * degree + 1.0)
    loads = np.zeros(potentials.shape[0])
    np.add.at(loads, lines.dofs, (lines.values * legendre).sum(axis=-1))
    return np.asarray(loads @ potentials / (mesh.outer_radius**2 * norm))
