"""What a steady field does to a tag's core: the flux that it gathers inside the winding, and the permeability left.

The field of the magnets is taken as the uniform axial one that would link as much flux with the winding, which the
tag's axial moments give by reciprocity, and a uniform transverse one. The core, of one permeability throughout, is
solved in a uniform axial field at several permeabilities; a law of saturation closes the circle from its flux density
back to its permeability.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp, hypot, log

import numpy as np
from scipy.optimize import brentq

from fem.arrays import Array
from fem.elements import Elements
from fem.magnet_field import magnets_flux_density
from fem.model import tag_model
from fem.regular_fields import uniform_field
from fem.system import System
from fem.tag_solution import AxialMoments
from geometries.magnet import Magnet
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import TAG_CORE, tag_plan
from geometries.saturation import Biased, SaturationLaw
from geometries.tag import Tag

LOWEST, STEPS = 2.0, 12
"""Permeabilities at which a core is solved: so many, in equal ratios from the lowest up to its own."""

ACROSS = 0.5
"""Demagnetising factor of a long round post across its axis; a drum's flanges take up part of the flux beside it."""

LEAST_SUSCEPTIBILITY = 1e-9
BORE_POINTS = 9
ELEMENT_ORDER = 2
STEADY = 0.0
"""Frequency [Hz]."""


@dataclass(frozen=True, slots=True)
class AppliedField:
    """A steady field at the core as if the core were not there: along the tag's axis (signed) and across it [T]."""

    axial: float
    transverse: float


@dataclass(frozen=True, slots=True)
class CoreBias:
    """A core in a steady field.

    ``state`` is that of its material inside the winding; ``permeability`` [1] is what a small signal along the axis
    meets: the slope of the law where the steady flux runs along it, its secant where it runs across, and between them
    by the square of the cosine.
    """

    applied: AppliedField
    state: Biased
    permeability: float


@dataclass(frozen=True, slots=True)
class Gathering:
    """How many times the flux density of a uniform axial field a core has inside its winding, by its permeability.

    ``permeabilities`` rise [1]; ``factors`` are the demagnetising factors there [1].
    """

    permeabilities: tuple[float, ...]
    factors: tuple[float, ...]

    def along(self, permeability: float) -> float:
        """Multiplication of an axial field [1]."""
        factor = float(np.interp(log(permeability), np.log(self.permeabilities), self.factors))
        return permeability / (1.0 + factor * (permeability - 1.0))

    def across(self, permeability: float) -> float:
        """Multiplication of a transverse field [1]."""
        return permeability / (1.0 + ACROSS * (permeability - 1.0))


def applied_field(
    tag: Tag, moments: AxialMoments, magnets: Iterable[Magnet], centre: Array | None = None, axes: Array | None = None
) -> AppliedField:
    """Steady field of magnets at a tag's core.

    Parameters
    ----------
    tag : Tag
    moments : AxialMoments
        Of the tag with its core unbiased; only their ratios count.
    magnets : iterable of Magnet
    centre : ndarray, shape (3,), optional
        The tag's centre in the magnets' axes [m]; the origin where left out.
    axes : ndarray, shape (3, 3), optional
        The tag's x, y and z axes, a row each, in the magnets' axes; the same ones where left out.

    Notes
    -----
    Σ c_k b_k / c_0, b_k being the axial field's profile: weighted by where core and winding are sensitive. The moments
    hold for fields whose sources lie outside the sphere about the tag; where a magnet reaches into it, the plain mean
    along the winding's bore is taken.
    """
    magnets = tuple(magnets)
    middle = np.zeros(3) if centre is None else np.asarray(centre, dtype=float)
    frame = np.eye(3) if axes is None else np.asarray(axes, dtype=float)

    def field_at(distances: Array) -> Array:
        return np.asarray(frame @ magnets_flux_density(magnets, middle[:, None] + np.outer(frame[2], distances)))

    x, weights = np.polynomial.legendre.leggauss(BORE_POINTS)
    section = tag.section
    bore = field_at(0.5 * (section.bottom + section.top) + 0.5 * section.winding_length * x)
    mean = 0.5 * bore @ weights
    axial = float(mean[2])
    if all(_distance(magnet, middle) > tag.sphere_radius for magnet in magnets):
        axial = float(moments.weights.real @ field_at(moments.nodes)[2] / moments.moments[0].real)
    return AppliedField(axial, hypot(float(mean[0]), float(mean[1])))


def core_bias(tag: Tag, applied: AppliedField, temperature: float) -> CoreBias | None:
    """State of a tag's core in a steady field.

    Parameters
    ----------
    tag : Tag
        Its core's material as it is unbiased.
    applied : AppliedField
        Without the core.
    temperature : float
        Of the core [°C], for its saturation flux density.

    Returns
    -------
    CoreBias or None
        None without a core, above its Curie temperature, and where its saturation flux density is not known.

    Raises
    ------
    MeshingError, FieldError
        Where the core cannot be solved.
    """
    material = None if tag.core is None else tag.core.material
    saturation = None if material is None else material.saturation(temperature)
    if material is None or not saturation or material.relative_permeability <= 1.0 + LEAST_SUSCEPTIBILITY:
        return None
    law = SaturationLaw(material.relative_permeability, saturation)
    gathering = core_gathering(_bare(tag))

    def gathered(permeability: float) -> float:
        along, across = gathering.along(permeability), gathering.across(permeability)
        return hypot(along * applied.axial, across * applied.transverse)

    if gathered(law.initial_permeability) == 0.0:
        return CoreBias(applied, law.at_flux_density(0.0), law.initial_permeability)

    def excess(logarithm: float) -> float:
        permeability = 1.0 + exp(logarithm)
        return log(gathered(permeability)) - log(law.at_secant(permeability).flux_density)

    # The law's flux density rises without bound as the permeability falls to 1, the gathered one falls: one crossing.
    low, high = (log(share * (law.initial_permeability - 1.0)) for share in (LEAST_SUSCEPTIBILITY, 1.0 - 1e-12))
    if excess(high) <= 0.0:  # too weak a field to move it
        return CoreBias(applied, law.at_flux_density(gathered(law.initial_permeability)), law.initial_permeability)
    state = law.at_secant(1.0 + exp(brentq(excess, low, high, xtol=1e-12)))
    along = gathering.along(state.secant_permeability) * applied.axial / state.flux_density
    share = min(along * along, 1.0)
    small = share * state.incremental_permeability + (1.0 - share) * state.secant_permeability
    return CoreBias(applied, state, small)


@lru_cache(maxsize=64)
def core_gathering(tag: Tag) -> Gathering:
    """A core's multiplication of a uniform axial field inside its winding, from field solves.

    Good to about 2e-3 at the permeabilities solved for; turns, wire and losses play no part.
    """
    assert tag.core is not None, "only a core gathers flux"
    elements = Elements(section_mesh(tag_plan(tag, STEADY)), ELEMENT_ORDER)
    own = tag.core.material.relative_permeability
    permeabilities = np.geomspace(min(LOWEST, own), own, STEPS) if own > LOWEST else np.array([own])
    factors = tuple(_demagnetising_factor(tag, elements, float(value)) for value in permeabilities)
    return Gathering(tuple(map(float, permeabilities)), factors)


def _demagnetising_factor(tag: Tag, elements: Elements, permeability: float) -> float:
    """N of B = μ/(1 + N(μ − 1)) B_0, B the mean axial flux density of the core inside the winding."""
    assert tag.core is not None, "only a core has one"
    material = Material("core", relative_permeability=permeability)
    system = System(elements, tag_model(replace(tag, core=replace(tag.core, material=material)), STEADY))
    answer = system.solve(system.reaction_load(uniform_field)[:, None])[:, 0]
    members = elements.mesh.regions[TAG_CORE]
    z = elements.positions[1][members]
    weights = elements.weights[members] * ((z > tag.section.bottom) & (z < tag.section.top))
    axial = 1.0 + np.einsum("bep,be->ep", elements.curls[1][:, members], answer[elements.dofs[:, members]]).real
    ratio = float((weights * axial).sum() / weights.sum())
    return (permeability / ratio - 1.0) / (permeability - 1.0)


def _bare(tag: Tag) -> Tag:
    """What a steady field meets of a tag: no can that conducts, no losses, nothing of its wire."""
    assert tag.core is not None, "only asked of a core"
    material = Material("core", relative_permeability=tag.core.material.relative_permeability)
    core = replace(tag.core, material=material)
    return replace(tag, turns=1.0, core=core, wire=None, series_resistance=None, shield=None)


def _distance(magnet: Magnet, point: Array) -> float:
    """From a point to the nearest of the box about a magnet [m]."""
    beyond = [max(low - at, at - high, 0.0) for low, at, high in zip(magnet.low, point, magnet.high, strict=True)]
    return float(np.linalg.norm(beyond))
