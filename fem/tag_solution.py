"""The tag alone, solved once in its own axes: inductance, core loss and axial moments."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from fem.arrays import Array, ComplexArray
from fem.boundary import returned_flux_linkage
from fem.model import tag_model
from fem.refinement import Goal, Solved, solved_to_accuracy
from fem.regular_fields import regular_field, uniform_field
from fem.sources import Rings, induced_rings
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import section_mesh
from geometries.plan import TAG_CORE, TAG_SHIELD, TAG_WINDING, tag_plan
from geometries.tag import Tag

MOMENT_COUNT = 9
OWN, UNIFORM = 0, 1


@dataclass(frozen=True, eq=False)
class AxialMoments:
    """All that a base field sees of a tag: M = Σ c_k b_k, with B_n(s) = Σ b_k (s/a)^k along the tag's axis.

    Parameters
    ----------
    moments : ndarray of complex, shape (n,)
        c_k per ampere, the base field's profile in units of a [m²].
    scale : float
        a, the radius of the sphere about the tag's centre that holds it [m].
    """

    moments: ComplexArray
    scale: float

    def times(self, factor: float) -> "AxialMoments":
        """The moments of a coil with ``factor`` times the turns."""
        return AxialMoments(self.moments * factor, self.scale)

    @cached_property
    def nodes(self) -> Array:
        """Distances from the centre along the tag's axis at which the base field is sampled [m], shape (n,)."""
        return np.asarray(self.scale * np.polynomial.chebyshev.chebpts1(self.moments.size))

    @cached_property
    def weights(self) -> ComplexArray:
        """Weights of the samples: M = Σ weights · B_n(nodes) [m²], shape (n,)."""
        vandermonde = np.vander(self.nodes / self.scale, increasing=True)
        return np.asarray(np.linalg.solve(vandermonde.T, self.moments))

    @cached_property
    def either_side(self) -> tuple[Array, ComplexArray]:
        """Nodes from the centre to one side [m], and the weights there and at the same distances on the other side."""
        half = self.moments.size // 2
        weights = np.zeros((2, self.moments.size - half), dtype=complex)
        weights[0] = self.weights[half:]
        weights[1, -half:] = self.weights[:half][::-1]  # a sample at the centre counts once
        return self.nodes[half:], weights


@dataclass(frozen=True, slots=True, eq=False)
class TagSolution:
    """A tag alone in air; everything per turn, so that N turns give N² L and N c_k.

    Parameters
    ----------
    flux_linkage : complex
        Per turn² [H]; its imaginary part is the loss of core and shield, R = −ω Im.
    moments : AxialMoments
        Per turn.
    polarisability : complex
        Magnetic moment of core and shield, induced currents and all, per unit of axial field H [m³].
    field_square_length : float
        ∫ |H|² 2πr dS / section area per ampere-turn² [A²/m per A²]: what proximity losses follow.
    inductance_error, moment_error : float
        Estimated, relative.
    winding, core, shield : Rings
        The sources themselves, for the volume integral; None where there is no such part.
    triangles : int
        Of the last mesh.
    """

    flux_linkage: complex
    moments: AxialMoments
    polarisability: complex
    field_square_length: float
    inductance_error: float
    moment_error: float
    winding: Rings
    core: Rings | None
    triangles: int
    shield: Rings | None = None

    @property
    def sources(self) -> tuple[Rings, ...]:
        """Everything of the tag that makes a field: winding, core, shield."""
        return tuple(rings for rings in (self.winding, self.core, self.shield) if rings is not None)


@lru_cache(maxsize=256)
def tag_solution(tag: Tag, frequency: float, accuracy: float) -> TagSolution:
    """Solve ``tag`` alone, one ampere in one turn, to ``accuracy``; its turns and wire play no part.

    Raises
    ------
    AccuracyError, FieldError, MeshingError
        Where it cannot be solved.
    """

    def loads(system: System) -> ComplexArray:
        own = system.winding_load(TAG_WINDING, tag.section.area)
        return np.stack([own, system.reaction_load(uniform_field)], axis=1)

    def own_linkage(system: System, potentials: ComplexArray) -> complex:
        return linkage(system, potentials[:, OWN], tag)

    def dipole_moment(system: System, potentials: ComplexArray) -> complex:
        return complex(axial_moments(system, potentials[:, OWN], tag, 1)[0])

    goals = (Goal(OWN, OWN, accuracy, own_linkage), Goal(OWN, UNIFORM, accuracy, dipole_moment))
    solved = solved_to_accuracy(section_mesh(tag_plan(tag, frequency)), tag_model(tag, frequency), loads, goals)
    return _gathered(tag, solved)


def _gathered(tag: Tag, solved: Solved) -> TagSolution:
    system, own = solved.system, solved.potentials[:, OWN]
    flux_linkage = linkage(system, own, tag)
    moments = axial_moments(system, own, tag, MOMENT_COUNT)
    echo = returned_flux_linkage(system, own, system.winding_load(TAG_WINDING, tag.section.area))
    rings = dict(zip(system.model.bodies, induced_rings(system, own), strict=True))
    return TagSolution(
        flux_linkage,
        AxialMoments(moments, tag.sphere_radius),
        polarisability(system, solved.potentials[:, UNIFORM]),
        field_square_length(system, own, TAG_WINDING),
        (solved.errors[0] + echo) / abs(flux_linkage),
        (solved.errors[1] / abs(moments[0])) + echo / abs(flux_linkage),
        winding_points(system, TAG_WINDING, tag.section.area),
        rings.get(TAG_CORE),
        system.elements.mesh.triangles.shape[1],
        rings.get(TAG_SHIELD),
    )


def linkage(system: System, potential: ComplexArray, tag: Tag) -> complex:
    """Flux linkage of one turn of the tag's winding [V s]."""
    return system.flux_linkage(potential, TAG_WINDING, tag.section.area)


def axial_moments(system: System, potential: ComplexArray, tag: Tag, count: int) -> ComplexArray:
    """c_k = ∫ A_k · J dV + ∫ B_k · M dV [m²]."""
    groups = [winding_points(system, TAG_WINDING, tag.section.area), *induced_rings(system, potential)]
    found = np.zeros(count, dtype=complex)
    for rings in groups:
        for k in range(count):
            a, b_r, b_z = regular_field(k, tag.sphere_radius, rings.radius, rings.height)
            density = a * rings.current + b_r * rings.radial + b_z * rings.axial
            found[k] += 2.0 * np.pi * (rings.weight * density).sum()
    return found


def winding_points(system: System, region: str, area: float) -> Rings:
    """A winding's uniform current at the quadrature points of its elements."""
    members = system.elements.mesh.regions[region]
    r, z = system.elements.positions[:, members].reshape(2, -1)
    none = np.zeros(r.size, dtype=complex)
    weight = system.elements.weights[members].ravel()
    return Rings(r, z, weight, np.full(r.size, 1.0 / area + 0j), none, none)


def polarisability(system: System, answer: ComplexArray) -> complex:
    """Axial moment of magnetisation and induced current in a uniform field, per unit H [m³]."""
    total = 0.0 + 0.0j
    for name in system.model.bodies:
        members = system.elements.mesh.regions[name]
        coefficients = answer[system.elements.dofs[:, members]]
        places = system.elements.positions[:, members]
        given, _, along = uniform_field(*places)
        axial = along + np.einsum("bep,be->ep", system.elements.curls[1][:, members], coefficients)
        potential = given + np.einsum("bep,be->ep", system.elements.values[:, members], coefficients)
        contrast, eddy = 1.0 - system.reluctivity[members, None], system.eddy[members, None]
        density = contrast * axial - 0.5 * places[0] * eddy * potential
        total += 2.0 * np.pi * (system.elements.weights[members] * density).sum()
    return complex(total)


def field_square_length(system: System, potential: ComplexArray, region: str) -> float:
    """∫ |H|² 2πr dS / area over a winding's section, per ampere-turn² [A²/m per A²]."""
    members = system.elements.mesh.regions[region]
    field = np.einsum("cbep,be->cep", system.elements.curls[:, :, members], potential[system.elements.dofs[:, members]])
    square = (np.abs(field) ** 2).sum(axis=0) / MAGNETIC_CONSTANT**2
    weights = system.elements.weights[members]
    area = (weights / system.elements.positions[0, members]).sum()
    return float(2.0 * np.pi * (weights * square).sum() / area)
