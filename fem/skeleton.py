"""Any winding of a cell as a few rings on the cell's edge: the same field wherever it matters, by small products.

Outside a cell the field of what lies in it follows from its values on what surrounds it. Rings on the cell's edge make
every such field; which of them, and how strong, a pivoted factorisation of their potentials at check points tells.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import qr

from fem.arrays import Array, ComplexArray
from fem.coil_field import coil_potential
from fem.sources import unit_ring_potential
from geometries.cells import Segment, point_distance
from geometries.section import WindingSection

SPACING_SHARE, RING_SHARE = 0.38, 0.45
"""Distance of check points, and of rings, over that between cell and surroundings: good for 1e-6, and 1e-5 where a slim
winding sits at the cell's edge."""

KEPT = 1e-9
"""Rings that add less than this share of the first to the potentials are left out."""

FIRST_SHARE = 1e-3
"""Least distance of two neighbouring points over the cell's size, whatever is near."""


@dataclass(frozen=True, eq=False)
class Skeleton:
    """Rings that stand for the windings of a cell.

    Parameters
    ----------
    cell : WindingSection
        Where the windings lie.
    checks : ndarray, shape (2, n_check)
        r and z [m] of the places whose potentials are met.
    rings : ndarray, shape (2, n_ring)
        r and z [m].
    scales : ndarray, shape (n_check,)
        Factor that gives every check point the same say.
    """

    cell: WindingSection
    checks: Array
    rings: Array
    scales: Array

    @cached_property
    def _inverse(self) -> Array:
        return np.asarray(np.linalg.pinv(_potentials(self.rings, self.checks) * self.scales[:, None], rcond=1e-14))

    def weights(self, winding: WindingSection) -> Array:
        """Amperes in each ring that stand for one ampere in one turn of a winding within the cell, shape (n_ring,)."""
        potential = coil_potential(winding, *self.checks)
        return np.asarray(self._inverse @ (self.scales * potential))

    def answer_currents(self, linkages: ComplexArray) -> ComplexArray:
        """Amperes at the check points whose field in the cell links the rings as given [Wb], shape (n_check,).

        Notes
        -----
        By reciprocity: what a ring in the cell links is the sum over the skeleton's rings of its weights and their
        linkages, and its weights come from what it makes at the check points.
        """
        return np.asarray((self._inverse.T @ linkages) * self.scales / (2.0 * np.pi * self.checks[0]))


def skeleton(cell: WindingSection, surroundings: tuple[Segment, ...], density: float = 1.0) -> Skeleton:
    """The rings for a cell; ``surroundings`` are lines that bound everything whose field is asked for.

    ``density`` is that of points over the usual.
    """
    least = FIRST_SHARE * max(cell.radial_build, cell.winding_length)
    checks = np.array(
        [
            place
            for one in surroundings
            for place in _walked(one, lambda p: max(SPACING_SHARE / density * point_distance(cell, p), least))
            if place[0] > 0.0
        ]
    ).T

    def room(place: tuple[float, float]) -> float:
        nearest = float(np.hypot(checks[0] - place[0], checks[1] - place[1]).min())
        return max(RING_SHARE / density * nearest, least)

    corners = cell.corners
    edges = zip(corners, (*corners[1:], corners[0]), strict=True)
    rings = np.array([place for edge in edges for place in _walked(edge, room)]).T
    potentials = _potentials(rings, checks)
    scales = 1.0 / np.sqrt((potentials**2).mean(axis=1))
    _, triangle, order = qr(potentials * scales[:, None], mode="economic", pivoting=True)
    sizes = np.abs(np.diag(triangle))
    kept = np.sort(order[: int((sizes > KEPT * sizes[0]).sum())])
    return Skeleton(cell, checks, rings[:, kept], scales)


def misfit(one: Skeleton, windings: tuple[WindingSection, ...]) -> float:
    """Largest relative error of the potential of some windings at the check points' midways."""
    middles = 0.5 * (one.checks[:, 1:] + one.checks[:, :-1])
    steps = np.hypot(*np.diff(one.checks, axis=1))
    nearest = np.array([point_distance(one.cell, (r, z)) for r, z in middles.T])
    places = middles[:, steps < nearest]  # one line's last point and the next one's first have no midway
    errors = []
    for winding in windings:
        true = coil_potential(winding, *places)
        errors.append(np.abs(_potentials(one.rings, places) @ one.weights(winding) / true - 1.0).max())
    return float(max(errors))


def _potentials(rings: Array, places: Array) -> Array:
    """A of unit rings at places, shape (n_place, n_ring)."""
    return unit_ring_potential(rings[0], rings[1], places[0, :, None], places[1, :, None])


def _walked(segment: Segment, step: Callable[[tuple[float, float]], float]) -> list[tuple[float, float]]:
    """Middles of the pieces of a line whose lengths follow from where they lie."""
    (r1, z1), (r2, z2) = segment
    length = float(np.hypot(r2 - r1, z2 - z1))
    found, gone = list[tuple[float, float]](), 0.0

    def at(way: float) -> tuple[float, float]:
        share = min(way / length, 1.0)
        return r1 + share * (r2 - r1), z1 + share * (z2 - z1)

    while gone < length:
        ahead = min(step(at(gone)), step(at(gone + 0.5 * step(at(gone)))))
        found.append(at(min(gone + 0.5 * ahead, 0.5 * (gone + length))))
        gone += ahead
    return found
