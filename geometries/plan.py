"""What is to be meshed: regions, sheets and the sizes their elements should start from."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import hypot

from geometries.constants import skin_depth
from geometries.section import WindingSection
from geometries.stack import RIBBON_KINDS, Layer, Stack
from geometries.tag import Outline, ShieldCan, Tag

OUTER_RADIUS_FACTOR = 4.0
"""Outer boundary's radius over that of the smallest circle about the sources that holds them all."""

WIDE_RADIUS_FACTOR = 12.0
"""The same where something that acts stands on the plate: in a well the field may be a thousandth of what it is in air,
and what the boundary sends back has to be small against that."""

FINE_CORNER, COARSE_CORNER = 0.02, 0.2
"""Element size at a core's corners over its narrowest edge; coarse where only ratios on one mesh are wanted."""

BASE_WINDING, TAG_WINDING, TAG_CORE, TAG_SHIELD = "base winding", "tag winding", "tag core", "tag shield"


@dataclass(frozen=True, slots=True)
class Region:
    """A polygon of the half plane that keeps its own elements.

    ``surface_size`` [m] is the element size along its edge and ``corner_size`` [m] at its corners;
    where ``relaxes`` is set the edge's size may grow with the distance from the windings.
    """

    name: str
    outline: Outline
    surface_size: float
    corner_size: float
    relaxes: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """A thin layer kept as a line of the mesh at the layer's mid-height; ``edge_size`` [m] at its ends."""

    name: str
    inner_radius: float
    outer_radius: float
    height: float
    edge_size: float


@dataclass(frozen=True, slots=True)
class MeshPlan:
    """All that the mesher needs; ``centre`` [m] is the height of the outer half circle's centre.

    ``given`` are sections whose field is known and not meshed, ``probes`` heights on the axis [m] at which the field
    is asked for: bodies and sheets get finer towards both.
    """

    regions: tuple[Region, ...]
    sheets: tuple[Sheet, ...]
    centre: float
    outer_radius: float
    given: tuple[WindingSection, ...] = ()
    probes: tuple[float, ...] = ()


def is_sheet(layer: Layer, frequency: float) -> bool:
    """Whether ``layer`` is thin enough to be a line of the mesh: t ≤ δ/3 and not magnetic, or made of ribbon."""
    if layer.material is None or layer.conductivity == 0.0:
        return False
    if layer.kind in RIBBON_KINDS:
        return True
    depth = skin_depth(frequency, layer.conductivity)
    return layer.kind == "foil" and not layer.material.magnetic and layer.thickness <= depth / 3.0


def acts(conductivity: float, magnetic: bool) -> bool:
    """Whether a body changes the field at all: glass, ceramic and gaps do not and are not meshed."""
    return magnetic or conductivity > 0.0


def acting_shield(tag: Tag) -> ShieldCan | None:
    """The can round a tag, where it has one that changes the field."""
    shield = tag.shield
    return shield if shield is not None and acts(shield.conductivity, shield.material.magnetic) else None


def base_plan(stack: Stack, section: WindingSection, frequency: float) -> MeshPlan:
    """Plan of the base coil with its surroundings and no tag."""
    regions = (_winding(BASE_WINDING, section), *stack_regions(stack, frequency))
    return _enclosed(regions, stack_sheets(stack, frequency))


def tag_plan(tag: Tag, frequency: float) -> MeshPlan:
    """Plan of the tag alone, in its own axes."""
    return _enclosed(tag_regions(tag, 0.0, frequency), ())


def axis_plan(
    stack: Stack, section: WindingSection, tag: Tag, height: float, frequency: float, corner_share: float = FINE_CORNER
) -> MeshPlan:
    """Plan of the base coil, its surroundings and the tag on the same axis with its centre at ``height`` [m]."""
    regions = (_winding(BASE_WINDING, section), *stack_regions(stack, frequency))
    return _enclosed((*regions, *tag_regions(tag, height, frequency, corner_share)), stack_sheets(stack, frequency))


def tag_over_stack_plan(
    stack: Stack, tag: Tag, height: float, frequency: float, corner_share: float, room: Outline
) -> MeshPlan:
    """Plan of the surroundings and the tag above them, whose outer boundary also takes in a ``room`` for windings."""
    regions = (*stack_regions(stack, frequency), *tag_regions(tag, height, frequency, corner_share))
    return _enclosed(regions, stack_sheets(stack, frequency), room)


def reaction_plan(
    stack: Stack, sections: tuple[WindingSection, ...], frequency: float, probes: tuple[float, ...] = ()
) -> MeshPlan:
    """Plan of the surroundings alone, fine under windings in any of ``sections`` and near heights ``probes`` [m]."""
    plan = _enclosed(stack_regions(stack, frequency), stack_sheets(stack, frequency))
    return replace(plan, given=sections, probes=probes)


def stack_regions(stack: Stack, frequency: float) -> tuple[Region, ...]:
    """Regions of the layers and solids that are meshed as bodies."""
    found = []
    for layer in stack.layers:
        material = layer.material
        if material is None or is_sheet(layer, frequency) or not acts(layer.conductivity, material.magnetic):
            continue
        found.append(_body(f"layer {layer.name}", layer.outline, layer.conductivity, material.permeability, frequency))
    for solid in stack.solids:
        if acts(solid.conductivity, solid.material.magnetic):
            permeability = solid.material.permeability
            found.append(_body(f"solid {solid.name}", solid.outline, solid.conductivity, permeability, frequency))
    return tuple(found)


def stack_sheets(stack: Stack, frequency: float) -> tuple[Sheet, ...]:
    """Layers that become lines of the mesh."""
    return tuple(
        Sheet(f"layer {layer.name}", layer.inner_radius, layer.outer_radius, layer.mid_height, 1e-3)
        for layer in stack.layers
        if is_sheet(layer, frequency)
    )


def tag_regions(tag: Tag, height: float, frequency: float, corner_share: float = FINE_CORNER) -> tuple[Region, ...]:
    """The tag with its centre at ``height`` [m]; elements at the core's corners have a share of its edges' size."""
    found = [_winding(TAG_WINDING, tag.section.raised(height))]
    if tag.core is not None:
        outline, conductivity = _raised(tag.core.outline, height), tag.core.conductivity
        size = narrowest_edge(outline)
        core = Region(TAG_CORE, outline, 0.5 * size, corner_share * size)
        if conductivity:
            core = _body(TAG_CORE, outline, conductivity, tag.core.material.permeability, frequency)
        found.append(core)
    shield = acting_shield(tag)
    if shield is not None:
        outline = _raised(shield.outline, height)
        found.append(_body(TAG_SHIELD, outline, shield.conductivity, shield.material.permeability, frequency))
    return tuple(found)


def _raised(outline: Outline, height: float) -> Outline:
    return tuple((r, z + height) for r, z in outline)


def _winding(name: str, section: WindingSection) -> Region:
    size = min(section.radial_build, section.winding_length)
    long = max(section.radial_build, section.winding_length)
    edge = min(size / 2.0, long / 3.0)
    return Region(name, section.corners, edge, edge)


def _body(name: str, outline: Outline, conductivity: float, permeability: complex, frequency: float) -> Region:
    depth = skin_depth(frequency, conductivity, abs(permeability))
    size = min(1.2 * depth, narrowest_edge(outline))
    return Region(name, outline, size, min(0.5 * depth, size), relaxes=True)


def narrowest_edge(outline: Outline) -> float:
    """Length of the shortest edge off the axis [m]."""
    edges = zip(outline, (*outline[1:], outline[0]), strict=True)
    return min(hypot(b[0] - a[0], b[1] - a[1]) for a, b in edges if not (a[0] == 0.0 and b[0] == 0.0))


def _enclosed(regions: tuple[Region, ...], sheets: tuple[Sheet, ...], room: Outline = ()) -> MeshPlan:
    corners = [*room, *(corner for region in regions for corner in region.outline)]
    corners += [(sheet.outer_radius, sheet.height) for sheet in sheets]
    heights = [z for _, z in corners]
    centre = 0.5 * (min(heights) + max(heights))
    standing = any(z > 0.0 for r in regions if r.name.startswith("solid ") for _, z in r.outline)
    factor = WIDE_RADIUS_FACTOR if standing else OUTER_RADIUS_FACTOR
    return MeshPlan(regions, sheets, centre, factor * _reach(corners, centre))


def _reach(corners: Iterable[tuple[float, float]], centre: float) -> float:
    return max(hypot(r, z - centre) for r, z in corners)
