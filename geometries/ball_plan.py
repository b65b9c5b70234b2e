"""What is to be meshed about a tag in three dimensions: its core, blocks beside it, and the ball of air round them."""

from dataclasses import dataclass
from math import hypot

from geometries.constants import skin_depth
from geometries.errors import MeshingError
from geometries.magnet import Magnet, Triple
from geometries.plan import TAG_CORE
from geometries.tag import Outline, Tag

BALL_FACTOR = 5.0
"""Radius of the ball over that of the sphere that holds the bodies: a part of degree 2 comes back by 8e-5."""

GROWTH = 0.2
"""How fast elements may grow with the distance from what they resolve: faster, and the air costs half a percent."""


@dataclass(frozen=True, slots=True)
class Turned:
    """A body of revolution about z: its half section, the element size on its surface and at its edges [m]."""

    name: str
    outline: Outline
    surface_size: float
    edge_size: float

    @property
    def reach(self) -> float:
        """Distance of its farthest corner from the origin [m]."""
        return max(hypot(r, z) for r, z in self.outline)


@dataclass(frozen=True, slots=True)
class Block:
    """A block with its edges along the axes: least and greatest corner, element size on its surface [m]."""

    name: str
    low: Triple
    high: Triple
    surface_size: float

    @property
    def reach(self) -> float:
        """Distance of its farthest corner from the origin [m]."""
        return hypot(*(max(abs(a), abs(b)) for a, b in zip(self.low, self.high, strict=True)))


@dataclass(frozen=True, slots=True)
class BallPlan:
    """All that the mesher needs; the ball of ``radius`` [m] is centred on the origin."""

    turned: tuple[Turned, ...]
    blocks: tuple[Block, ...]
    radius: float
    growth: float = GROWTH

    @property
    def bodies(self) -> tuple[Turned | Block, ...]:
        """All bodies, those of revolution first."""
        return (*self.turned, *self.blocks)


def tag_ball(tag: Tag, magnets: tuple[Magnet, ...], frequency: float, fineness: float = 1.0) -> BallPlan:
    """Plan of a tag's core and of the magnets fixed to it, in the tag's axes; the winding needs no elements.

    Parameters
    ----------
    fineness : float
        Divides every element size on a body's surface.

    Raises
    ------
    MeshingError
        Where there is neither core nor magnet.
    """
    if tag.core is None and not magnets:
        raise MeshingError("a tag without core and magnets has nothing to mesh")
    turned = () if tag.core is None else (_core(tag.core.outline, fineness),)
    blocks = tuple(_block(magnet, frequency, fineness) for magnet in magnets)
    reach = max([tag.sphere_radius, *(magnet.reach for magnet in magnets)])
    return BallPlan(turned, blocks, BALL_FACTOR * reach)


def magnet_region(magnet: Magnet) -> str:
    """Name of a magnet's region in the mesh."""
    return f"magnet {magnet.name}"


def _core(outline: Outline, fineness: float) -> Turned:
    """Sizes from the core's narrowest part and its girth, so that facets cost little volume."""
    edges = zip(outline, (*outline[1:], outline[0]), strict=True)
    lengths = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in edges if a[0] > 0.0 or b[0] > 0.0]
    widest = max(r for r, _ in outline)
    size = min(0.4 * min(lengths), 0.15 * widest) / fineness
    return Turned(TAG_CORE, outline, size, 0.5 * size)


def _block(magnet: Magnet, frequency: float, fineness: float) -> Block:
    """A third of the skin depth on the surface, and no coarser than a third of the narrowest side."""
    depth = skin_depth(frequency, magnet.conductivity, abs(magnet.material.permeability))
    size = min(depth / 3.0, min(magnet.size) / 3.0) / fineness
    return Block(magnet_region(magnet), magnet.low, magnet.high, size)
