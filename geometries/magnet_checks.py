"""Whether magnets can sit where they are said to: clear of the tag and of each other."""

from collections.abc import Iterator
from itertools import combinations
from math import hypot

from geometries.errors import GeometryError
from geometries.magnet import Magnet
from geometries.overlap import TOUCHING, outlines_overlap
from geometries.stack import Stack
from geometries.tag import Outline, Tag


def magnet_faults(magnets: tuple[Magnet, ...], tag: Tag) -> tuple[GeometryError, ...]:
    """All overlaps of magnets with the tag's winding, core and can, and with each other; touching is allowed."""
    return (*_tag_overlaps(magnets, tag), *_mutual_overlaps(magnets))


def drive_magnet_faults(magnets: tuple[Magnet, ...], stack: Stack) -> tuple[GeometryError, ...]:
    """Overlaps of a drive's magnets, as they turn about the base coil's axis, with the stack and with each other."""
    return (*_stack_overlaps(magnets, stack), *_mutual_overlaps(magnets))


def swept_section(magnet: Magnet) -> Outline:
    """What a magnet sweeps in the half plane (r, z) when it is turned once round the tag's axis [m].

    A body of revolution and the magnet overlap exactly where their sections do.
    """
    (x0, y0, z0), (x1, y1, z1) = magnet.low, magnet.high
    nearest = hypot(max(x0, -x1, 0.0), max(y0, -y1, 0.0))
    farthest = hypot(max(abs(x0), abs(x1)), max(abs(y0), abs(y1)))
    return (nearest, z0), (farthest, z0), (farthest, z1), (nearest, z1)


def _tag_overlaps(magnets: tuple[Magnet, ...], tag: Tag) -> Iterator[GeometryError]:
    parts = [("winding", tag.section.corners)]
    if tag.core is not None:
        parts.append(("core", tag.core.outline))
    if tag.shield is not None:
        parts.append(("can", tag.shield.outline))
    for magnet in magnets:
        for words, outline in parts:
            if outlines_overlap(outline, swept_section(magnet)):
                yield GeometryError(
                    f"magnets.{magnet.name}.place",
                    f"it overlaps the tag's {words}; it must keep {_mm(max(r for r, _ in outline))} from the tag's "
                    f"axis, or lie above {_mm(max(z for _, z in outline))} or below {_mm(min(z for _, z in outline))}",
                )
                break


def _stack_overlaps(magnets: tuple[Magnet, ...], stack: Stack) -> Iterator[GeometryError]:
    parts = [(layer.name, layer.outline) for layer in stack.layers if layer.kind != "gap"]
    parts += [(solid.name, solid.outline) for solid in stack.solids]
    for magnet in magnets:
        key, top = f"magnets.{magnet.name}.place", magnet.high[2]
        if top > TOUCHING:
            yield GeometryError(
                key,
                f"it reaches {_mm(top)} above the plate's top surface, where the tag moves; a magnet of the drive lies "
                "below, at a negative z",
            )
            continue
        for name, outline in parts:
            if outlines_overlap(outline, swept_section(magnet)):
                yield GeometryError(
                    key,
                    f"turning about the base coil's axis, it runs into {name}; it must keep clear of layers and solids",
                )
                break


def _mutual_overlaps(magnets: tuple[Magnet, ...]) -> Iterator[GeometryError]:
    for one, other in combinations(magnets, 2):
        shared = [min(a, b) - max(c, d) for a, b, c, d in zip(one.high, other.high, one.low, other.low, strict=True)]
        if min(shared) > TOUCHING:
            yield GeometryError(f"magnets.{other.name}.place", f"it overlaps {one.name}; they may touch")


def _mm(length: float) -> str:
    return f"{length * 1e3:.6g} mm"
