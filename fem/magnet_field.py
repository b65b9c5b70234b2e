"""Steady field of permanent magnets in air: blocks magnetised any way, cylinders magnetised along their axis.

A magnet is uniformly magnetised to its remanence and as permeable as air; its recoil permeability (some 1.05 for
sintered neodymium-iron-boron) would lower the field outside by a few per cent, and what is magnetic about it changes
it: neither is in these formulas.

References
----------
Block: the field of uniformly charged rectangles, integrated here (derived; the sums of arctangents and logarithms are
in textbooks of magnetostatics, from memory). Cylinder: the sheet of current about its side, ``closed_forms_sheets``.
"""

from collections.abc import Iterable
from math import pi

import numpy as np

from fem.arrays import Array
from fem.closed_forms_loops import loop_vector_potential
from fem.closed_forms_sheets import sheet_axial_flux_density
from geometries.constants import MAGNETIC_CONSTANT
from geometries.magnet import Magnet

LEAST_DISTANCE = 1e-12
"""From an edge, relative to the magnet's size: nearer points are taken to lie as far away, where the logarithm ends."""


def magnets_flux_density(magnets: Iterable[Magnet], points: Array) -> Array:
    """Flux density of several magnets together.

    Parameters
    ----------
    magnets : iterable of Magnet
        In the axes of the points.
    points : ndarray, shape (3, ...)
        [m]; outside or inside.

    Returns
    -------
    ndarray, shape (3, ...)
        [T].
    """
    total = np.zeros(np.shape(points))
    for magnet in magnets:
        total += magnet_flux_density(magnet, points)
    return total


def magnet_flux_density(magnet: Magnet, points: Array) -> Array:
    """Flux density B of one magnet at points of shape (3, ...) [m], in its own axes [T].

    At an edge of a block and at the rim of a cylinder the field of a uniformly magnetised body has no bound: what is
    returned there is that of a point `LEAST_DISTANCE` of its size away.
    """
    places = np.asarray(points, dtype=float)
    places = places - np.reshape(magnet.place, (3,) + (1,) * (places.ndim - 1))
    if magnet.shape == "cylinder":
        return _cylinder_flux_density(0.5 * magnet.size[0], magnet.size[2], magnet.polarisation[2], places)
    field = MAGNETIC_CONSTANT * _block_field(magnet, places)
    inside = _inside_block(magnet, places)
    return np.asarray(field + inside * np.reshape(magnet.polarisation, (3,) + (1,) * (places.ndim - 1)))


def magnet_field_strength(magnet: Magnet, points: Array) -> Array:
    """Field strength H of one magnet at points of shape (3, ...) [m] [A/m]; inside it opposes the magnetisation."""
    places = np.asarray(points, dtype=float)
    centre = np.reshape(magnet.place, (3,) + (1,) * (places.ndim - 1))
    if magnet.shape == "block":
        return _block_field(magnet, places - centre)
    x, y, z = places - centre
    inside = (np.hypot(x, y) < 0.5 * magnet.size[0]) & (np.abs(z) < 0.5 * magnet.size[2])
    polarisation = np.reshape(magnet.polarisation, (3,) + (1,) * (places.ndim - 1))
    return np.asarray((magnet_flux_density(magnet, points) - inside * polarisation) / MAGNETIC_CONSTANT)


def _inside_block(magnet: Magnet, places: Array) -> Array:
    """1 inside, 0 outside; a face belongs to the side that `_charged_faces` counts it to."""
    half = 0.5 * np.reshape(magnet.size, (3,) + (1,) * (places.ndim - 1))
    return np.asarray(np.all((places >= -half) & (places < half), axis=0), dtype=float)


def _block_field(magnet: Magnet, places: Array) -> Array:
    """H of a block about its centre [A/m]: the charges of the two faces across each component of its magnetisation."""
    total = np.zeros(places.shape)
    for axis, component in enumerate(magnet.polarisation):
        if component == 0.0:
            continue
        order = [(axis + 1) % 3, (axis + 2) % 3, axis]
        half = [0.5 * magnet.size[i] for i in order]
        total[order] += component / (4.0 * pi * MAGNETIC_CONSTANT) * _charged_faces(places[order], half)
    return total


def _charged_faces(places: Array, half: list[float]) -> Array:
    """∫ R/R³ dS over a face of charge +1 at z = c less that over one of charge −1 at z = −c [1].

    With X, Y, Z the distances from a corner, each of the eight corners gives, by turns of either sign,

        z: atan(XY/(Z R)),    x: −asinh(Y/√(X² + Z²)),    y: −asinh(X/√(Y² + Z²)).
    """
    total = np.zeros(places.shape)
    least = LEAST_DISTANCE * max(half)
    for i in (1.0, -1.0):
        x = places[0] - i * half[0]
        for j in (1.0, -1.0):
            y = places[1] - j * half[1]
            for k in (1.0, -1.0):
                z = places[2] - k * half[2]
                sign = i * j * k
                across = x * y * np.where(z < 0.0, -1.0, 1.0)
                total[2] += sign * np.arctan2(across, np.abs(z) * np.sqrt(x * x + y * y + z * z))
                total[0] -= sign * np.arcsinh(y / np.maximum(np.hypot(x, z), least))
                total[1] -= sign * np.arcsinh(x / np.maximum(np.hypot(y, z), least))
    return total


def _cylinder_flux_density(radius: float, height: float, polarisation: float, places: Array) -> Array:
    """B of a cylinder about its centre [T]: its magnetisation is a sheet of current J/μ0 per length round its side."""
    x, y, z = places
    r = np.hypot(x, y)
    least = LEAST_DISTANCE * max(radius, height)
    inward = radius - r
    inward = np.where(np.abs(inward) < least, least, inward)
    below, above = z + 0.5 * height, z - 0.5 * height
    sheet = np.full_like(r, radius)
    axial = sheet_axial_flux_density(sheet, r, inward, below) - sheet_axial_flux_density(sheet, r, inward, above)
    off = radius - inward
    radial = loop_vector_potential(radius, 0.0, off, above) - loop_vector_potential(radius, 0.0, off, below)
    share = np.divide(radial, r, out=np.zeros_like(r), where=r > 0.0)
    return np.asarray(polarisation / MAGNETIC_CONSTANT * np.stack([share * x, share * y, axial]))
