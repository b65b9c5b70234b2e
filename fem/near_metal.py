"""How conductors and ferrite near the tag change its own L and R, and correct the map (DESIGN 4.3).

The map lets the core, and a shield round the tag, see the base field but not the image of themselves. Axis solves with
everything meshed give the whole truth at a few heights; set against the same mesh without the tag's bodies, and
without the surroundings, the elements' own error cancels.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from fem.arrays import Array, ComplexArray
from fem.elements import Elements
from fem.model import Model, joined, stack_model, tag_model
from fem.sources import winding_rings
from fem.system import System
from fem.tag_over_stack import TagOverStack, TagPlace, room_for, tag_over_stack
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import SectionMesh
from geometries.plan import BASE_WINDING, TAG_WINDING, stack_regions, stack_sheets
from geometries.section import WindingSection
from geometries.stack import Stack
from geometries.tag import Tag

SPACING = 1.6
"""Ratio of one solved height to the one before, both counted from the nearest metal."""

MOST_HEIGHTS = 6
STEP_BESIDE, MOST_BESIDE = 0.3, 14
"""Where metal stands beside the tag, as in a well, the change follows no cube of a distance: step from one solved
height to the next over the distance to the nearest metal, and how many at most."""

SPLINED = 0.01
"""Share of the largest change of M that the spline between heights beside metal may be off by: 2 % at steps a third
longer than these."""

NEGLIGIBLE_SHARE = 0.1
"""A change below this share of the wanted accuracy is left out."""


@dataclass(frozen=True, slots=True)
class AxisProblem:
    """Base coil, surroundings and tag on one axis, at heights from ``lowest`` to ``highest`` [m]."""

    stack: Stack
    section: WindingSection
    tag: Tag
    frequency: float
    accuracy: float
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True, eq=False)
class NearMetal:
    """What is near the tag, by the height of its centre.

    Parameters
    ----------
    distances : ndarray, shape (n,)
        Solved heights above ``surface`` [m]; empty where nothing acts.
    surface : float
        Height of the nearest conductor or ferrite [m].
    linkage_changes : ndarray of complex, shape (n,)
        Change of the tag's flux linkage per turn² [H].
    map_changes : ndarray of complex, shape (n,)
        True M over the map's, less one [1].
    uncertainty : float
        Difference of the lowest height's changes between the two element orders, relative to L and M.
    beside : bool
        Whether metal stands beside the tag: its changes are then splined as they are.
    """

    distances: Array
    surface: float
    linkage_changes: ComplexArray
    map_changes: ComplexArray
    uncertainty: float
    beside: bool = False

    def linkage_change(self, heights: Array) -> ComplexArray:
        """Change of the tag's flux linkage per turn² at ``heights`` [H]."""
        return self._at(self.linkage_changes, heights)

    def map_ratio(self, heights: Array) -> ComplexArray:
        """Factor on the map's M at ``heights`` [1]."""
        return np.asarray(1.0 + self._at(self.map_changes, heights))

    def _at(self, changes: ComplexArray, heights: Array) -> ComplexArray:
        """A change times the cube of its distance varies slowly; beyond the last solved height it stays."""
        distance = np.asarray(heights, dtype=float) - self.surface
        if self.distances.size == 0:
            return np.zeros(distance.shape, dtype=complex)
        if self.beside and self.distances.size > 1:
            inside = np.clip(distance, self.distances[0], self.distances[-1])
            beyond = np.maximum(distance / self.distances[-1], 1.0)
            return np.asarray(CubicSpline(self.distances, changes)(inside) / beyond**3)
        slow = changes * self.distances**3
        if self.distances.size == 1:
            return np.asarray(slow[0] / distance**3)
        inside = np.clip(distance, self.distances[0], self.distances[-1])
        real, imaginary = (PchipInterpolator(self.distances, part)(inside) for part in (slow.real, slow.imag))
        return np.asarray((real + 1j * imaginary) / distance**3)


_NONE = np.zeros(0)
NOTHING_NEAR = NearMetal(_NONE, 0.0, _NONE.astype(complex), _NONE.astype(complex), 0.0)
"""Neither conductor nor ferrite anywhere."""


Linkages = Callable[[TagOverStack], tuple[complex, complex]]
"""Flux of a tag through a base coil: the mapped, and what the whole truth adds to it [Wb/A]."""


def section_linkages(section: WindingSection) -> Linkages:
    """Those of a winding section, one turn spread evenly over it."""
    rings = winding_rings(section)
    shares = rings.weight * rings.current.real / rings.radius

    def linkages(tag: TagOverStack) -> tuple[complex, complex]:
        mapped, missed = tag.through_rings(rings.radius, rings.height)
        return complex(shares @ mapped), complex(shares @ missed)

    return linkages


@lru_cache(maxsize=128)
def near_metal(problem: AxisProblem) -> NearMetal:
    """Solve the axis at as many heights as matter at the wanted accuracy, lowest first."""
    return near_metal_of(problem, section_linkages(problem.section))


def near_metal_of(problem: AxisProblem, linkages: Linkages) -> NearMetal:
    """The same with the tag's flux through the base coil taken by ``linkages``."""
    top_surface = nearest_surface(problem.stack, problem.frequency)
    if top_surface is None:
        return NOTHING_NEAR
    beside = top_surface >= problem.lowest
    surface = surface_below(problem.stack, problem.frequency, problem.lowest) if beside else top_surface
    most = MOST_BESIDE if beside else MOST_HEIGHTS
    distance, top = problem.lowest - surface, problem.highest - surface
    found: list[tuple[float, complex, complex]] = []
    uncertainty = 0.0
    while True:
        height = distance + surface
        place = TagPlace(problem.stack, problem.tag, problem.frequency, height, room_for(problem.section))
        solved = tag_over_stack(place)
        change, ratio, own = solved.linkage_change, missed_share(solved, linkages), solved.linkage
        if not found:
            coarse = tag_over_stack(place, order=2)
            uncertainty = max(
                abs(coarse.linkage_change - change) / abs(own), abs(missed_share(coarse, linkages) - ratio)
            )
        found.append((distance, change, ratio))
        size = max(abs(change / own), abs(ratio))
        small = size < NEGLIGIBLE_SHARE * problem.accuracy and height > top_surface
        if small or 1.1 * distance >= top or len(found) == most:
            break
        distance = min(
            distance + _step_beside(problem, height, (top - distance) / most) if beside else distance * SPACING, top
        )
    distances, changes, ratios = (np.array(column) for column in zip(*found, strict=True))
    uncertainty += SPLINED * float(np.abs(ratios).max()) if beside else 0.0
    return NearMetal(distances, surface, changes, ratios, uncertainty, beside)


def missed_share(tag: TagOverStack, linkages: Linkages) -> complex:
    """True M over the map's, less one [1]."""
    mapped, missed = linkages(tag)
    return missed / mapped


def _step_beside(problem: AxisProblem, height: float, least: float) -> float:
    """How far up the next solved height is, where metal stands beside the tag [m]."""
    return max(STEP_BESIDE * metal_distance(problem.stack, problem.frequency, height), least)


def nearest_surface(stack: Stack, frequency: float) -> float | None:
    """Height of the highest conductor or ferrite of the surroundings [m]; None where nothing acts."""
    heights = [z for region in stack_regions(stack, frequency) for _, z in region.outline]
    heights += [sheet.height for sheet in stack_sheets(stack, frequency)]
    return max(heights, default=None)


def metal_distance(stack: Stack, frequency: float, height: float) -> float:
    """Distance from a place on the axis to the nearest edge of a conductor or ferrite [m]."""
    outlines = [region.outline for region in stack_regions(stack, frequency)]
    outlines += [((s.inner_radius, s.height), (s.outer_radius, s.height)) for s in stack_sheets(stack, frequency)]
    nearest = []
    for outline in outlines:
        start, end = np.array(outline), np.roll(np.array(outline), -1, axis=0)
        along, away = end - start, np.array([0.0, height]) - start
        share = np.clip((along * away).sum(axis=1) / (along**2).sum(axis=1), 0.0, 1.0)
        nearest.append(np.linalg.norm(away - share[:, None] * along, axis=1).min())
    return float(min(nearest))


def surface_below(stack: Stack, frequency: float, lowest: float) -> float:
    """Highest conductor or ferrite on the axis under ``lowest`` [m]; with none there, its lowest corner anywhere.

    Where all lies higher still it is as far below ``lowest`` as the nearest corner is above.
    """
    regions = stack_regions(stack, frequency)
    sheets = stack_sheets(stack, frequency)
    on_axis = [z for region in regions for r, z in region.outline if r == 0.0 and z < lowest]
    on_axis += [sheet.height for sheet in sheets if sheet.inner_radius == 0.0 and sheet.height < lowest]
    if on_axis:
        return max(on_axis)
    bottom = min([*(z for region in regions for _, z in region.outline), *(sheet.height for sheet in sheets)])
    return bottom if bottom < lowest else 2.0 * lowest - bottom - 1e-3


def two_coil_mutual_inductance(mesh: SectionMesh, problem: AxisProblem, order: int = 3) -> complex:
    """M per turn² of base and tag, both meshed on one axis, everything present [H]: the check of the map."""
    elements = Elements(mesh, order)
    everything = joined(stack_model(problem.stack, problem.frequency), tag_model(problem.tag, problem.frequency))
    base, tag = _loads(elements, problem)
    return complex(2.0 * np.pi / MAGNETIC_CONSTANT * (base @ _answer(elements, everything, tag)))


def _loads(elements: Elements, problem: AxisProblem) -> tuple[Array, Array]:
    empty = System(elements, Model(2.0 * np.pi * problem.frequency))
    base = empty.winding_load(BASE_WINDING, problem.section.area)
    return base, empty.winding_load(TAG_WINDING, problem.tag.section.area)


def _answer(elements: Elements, model: Model, load: Array) -> ComplexArray:
    return np.asarray(System(elements, model).solve(load[:, None])[:, 0])
