"""Terminal quantities from the fields themselves: energy and loss, to hold against flux linkage and input power.

With the symmetric matrix these are identities whatever the mesh: they test the code, not its accuracy (DESIGN 4.6).
"""

import numpy as np

from fem.arrays import Array, ComplexArray
from fem.elements import Lines
from fem.system import ClosedLoop, System
from geometries.constants import MAGNETIC_CONSTANT


def linkage_by_energy(system: System, potential: ComplexArray) -> complex:
    """Flux linkage per ampere that the energy and the losses of a field of one ampere amount to [H].

    Parameters
    ----------
    system : System
        The discretisation.
    potential : ndarray of complex, shape (n_unknown,)
        Solution for a winding that carries 1 A peak.

    Returns
    -------
    complex
        L − jR/ω: twice the mean stored energy over the square of the rms current, and the loss over ω and that square.

    Notes
    -----
    (2π/μ0) [∫ (ν/ν0 |B|² + jωμ0σ |A|²) r dS + ∫_S β |A|² r dl + Σ sheets] conjugated, from fields at the quadrature
    points; β |A|² is the energy outside the half circle.
    """
    elements = system.elements
    coefficients = potential[elements.dofs]
    field = np.einsum("cbep,be->cep", elements.curls, coefficients)
    total = (system.reluctivity * _summed((np.abs(field) ** 2).sum(axis=0), elements.weights)).sum()
    conducting = np.flatnonzero(system.eddy)
    values = np.einsum("bep,be->ep", elements.values[:, conducting], coefficients[:, conducting])
    total += (system.eddy[conducting] * _summed(np.abs(values) ** 2, elements.weights[conducting])).sum()
    total += _outside(system, potential)
    for name, lines in elements.sheets.items():
        if name in system.model.sheets:
            closed, ribbon = system.sheet_constants(name)
            along, through = _trace(lines, lines.values, potential), _trace(lines, lines.normal_fields, potential)
            total += ((closed * np.abs(along) ** 2 + ribbon * np.abs(through) ** 2) * lines.weights).sum()
    total += sum(_loop_part(system, loop, potential) for loop in system.loops)
    return complex(np.conj(2.0 * np.pi / MAGNETIC_CONSTANT * total))


def _summed(values: Array, weights: Array) -> Array:
    return np.asarray((values * weights).sum(axis=-1))


def _trace(lines: Lines, functions: Array, potential: ComplexArray) -> ComplexArray:
    return np.asarray(np.einsum("bep,be->ep", functions, potential[lines.dofs]))


def _outside(system: System, potential: ComplexArray) -> float:
    lines = system.elements.outer
    r, z = lines.positions[0], lines.positions[1] - system.elements.mesh.centre
    beta = 3.0 * (lines.normals[0] * r + lines.normals[1] * z) / (r * r + z * z) - 2.0 * lines.normals[0] / r
    return float((beta * np.abs(_trace(lines, lines.values, potential)) ** 2 * lines.weights).sum())


def _loop_part(system: System, loop: ClosedLoop, potential: ComplexArray) -> complex:
    """A joined spiral's |I|² (L − R/(jω)) in the units of the sum, from the current that its flux drives."""
    terms = system.model.sheets[loop.name].loop
    assert terms is not None, "a closed loop has the terms of one"
    linkage = 2.0 * np.pi * loop.turn_density * (_trace(loop.lines, loop.lines.values, potential) * loop.lines.weights)
    omega = system.model.angular_frequency
    current = -1j * omega * linkage.sum() / terms.impedance
    stored_and_lost = terms.impedance.imag / omega + 1j * terms.impedance.real / omega
    return complex(abs(current) ** 2 * stored_and_lost * MAGNETIC_CONSTANT / (2.0 * np.pi))
