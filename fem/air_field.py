"""The base coil's field in the air above the plate, as a polynomial that is cheap to evaluate at many places."""

from dataclasses import dataclass
from functools import cached_property
from math import ceil, log, sqrt

import numpy as np
from numpy.polynomial import chebyshev

from fem.arrays import Array, ComplexArray
from fem.series import chebyshev_polynomials, derivative, first_summed, joined, real_parts, times
from fem.sources import Rings

LARGEST_DEGREE = 400


@dataclass(frozen=True, slots=True)
class AirSpace:
    """A cylinder of air about the base coil's axis, from ``low`` to ``high`` and out to ``radius`` [m]."""

    radius: float
    low: float
    high: float

    def holds(self, other: "AirSpace") -> bool:
        """Whether another space lies within."""
        return other.radius <= self.radius and self.low <= other.low and other.high <= self.high


@dataclass(frozen=True, slots=True, eq=False)
class AxisSamples:
    """Samples along the axis of a probe that sits, leaning one way, at n places sideways by m heights.

    Those on the other side of its centre lie as far from the base coil's axis as those on this side do for a probe
    that leans the opposite way: their distances are not given twice.

    Parameters
    ----------
    weights : ndarray of complex, shape (2, n_sample)
        Of the samples on this and on the other side [m²].
    r, outward : ndarray, shape (n_sample, n) or (1, n)
        Of the samples on this side: distance from the base coil's axis [m], and the factor on B_r/r there, r times the
        outward part of the probe's direction [m]; one row where all samples have the same.
    z : ndarray, shape (2, n_sample, m) or (2, 1, m)
        Heights on this and on the other side [m], likewise.
    upward : float
        Upward part of the direction [1].
    """

    weights: ComplexArray
    r: Array
    outward: Array
    z: Array
    upward: float


@dataclass(frozen=True, eq=False)
class AirField:
    """A/r as a Chebyshev series in r² and z; its derivatives are the flux density, regular on the axis.

    Parameters
    ----------
    space : AirSpace
        Where it holds.
    coefficients : ndarray, shape (n_radial, n_axial)
        Of A/r [T].
    """

    space: AirSpace
    coefficients: ComplexArray

    @cached_property
    def radial_series(self) -> ComplexArray:
        """Coefficients of B_r/r = −∂z(A/r) [T/m], shape (n_radial, n_axial)."""
        slopes = derivative(self.coefficients.T).T
        found = np.zeros_like(self.coefficients)
        found[:, : slopes.shape[1]] = -slopes * (2.0 / (self.space.high - self.space.low))
        return found

    @cached_property
    def axial_series(self) -> ComplexArray:
        """Coefficients of B_z = 2 A/r + r ∂r(A/r) [T]; r ∂r is 2 (u + 1) ∂u, which raises no degree."""
        count = self.coefficients.shape[0]
        found = 2.0 * self.coefficients
        if count > 1:
            slopes = derivative(self.coefficients)
            found[: count - 1] += 2.0 * slopes
            # u T_k = (T_(k+1) + T_|k−1|)/2
            found[1:] += slopes
            found[: count - 2] += slopes[1:]
            found[1] += slopes[0]
        return found

    @cached_property
    def _potential_parts(self) -> Array:
        return real_parts(self.coefficients)

    @cached_property
    def _radial_parts(self) -> Array:
        return real_parts(self.radial_series)

    @cached_property
    def _axial_parts(self) -> Array:
        return real_parts(self.axial_series)

    def flux_density(self, r: Array, z: Array) -> tuple[ComplexArray, ComplexArray]:
        """B_r/r [T/m] and B_z [T] on the grid of all ``r`` (n,) by all ``z`` (m,), shape (n, m)."""
        radial, axial = self._terms(*self._mapped(r, z))
        summed = (np.moveaxis(first_summed(parts, radial), 1, 2) for parts in (self._radial_parts, self._axial_parts))
        over_radius, b_z = (joined(one @ axial) for one in summed)
        return over_radius, b_z

    def along_axes(self, samples: AxisSamples) -> ComplexArray:
        """What a probe with an axis picks up at every height and every place sideways, shape (2, m, n) [T m²].

        First by the samples on this side of its centre, then by those on the other side where it leans the opposite
        way. The terms in r² are summed first, then those in z together with the samples.
        """
        radial, axial = self._terms(*self._mapped(samples.r, samples.z))
        outward = first_summed(self._radial_parts, radial)
        outward *= samples.outward
        along, against = outward, -outward
        if samples.upward:
            upward = first_summed(self._axial_parts, radial)
            upward *= samples.upward
            along, against = upward + outward, upward - outward
        here, there = samples.weights[..., None]
        return np.stack((_gathered(times(along, here), axial[:, 0]), _gathered(times(against, there), axial[:, 1])))

    def flux_density_at(self, r: Array, z: Array) -> tuple[ComplexArray, ComplexArray]:
        """B_r/r [T/m] and B_z [T] at scattered places, shape of ``r``."""
        found = self._at(r, z, self._radial_parts, self._axial_parts)
        return found[0], found[1]

    def everything_at(self, r: Array, z: Array) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """A/r [T], B_r/r [T/m] and B_z [T] at scattered places, shape of ``r``."""
        found = self._at(r, z, self._potential_parts, self._radial_parts, self._axial_parts)
        return found[0], found[1], found[2]

    def _mapped(self, r: Array, z: Array) -> tuple[Array, Array]:
        space = self.space
        u = 2.0 * (r / space.radius) ** 2 - 1.0
        w = (2.0 * z - space.high - space.low) / (space.high - space.low)
        room = 1.0 + 1e-9
        assert np.all(np.abs(u) <= room), "a place outside the space of the series, sideways"
        assert np.all(np.abs(w) <= room), "a place outside the space of the series, in height"
        return u, w

    def _terms(self, u: Array, w: Array) -> tuple[Array, Array]:
        """Chebyshev polynomials in r² and z, shapes (n_radial, *u.shape) and (n_axial, *w.shape)."""
        n, m = self.coefficients.shape
        return chebyshev_polynomials(u, n), chebyshev_polynomials(w, m)

    def _at(self, r: Array, z: Array, *series: Array) -> list[ComplexArray]:
        """Each of some series, as their real parts, at scattered places, shape of ``r``."""
        radial, axial = self._terms(*self._mapped(r.ravel(), z.ravel()))
        return [joined((first_summed(one, radial) * axial).sum(axis=1)).reshape(r.shape) for one in series]


def _gathered(picked: Array, axial: Array) -> ComplexArray:
    """Terms in z and samples summed; ``picked`` (2, n_axial, n_sample, n), ``axial`` (n_axial, n_sample or 1, m)."""
    if axial.shape[1] == 1:
        picked = picked.sum(axis=2, keepdims=True)
    terms = axial.shape[0] * picked.shape[2]
    return joined(axial.reshape(terms, -1).T @ picked.reshape(2, terms, -1))


def air_field(groups: list[Rings], space: AirSpace, tolerance: float) -> AirField:
    """Series of the field of all ``groups`` of sources, each sampled as finely as its distance from ``space`` asks.

    ``tolerance`` is the wanted truncation error, relative to the largest A/r.
    """
    return AirField(space, series(groups, space, tolerance))


def series(groups: list[Rings], space: AirSpace, tolerance: float) -> ComplexArray:
    """Coefficients of A/r of all groups together, shape (n_radial, n_axial) and the groups' cases behind it [T]."""
    parts = [_series(rings, space, tolerance) for rings in groups]
    shape = tuple(max(part.shape[axis] for part in parts) for axis in (0, 1))
    total = np.zeros((*shape, *parts[0].shape[2:]), dtype=complex)
    for part in parts:
        total[: part.shape[0], : part.shape[1]] += part
    return total


def trimmed(coefficients: ComplexArray, tolerance: float) -> ComplexArray:
    """A series without the last terms that even its slopes do not need, to ``tolerance`` of its largest coefficient.

    Terms of degree k count (k + 1)²-fold, which is what a derivative can make of them.
    """
    least = tolerance * float(np.abs(coefficients).max())
    for axis in (0, 1):
        sizes = np.abs(coefficients).sum(axis=1 - axis) * np.arange(1.0, coefficients.shape[axis] + 1.0) ** 2
        left_out = np.cumsum(sizes[::-1])[::-1]
        coefficients = coefficients.take(np.arange(max(1, int((left_out > least).sum()))), axis=axis)
    return coefficients


def _series(rings: Rings, space: AirSpace, tolerance: float) -> ComplexArray:
    n, m = degrees(_clearance(rings, space), space, tolerance)
    u, w = chebyshev.chebpts1(n), chebyshev.chebpts1(m)
    r = space.radius * np.sqrt(0.5 * (u + 1.0))
    z = 0.5 * (space.high + space.low) + 0.5 * (space.high - space.low) * w
    samples = rings.potential_over_radius(*np.meshgrid(r, z, indexing="ij"))
    along = np.tensordot(_transform(u), samples, axes=1)
    return np.asarray(np.moveaxis(np.tensordot(along, _transform(w), axes=(1, 1)), -1, 1))


def degrees(clearance: float, space: AirSpace, tolerance: float) -> tuple[int, int]:
    """Terms in r² and in z for ``tolerance``, from the nearest singularity's Bernstein ellipse."""
    sideways = clearance / space.radius
    upward = 1.0 + 2.0 * clearance / (space.high - space.low)
    radial = 0.5 * log(1.0 / tolerance) / log(sideways + sqrt(1.0 + sideways**2))
    axial = log(1.0 / tolerance) / log(upward + sqrt(upward**2 - 1.0))
    return tuple(min(LARGEST_DEGREE, 4 + ceil(n)) for n in (radial, axial))  # type: ignore[return-value]


def _clearance(rings: Rings, space: AirSpace) -> float:
    below = np.maximum(space.low - rings.height, 0.0)
    above = np.maximum(rings.height - space.high, 0.0)
    outside = np.maximum(rings.radius - space.radius, 0.0)
    return max(float(np.min(np.hypot(below + above, outside))), 1e-6)


def _transform(points: Array) -> Array:
    """Samples at Chebyshev points of the first kind to coefficients."""
    count = points.size
    matrix = chebyshev.chebvander(points, count - 1).T * (2.0 / count)
    matrix[0] *= 0.5
    return np.asarray(matrix)
