"""M where the axial moments fail: the sphere about the tag holds a source of the base field, the tag itself does not.

A flat tag low above the plate is such a case. Then the whole volume integral of DESIGN 4.3 is taken, over the tag's
sources lumped into a few rings.
"""

from dataclasses import dataclass

import numpy as np

from fem.air_field import AirField
from fem.arrays import Array, ComplexArray, IndexArray
from fem.sources import Rings
from fem.tag_solution import TagSolution

AROUND = 16
"""Points round the tag's own axis."""

CELLS = 24
"""Cells across the tag, each way, whose sources become one ring."""

LUMPING_ERROR = 3e-4
"""What the lumping costs, relative to M: 2e-5 … 3e-4 where tried, off the axis most."""

CLEAR_SHARE = 0.7
"""Largest share of the distance to the nearest source that the tag's sphere may take for the moments to hold: nine of
them then leave about 1e-4 (share⁹ times the share of the highest moments in M)."""


@dataclass(frozen=True, slots=True, eq=False)
class NearTag:
    """A tag for places below ``clear_above`` [m]: its lumped sources, per ampere in all its turns."""

    rings: Rings
    clear_above: float


def near_tag(tag: TagSolution, turns: float, source_top: float) -> NearTag:
    """The tag with ``turns`` above sources that reach up to ``source_top`` [m]."""
    groups = [tag.winding] if tag.core is None else [tag.winding, tag.core]
    rings = _joined([_lumped(group, tag.moments.scale) for group in groups])
    moment = 2.0 * np.pi * np.sum(rings.weight * (0.5 * rings.radius * rings.current + rings.axial))
    share = turns * tag.moments.moments[0] / moment
    scaled = Rings(rings.radius, rings.height, rings.weight * share, rings.current, rings.radial, rings.axial)
    return NearTag(scaled, source_top + tag.moments.scale / CLEAR_SHARE)


def volume_over_leans(
    field: AirField, tag: NearTag, heights: Array, offsets: Array, tilt: float, leans: Array
) -> ComplexArray:
    """M for every lean direction at one tilt, shape (n_lean, n_height, n_offset) [H]."""
    found = np.zeros((leans.size, heights.size, offsets.size), dtype=complex)
    for i, lean in enumerate(leans):
        for j, height in enumerate(heights):
            x, y = offsets * np.cos(lean), offsets * np.sin(lean)
            found[i, j] = _at_places(field, tag.rings, height, x, y, tilt)
    return found


def _at_places(field: AirField, rings: Rings, height: float, x: Array, y: Array, tilt: float) -> ComplexArray:
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


def _lumped(rings: Rings, scale: float) -> Rings:
    """One ring a cell, at the cell's middle of strength; sums of current and moment are kept."""
    cell = np.floor((rings.height / scale + 1.0) * 0.5 * CELLS) * CELLS + np.floor(rings.radius / scale * 0.5 * CELLS)
    member: IndexArray = np.unique(cell, return_inverse=True)[1].astype(np.int64)
    strength = rings.weight * (
        np.abs(rings.current) + (np.abs(rings.radial) + np.abs(rings.axial)) / np.maximum(rings.radius, 1e-9)
    )
    total = np.bincount(member, strength)
    radius = np.bincount(member, strength * rings.radius) / total
    height = np.bincount(member, strength * rings.height) / total
    sums = [
        _cell_sums(member, rings.weight * part) for part in (rings.current * rings.radius, rings.radial, rings.axial)
    ]
    return Rings(radius, height, np.ones_like(radius), sums[0] / radius, sums[1], sums[2])


def _cell_sums(member: IndexArray, values: ComplexArray) -> ComplexArray:
    return np.asarray(np.bincount(member, values.real) + 1j * np.bincount(member, values.imag))


def _joined(groups: list[Rings]) -> Rings:
    names = ("radius", "height", "weight", "current", "radial", "axial")
    return Rings(*(np.concatenate([getattr(group, name) for group in groups]) for name in names))
