"""What is to be meshed about a tag in three dimensions: its core, blocks beside it, and the ball of air round them."""

from dataclasses import dataclass
from math import hypot, pi

from geometries.constants import skin_depth
from geometries.errors import MeshingError
from geometries.magnet import Magnet, Triple, magnet_region
from geometries.plan import TAG_CORE, TAG_SHIELD, acting_shield, narrowest_edge
from geometries.tag import Outline, Tag

BALL_FACTOR = 5.0
"""Radius of the ball over that of the sphere that holds the bodies: a part of degree 2 comes back by 8e-5."""

GROWTH = 0.2
"""How fast elements may grow with the distance from what they resolve: faster, and the air costs half a percent."""


DEPTH_SHARE = 1.0 / 3.0
"""Largest element on a conductor's surface over its skin depth."""

MOST_SQUARES = 15_000.0
"""Largest area of a body's surface over its elements' size squared: some 35 thousand triangles."""


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

    @property
    def area(self) -> float:
        """Of its surface [m²]: each edge of the outline sweeps π (r1 + r2) times its length."""
        edges = zip(self.outline, (*self.outline[1:], self.outline[0]), strict=True)
        return sum(pi * (a[0] + b[0]) * hypot(b[0] - a[0], b[1] - a[1]) for a, b in edges)


@dataclass(frozen=True, slots=True)
class Block:
    """A block with its edges along the axes: least and greatest corner, and its elements' size [m].

    ``surface_size`` holds on the surface and to ``skin`` [m] on either side of it.
    """

    name: str
    low: Triple
    high: Triple
    surface_size: float
    skin: float = 0.0

    @property
    def reach(self) -> float:
        """Distance of its farthest corner from the origin [m]."""
        return hypot(*(max(abs(a), abs(b)) for a, b in zip(self.low, self.high, strict=True)))

    @property
    def area(self) -> float:
        """Of its surface [m²]."""
        x, y, z = (b - a for a, b in zip(self.low, self.high, strict=True))
        return 2.0 * (x * y + y * z + z * x)


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
    """Plan of a tag's core and can and of the magnets fixed to it, in its axes; the winding needs no elements.

    Parameters
    ----------
    fineness : float
        Divides every element size on a body's surface.

    Raises
    ------
    MeshingError
        Where there is nothing to mesh, or a skin so thin that its elements would be too many.
    """
    shield, turned = acting_shield(tag), []
    if tag.core is not None:
        depth = skin_depth(frequency, tag.core.conductivity, abs(tag.core.material.permeability))
        turned.append(_turned(TAG_CORE, tag.core.outline, depth, fineness))
    if shield is not None:
        depth = skin_depth(frequency, shield.conductivity, abs(shield.material.permeability))
        turned.append(_turned(TAG_SHIELD, shield.outline, depth, fineness))
    blocks = [_block(magnet, frequency, fineness) for magnet in magnets]
    if not turned and not blocks:
        raise MeshingError("a tag without core, can and magnets has nothing to mesh")
    reach = max([tag.sphere_radius, *(magnet.reach for magnet in magnets)])
    plan = BallPlan(tuple(turned), tuple(blocks), BALL_FACTOR * reach)
    for body in plan.bodies:
        if body.area / body.surface_size**2 > MOST_SQUARES:
            raise MeshingError(
                f"{body.name} would need elements of {body.surface_size * 1e3:.2g} mm all over its surface, a third of "
                "its skin depth or of its narrowest part: too many in three dimensions"
            )
    return plan


def _turned(name: str, outline: Outline, depth: float, fineness: float) -> Turned:
    """Sizes from the narrowest part, from the girth, so that facets cost little volume, and from the skin depth."""
    widest = max(r for r, _ in outline)
    size = min(0.4 * narrowest_edge(outline), 0.15 * widest, DEPTH_SHARE * depth) / fineness
    return Turned(name, outline, size, 0.5 * size)


def _block(magnet: Magnet, frequency: float, fineness: float) -> Block:
    """A third of the skin depth inside the skin, and no coarser than a third of the narrowest side."""
    depth = skin_depth(frequency, magnet.conductivity, abs(magnet.material.permeability))
    size = min(DEPTH_SHARE * depth, min(magnet.size) / 3.0) / fineness
    return Block(magnet_region(magnet), magnet.low, magnet.high, size, min(depth, 0.5 * min(magnet.size)))
