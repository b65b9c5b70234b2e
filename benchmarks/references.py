"""What is taken for the truth: the same design on finer meshes, its outer boundary far away, taken to the limit.

The boundary lies five times as far off as in the program: its echo, of degree l ≥ 2, falls to a thousandth or less.
Each mesh is refined until cubic and quadratic elements differ by half of what the program lets them differ by, and
once more. The values on the last three meshes fall towards their limit geometrically (at a ferrite's corner by 2^(4/3)
a refinement), so the limit is known better than the last value.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fem.air_field import AirField, AirSpace, air_field
from fem.arrays import ComplexArray
from fem.base_solution import BaseProblem
from fem.dipole import axial_dipole
from fem.elements import Elements
from fem.estimate import estimated_error
from fem.model import Model, joined, stack_model, tag_model
from fem.near_places import volume_at
from fem.refinement import both_orders, marked, refined
from fem.regular_fields import uniform_field
from fem.sources import Rings, induced_rings, winding_rings
from fem.system import System
from fem.tag_map import axis_mutual_inductance, mutual_inductance_at
from fem.tag_solution import MOMENT_COUNT, AxialMoments, axial_moments, field_square_length, winding_points
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, TAG_WINDING, MeshPlan, axis_plan, base_plan, tag_plan
from geometries.section import WindingSection
from geometries.tag import Tag

FARTHER = 5.0
"""Outer radius of a reference over the program's."""

FINER = 2.0
"""Accuracy that the program is asked for over that of a reference."""

LARGEST_RATIO = 0.6
"""Of one step to the one before: 2^(−2λ) is 1/2 at the end of a sheet, the worst there is."""


CLEAR_SHARE = 0.4
RING_FIELDS = ("radius", "height", "weight", "current", "radial", "axial")
ENOUGH_TRIANGLES = 2_500
"""From here on one mesh beyond the program's own accuracy has to do."""


Values = Callable[[System, ComplexArray], ComplexArray]
Loads = Callable[[System], ComplexArray]


@dataclass(frozen=True, eq=False)
class Reference:
    """Values on the last three meshes, shape (3, n_value), and the last cubic solution."""

    values: ComplexArray
    system: System
    potentials: ComplexArray


def limit(values: ComplexArray) -> tuple[complex, float]:
    """Limit of three values that converge geometrically, and how far the last still is from it.

    Where they do not, the last value and the last step.
    """
    first, second = values[1] - values[0], values[2] - values[1]
    if abs(second) == 0.0:
        return complex(values[2]), 0.0
    ratio = (second / first).real if first else 1.0
    if not 0.0 < ratio < LARGEST_RATIO:
        return complex(values[2]), float(abs(second))
    rest = second * ratio / (1.0 - ratio)
    return complex(values[2] + rest), float(abs(rest))


@dataclass(frozen=True, slots=True)
class Wanted:
    """Loads, the pairs of them to refine for, accuracy, and the values to keep; the first ones go with the pairs."""

    loads: Loads
    pairs: tuple[tuple[int, int], ...]
    accuracy: float
    values: Values


def refined_reference(plan: MeshPlan, model: Model, wanted: Wanted) -> Reference:
    """Refine beyond the accuracy for every pair, on three meshes at least; the last in cubic elements alone."""
    mesh = section_mesh(replace(plan, outer_radius=FARTHER * plan.outer_radius))
    found: list[ComplexArray] = []
    while True:
        orders = both_orders(mesh, model, wanted.loads)
        found.append(wanted.values(orders.cubic, orders.fine))
        parts = [orders.contributions(*pair) for pair in wanted.pairs]
        differences = [estimated_error(part) / abs(size) for part, size in zip(parts, found[-1], strict=False)]
        indicator = sum(np.abs(part / size) for part, size in zip(parts, found[-1], strict=False))
        enough = mesh.triangles.shape[1] > ENOUGH_TRIANGLES
        mesh = refined(mesh, marked(np.asarray(indicator)))
        beyond = wanted.accuracy if enough else wanted.accuracy / FINER
        if len(found) >= 2 and max(differences) <= beyond:
            break
    last = System(Elements(mesh, 3), model)
    potentials = last.solve(wanted.loads(last))
    found.append(wanted.values(last, potentials))
    return Reference(np.stack(found[-3:]), last, potentials)


def base_reference(problem: BaseProblem, moments: AxialMoments, height: float) -> tuple[Reference, list[Rings]]:
    """Flux linkage, the axial field at each probe, ∫|H|² of the winding, M on the axis; all sources of the field."""
    area = problem.section.area
    probes = [axial_dipole(height) for height in problem.probe_heights]

    def loads(system: System) -> ComplexArray:
        columns = [system.winding_load(BASE_WINDING, area), *(system.reaction_load(probe) for probe in probes)]
        return np.stack(columns, axis=1).astype(complex)

    def values(system: System, potentials: ComplexArray) -> ComplexArray:
        own = potentials[:, 0]
        sources = [winding_rings(problem.section), *induced_rings(system, own)]
        heights = np.array(problem.probe_heights)
        field = sum(rings.axial_flux_density(heights) for rings in sources)
        length = field_square_length(system, own, BASE_WINDING)
        mutual = axis_mutual_inductance(tuple(sources), moments, np.array(height))
        return np.array([system.flux_linkage(own, BASE_WINDING, area), *np.atleast_1d(field), length, mutual])

    pairs = tuple((0, number) for number in range(len(probes) + 1))
    plan = base_plan(problem.stack, problem.section, problem.frequency)
    wanted = Wanted(loads, pairs, problem.accuracy, values)
    found = refined_reference(plan, stack_model(problem.stack, problem.frequency), wanted)
    return found, [winding_rings(problem.section), *induced_rings(found.system, found.potentials[:, 0])]


def tag_reference(
    tag: Tag, frequency: float, accuracy: float, base: WindingSection, height: float
) -> tuple[Reference, AxialMoments, Rings]:
    """Flux linkage, c_0, M on the axis with the base coil alone, of one turn; all moments; the sources themselves."""
    coil = (winding_rings(base),)

    def loads(system: System) -> ComplexArray:
        own = system.winding_load(TAG_WINDING, tag.section.area)
        return np.stack([own, system.reaction_load(uniform_field)], axis=1).astype(complex)

    def values(system: System, potentials: ComplexArray) -> ComplexArray:
        moments = AxialMoments(axial_moments(system, potentials[:, 0], tag, MOMENT_COUNT), tag.sphere_radius)
        mutual = axis_mutual_inductance(coil, moments, np.array(height))
        own = system.flux_linkage(potentials[:, 0], TAG_WINDING, tag.section.area)
        return np.array([own, moments.moments[0], mutual])

    wanted = Wanted(loads, ((0, 0), (0, 1)), accuracy, values)
    found = refined_reference(tag_plan(tag, frequency), tag_model(tag, frequency), wanted)
    own = found.potentials[:, 0]
    moments = AxialMoments(axial_moments(found.system, own, tag, MOMENT_COUNT), tag.sphere_radius)
    groups = [winding_points(found.system, TAG_WINDING, tag.section.area), *induced_rings(found.system, own)]
    return found, moments, joined_rings(groups)


def axis_reference(problem: BaseProblem, tag: Tag, height: float) -> Reference:
    """M per turn² of the two coils on one axis, everything meshed: nothing of the map is used."""
    areas = ((BASE_WINDING, problem.section.area), (TAG_WINDING, tag.section.area))

    def loads(system: System) -> ComplexArray:
        return np.stack([system.winding_load(*area) for area in areas], axis=1).astype(complex)

    def values(system: System, potentials: ComplexArray) -> ComplexArray:
        return np.array([system.flux_linkage(potentials[:, 1], *areas[0])])

    plan = axis_plan(problem.stack, problem.section, tag, height, problem.frequency)
    model = joined(stack_model(problem.stack, problem.frequency), tag_model(tag, problem.frequency))
    return refined_reference(plan, model, Wanted(loads, ((0, 1),), problem.accuracy, values))


def place_ratio(
    sources: list[Rings], tag: tuple[AxialMoments, Rings], height: float, offset: float, tilt: float
) -> complex:
    """M at a place over M upright on the axis at the same height, the tag's sources being as they are alone.

    By the moments where their sphere takes less than 0.4 of the way to the nearest source (nine of them then leave less
    than 1e-5), else by the volume integral over every quadrature point of the tag.
    """
    moments, rings = tag
    top = max(group.top for group in sources)
    clear = moments.scale < CLEAR_SHARE * (height - top)
    leaning = np.abs(rings.height * np.cos(tilt)) + rings.radius * abs(np.sin(tilt))
    reach = 1.01 * (moments.scale if clear else max(float(leaning.max()), float(np.abs(rings.height).max())))
    field = air_field(sources, AirSpace(offset + 1.01 * moments.scale, height - reach, height + reach), 1e-6)
    if clear:
        at = np.full(2, height), np.array([offset, 0.0]), np.array([tilt, 0.0])
        there, upright = mutual_inductance_at(field, moments, *at)
    else:
        there, upright = (_volume(field, rings, height, *place) for place in ((offset, tilt), (0.0, 0.0)))
    return complex(there / upright)


def _volume(field: AirField, rings: Rings, height: float, offset: float, tilt: float) -> complex:
    """M by the volume integral over all of the tag's rings, a few thousand at a time."""
    total, step = 0.0 + 0.0j, 4000
    for start in range(0, rings.radius.size, step):
        some = slice(start, start + step)
        piece = Rings(*(getattr(rings, name)[some] for name in RING_FIELDS))
        total += complex(volume_at(field, piece, height, np.array([offset]), np.zeros(1), tilt)[0])
    return total


def joined_rings(groups: list[Rings]) -> Rings:
    """All rings as one group."""
    return Rings(*(np.concatenate([getattr(group, name) for group in groups]) for name in RING_FIELDS))
