"""Mutual inductance of base and tag at every place, from the base field and the tag's axial moments (DESIGN 4.3)."""

from dataclasses import dataclass

import numpy as np

from fem.air_field import AirField, AxisSamples
from fem.arrays import Array, ComplexArray
from fem.near_places import NearTag, volume_over_leans
from fem.sources import Rings
from fem.tag_solution import AxialMoments

LEAN_DIRECTIONS = np.linspace(0.0, np.pi, 13)
"""Directions of lean [rad], from outward to inward, each with its opposite; the other half mirrors them."""

LYING = 1e-15
"""Cosine of a tilt up to which the tag's axis is level, as far as digits tell: all samples along it at one height."""


@dataclass(frozen=True, slots=True, eq=False)
class TagMap:
    """Mutual inductance over height × offset × tilt.

    Parameters
    ----------
    mutual_inductance : ndarray of complex, shape (n_height, n_offset, n_tilt)
        With the lean in the plane of the offset, outward for a positive tilt [H].
    worst_mutual_inductance : ndarray of complex, same shape
        The one of least magnitude over all lean directions [H].
    greatest_mutual_inductance : ndarray of complex, same shape
        The one of greatest magnitude: the lean is then outward or inward [H].
    upright_field : ndarray, shape (n_height, n_offset)
        Magnitude of the base field at the tag's centre times its dipole moment [H]: what errors scale with.
    """

    mutual_inductance: ComplexArray
    worst_mutual_inductance: ComplexArray
    greatest_mutual_inductance: ComplexArray
    upright_field: Array


def tag_map(
    field: AirField,
    moments: AxialMoments,
    heights: Array,
    offsets: Array,
    tilts: Array,
    near: NearTag | None = None,
) -> TagMap:
    """Map of M over the grid of ``heights`` [m], ``offsets`` [m] and ``tilts`` [rad]; no loop over places.

    Parameters
    ----------
    field : AirField
        Base field per ampere, of a space that holds the tag's sphere at every place.
    moments : AxialMoments
        Of the tag, per ampere.
    near : NearTag or None
        The tag for places too near the sources for its moments; None where there are no such places.
    """
    leans = [_over_leans(field, moments, heights, offsets, tilt, near) for tilt in tilts]
    radial, axial = field.flux_density(offsets, heights)
    strength = np.sqrt(np.abs(axial) ** 2 + np.abs(radial * offsets[:, None]) ** 2).T * abs(moments.moments[0])
    outward, inward = (np.stack([by_lean[end] for by_lean in leans], axis=-1) for end in (0, -1))
    return TagMap(
        outward,
        np.stack([least_on_path(by_lean) for by_lean in leans], axis=-1),
        np.where(np.abs(outward) >= np.abs(inward), outward, inward),
        strength,
    )


def _over_leans(
    field: AirField, moments: AxialMoments, heights: Array, offsets: Array, tilt: float, near: NearTag | None
) -> ComplexArray:
    """M for every lean direction at one tilt, shape (n_lean, n_height, n_offset)."""
    directions = LEAN_DIRECTIONS if tilt else LEAN_DIRECTIONS[:1]  # an upright tag leans nowhere
    low = np.zeros(heights.size, dtype=bool) if near is None else near.crowded(heights)
    found = np.zeros((directions.size, heights.size, offsets.size), dtype=complex)
    if near is not None and low.any():
        found[:, low] = volume_over_leans(field, near, heights[low], offsets, tilt, directions)
    if not low.all():
        found[:, ~low] = _by_moments(field, moments, heights[~low], offsets, tilt, directions)
    return found


def _by_moments(
    field: AirField, moments: AxialMoments, heights: Array, offsets: Array, tilt: float, directions: Array
) -> ComplexArray:
    """The same from samples along the tag's axis."""
    cos, sin = float(np.cos(tilt)), float(np.sin(tilt))
    cos = cos if abs(cos) > LYING else 0.0
    nodes, weights = moments.either_side
    out = sin * (nodes if tilt else np.zeros(1))[:, None, None]  # upright, all samples lie as far out
    away = np.cos(directions)[:, None]
    r = np.hypot(offsets + out * away, out * np.sin(directions)[:, None]).reshape(out.size, -1)
    outward = (sin * (offsets * away + out)).reshape(out.size, -1)
    up = cos * (nodes if cos else np.zeros(1))[:, None]
    samples = AxisSamples(weights, r, outward, np.stack((heights + up, heights - up)), cos)
    found = field.along_axes(samples).reshape(2, heights.size, directions.size, offsets.size)
    return np.asarray((found[0] + found[1, :, ::-1]).transpose(1, 0, 2))


def mutual_inductance_at(
    field: AirField, moments: AxialMoments, height: Array, offset: Array, tilt: Array
) -> ComplexArray:
    """M at scattered places, the lean outward; arrays of one shape [m], [m], [rad]."""
    s = moments.nodes.reshape(-1, *(1,) * np.ndim(height))
    r = np.abs(offset + s * np.sin(tilt))
    radial, axial = field.flux_density_at(r, height + s * np.cos(tilt))
    along = np.cos(tilt) * axial + np.sin(tilt) * (offset + s * np.sin(tilt)) * radial
    return np.asarray(np.tensordot(moments.weights, along, axes=1))


def axis_mutual_inductance(sources: tuple[Rings, ...], moments: AxialMoments, heights: Array) -> ComplexArray:
    """M of an upright tag on the axis at any ``heights`` above the sources [m], shape of ``heights``."""
    places = heights[..., None] + moments.nodes
    field = sum(rings.axial_flux_density(places) for rings in sources)
    return np.asarray(field @ moments.weights)


def least_on_path(values: ComplexArray) -> ComplexArray:
    """The value of least magnitude along the first axis, straight between neighbours: zero crossings are not missed."""
    if values.shape[0] == 1:
        return np.asarray(values[0])
    start, step = values[:-1], values[1:] - values[:-1]
    square = _square(step)
    share = -(step.real * start.real + step.imag * start.imag) / np.where(square == 0.0, 1.0, square)
    between = start + np.clip(share, 0.0, 1.0) * step
    least = np.argmin(_square(between), axis=0)
    return np.asarray(np.take_along_axis(between, least[None], axis=0)[0])


def _square(values: ComplexArray) -> Array:
    return np.asarray(values.real**2 + values.imag**2)
