"""M where the axial moments fail: the sphere about the tag holds a source of the base field, the tag itself does not.

A flat tag low above the plate is such a case. Then the whole volume integral of DESIGN 4.3 is taken, over the tag's
sources gathered onto a few rings.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from fem.air_field import AirField
from fem.arrays import Array, ComplexArray
from fem.beside import Beside
from fem.sources import Rings
from fem.tag_solution import TagSolution
from geometries.tag import Tag

AROUND = 16
"""Points round the tag's own axis."""

NODES = (10, 16)
"""Nodes across the tag, in r² and along its axis, onto which its sources are gathered."""

LUMPING_ERROR = 3e-4
"""What the gathering costs, relative to M: 1e-7 … 1e-5 where tried, more where a source nearly touches the tag."""

CLEAR_SHARE = 0.7
"""Largest share of the distance to the nearest source that the tag's sphere may take for the moments to hold: nine of
them then leave about 1e-4 (share⁹ times the share of the highest moments in M)."""


@dataclass(frozen=True, slots=True, eq=False)
class NearTag:
    """A tag for places below ``clear_above`` [m], or where sources stand ``beside`` it too near.

    ``rings`` are its gathered sources, per ampere in all its turns.
    """

    rings: Rings
    clear_above: float
    beside: Beside | None = None

    def crowded(self, heights: Array) -> NDArray[np.bool_]:
        """At which ``heights`` [m] the axial moments do not hold, shape of ``heights``."""
        return np.asarray(heights < self.clear_above) if self.beside is None else self.beside.crowded(heights)


def near_tag(tag: TagSolution, turns: float, source_top: float) -> NearTag:
    """The tag with ``turns`` above sources that reach up to ``source_top`` [m]."""
    rings = _gathered(tag.sources)
    moment = 2.0 * np.pi * np.sum(rings.weight * (0.5 * rings.radius * rings.current + rings.axial))
    share = turns * tag.moments.moments[0] / moment
    scaled = Rings(rings.radius, rings.height, rings.weight * share, rings.current, rings.radial, rings.axial)
    return NearTag(scaled, source_top + tag.moments.scale / CLEAR_SHARE)


def clear_height(tag: Tag, source_top: float) -> float:
    """Height of a tag's centre from which its moments hold above sources that reach up to ``source_top`` [m]."""
    return source_top + tag.sphere_radius / CLEAR_SHARE


def volume_over_leans(
    field: AirField, tag: NearTag, heights: Array, offsets: Array, tilt: float, leans: Array
) -> ComplexArray:
    """M for every lean direction at one tilt, shape (n_lean, n_height, n_offset) [H]."""
    found = np.zeros((leans.size, heights.size, offsets.size), dtype=complex)
    for i, lean in enumerate(leans):
        for j, height in enumerate(heights):
            x, y = offsets * np.cos(lean), offsets * np.sin(lean)
            found[i, j] = volume_at(field, tag.rings, height, x, y, tilt)
    return found


def volume_at(field: AirField, rings: Rings, height: float, x: Array, y: Array, tilt: float) -> ComplexArray:
    """M with the tag's axis leaning towards +x and its centre at the places (x, y) of one height, shape of ``x``."""
    angle = 2.0 * np.pi * (np.arange(AROUND) + 0.5) / AROUND
    cos, sin = np.cos(angle), np.sin(angle)
    own_x, own_y = rings.radius[:, None] * cos, rings.radius[:, None] * sin
    own_z = rings.height[:, None]
    px = x[:, None, None] + np.cos(tilt) * own_x + np.sin(tilt) * own_z
    py = y[:, None, None] + own_y
    pz = np.broadcast_to(height - np.sin(tilt) * own_x + np.cos(tilt) * own_z, px.shape)
    swirl, spread, axial = field.everything_at(np.hypot(px, py), pz)
    azimuthal = swirl * (py * np.cos(tilt) * sin + px * cos)
    b_x, b_y = spread * px, spread * py
    along = np.sin(tilt) * b_x + np.cos(tilt) * axial
    outward = (np.cos(tilt) * b_x - np.sin(tilt) * axial) * cos + b_y * sin
    density = (azimuthal.mean(axis=-1) * rings.current + outward.mean(axis=-1) * rings.radial) + (
        along.mean(axis=-1) * rings.axial
    )
    return np.asarray(2.0 * np.pi * (density @ rings.weight))


@lru_cache(maxsize=64)
def _gathered(sources: tuple[Rings, ...]) -> Rings:
    """The same sources on a few rings; all candidates with one tag share them.

    Notes
    -----
    A/r, B_r/r and B_z of a field without sources in the tag are smooth functions of r² and z: each is its polynomial
    through Chebyshev nodes, so that a ring's strength spreads over the nodes' with the values of their cardinal
    polynomials. Strengths of opposite sign that nearly cancel, as in a can, lose nothing by this.
    """
    rings = _joined(sources)
    low, high = rings.height.min(), rings.height.max()
    across = _cardinal(2.0 * (rings.radius / rings.radius.max()) ** 2 - 1.0, NODES[0])
    along = _cardinal((2.0 * rings.height - low - high) / (high - low), NODES[1])
    radii = rings.radius.max() * np.sqrt(0.5 * (chebyshev.chebpts1(NODES[0]) + 1.0))
    heights = 0.5 * (low + high) + 0.5 * (high - low) * chebyshev.chebpts1(NODES[1])
    radius, height = (a.ravel() for a in np.meshgrid(radii, heights, indexing="ij"))

    def spread(strength: ComplexArray) -> ComplexArray:
        return np.asarray((across * (rings.weight * strength)[:, None]).T @ along).ravel()

    current, radial = (spread(part * rings.radius) / radius for part in (rings.current, rings.radial))
    return Rings(radius, height, np.ones_like(radius), current, radial, spread(rings.axial))


def _cardinal(x: Array, count: int) -> Array:
    """Polynomials that are 1 at one Chebyshev node and 0 at the others, at ``x``, shape (x.size, count)."""
    at_nodes = chebyshev.chebvander(chebyshev.chebpts1(count), count - 1)
    scale = np.full(count, 2.0 / count)
    scale[0] = 1.0 / count
    return np.asarray((chebyshev.chebvander(x, count - 1) * scale) @ at_nodes.T)


def _joined(groups: tuple[Rings, ...]) -> Rings:
    names = ("radius", "height", "weight", "current", "radial", "axial")
    radius, height, weight, current, radial, axial = (
        np.concatenate([getattr(group, name) for group in groups]) for name in names
    )
    return Rings(radius, height, weight, current, radial, axial)
