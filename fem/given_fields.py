"""Fields of coils in the tag's own axes (x in the plane of offset and tilt, z along the coil), for `whole_space`."""

import numpy as np

from fem.air_field import AirField
from fem.arrays import Array, ComplexArray
from fem.sources import winding_rings
from fem.volume_integral import base_field
from fem.whole_space import GivenField
from geometries.section import WindingSection

AROUND = 32
"""Points round the tag's winding."""

FILAMENTS = 24
"""Rings that stand for a winding, each way: 1e-4 of its field at a ninth of the section's longer side from it."""


def winding_field(section: WindingSection) -> GivenField:
    """Field of one ampere in one turn of a winding about the z axis, in air."""

    rings = winding_rings(section, FILAMENTS)

    def field(places: Array) -> tuple[ComplexArray, ComplexArray]:
        x, y, z = places
        r = np.maximum(np.hypot(x, y), 1e-9 * section.mean_radius)
        azimuthal, radial, axial = base_field((rings,), r, z)
        cos, sin, none = x / r, y / r, np.zeros_like(azimuthal)
        return np.stack([-sin * azimuthal, cos * azimuthal, none]), np.stack([cos * radial, sin * radial, axial])

    return field


def placed_base_field(field: AirField, height: float, offset: float, tilt: float, roll: float = 0.0) -> GivenField:
    """The base field as a tag sees it that is at ``height`` and ``offset`` [m] and leans by ``tilt`` [rad].

    A positive tilt leans the tag's z axis outward; its x axis then points outward and down. A ``roll`` [rad] turns the
    tag about its own z axis, x towards y.
    """
    cos, sin = np.cos(tilt), np.sin(tilt)
    to_base = np.array([[cos, 0.0, sin], [0.0, 1.0, 0.0], [-sin, 0.0, cos]]) @ _turn(roll)

    def given(places: Array) -> tuple[ComplexArray, ComplexArray]:
        x, y, z = np.tensordot(to_base, places, axes=1)
        x, z = offset + x, height + z
        swirl, spread, axial = field.everything_at(np.hypot(x, y), z)
        potential = np.stack([-y * swirl, x * swirl, np.zeros_like(swirl)])
        density = np.stack([spread * x, spread * y, axial])
        return np.tensordot(to_base.T, potential, axes=1), np.tensordot(to_base.T, density, axes=1)

    return given


def _turn(angle: float) -> Array:
    return np.array([[np.cos(angle), -np.sin(angle), 0.0], [np.sin(angle), np.cos(angle), 0.0], [0.0, 0.0, 1.0]])


def air_linkage(section: WindingSection, given: GivenField) -> complex:
    """Flux linkage of one turn of a winding about the z axis with a given field [V s]."""
    rings = winding_rings(section)
    angle = 2.0 * np.pi * (np.arange(AROUND) + 0.5) / AROUND
    cos, sin = np.cos(angle), np.sin(angle)
    places = np.stack(
        np.broadcast_arrays(rings.radius[:, None] * cos, rings.radius[:, None] * sin, rings.height[:, None])
    )
    potential, _ = given(places)
    azimuthal = (cos * potential[1] - sin * potential[0]).mean(axis=-1)
    return complex(2.0 * np.pi * (rings.weight * rings.current * azimuthal).sum())
