"""The unknowns of a design on the bench, found from its readings, with what is said of their confidence.

Readings with a value are compared by the logarithm of the ratio measured / computed, plain ones (read or not) by the
probability that a margin of so many decibels, uncertain by one, is above nought. The most likely values are looked
for, and how fast the likelihood falls about them says how sure they are.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import log, log10, sqrt

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import norm

from fem.arrays import Array
from studies.bench_model import PERMEABILITY, SHIFT, TEMPERATURE, BenchModel, Unknown
from studies.measured_list import Reading

CONFIDENCE = 0.95
"""With which all unknowns together lie within what is told of them."""

READ_SPREAD = 1.0
"""Standard uncertainty of the margin at which a tag is just read [dB]."""

STARTS = (0.1, 0.5, 0.9)
"""Shares of each unknown's range from which the search starts besides the nominal values."""

TOLD = {PERMEABILITY: 0.2, TEMPERATURE: 100.0, SHIFT: 3e-3}
"""Standard uncertainties beyond which the readings do not tell an unknown: relative [1], [K], [m]."""

ALIKE = 0.995
"""Correlation from which on two unknowns cannot be told apart."""

OUTLYING = 3.0
"""Standard uncertainties from which on a single reading is named."""

LEAST_PROBABILITY, CLAMPED_SHARE = 1e-12, 0.97
STEP = 1e-4


@dataclass(frozen=True, slots=True)
class Compared:
    """One value of one reading beside what is computed, SI.

    ``sigma`` is the standard uncertainty of the ratio, relative; ``before`` is computed with the nominal unknowns,
    ``after`` with the found ones. Plain readings have the quantity ``margin`` [dB], ``measured`` 1 where it read, else
    0, and ``sigma`` in dB. ``clamped`` is what the chip's clamp holds: it tells nothing more.
    """

    reading: Reading
    quantity: str
    measured: float
    sigma: float
    before: float
    after: float
    clamped: bool = False

    @property
    def plain(self) -> bool:
        """Whether it is a read / no-read one."""
        return self.quantity == "margin"

    @property
    def residual(self) -> float:
        """Measured over computed, less one [1]; of a plain one by how many dB the margin is on the wrong side."""
        if self.plain:
            return max(0.0, -self.after if self.measured else self.after)
        return self.measured / self.after - 1.0

    @property
    def deviation(self) -> float:
        """The same in standard uncertainties."""
        return self.residual / self.sigma if self.plain else log(self.measured / self.after) / self.sigma


@dataclass(frozen=True, slots=True)
class Found:
    """An unknown as found: ``value``, and the ends of its interval, SI and °C.

    ``held`` says why it was not varied; then ends are its value. ``at_edge`` is True where the most likely value lies
    at the end of what is possible.
    """

    unknown: Unknown
    value: float
    low: float
    high: float
    held: str = ""
    at_edge: bool = False


@dataclass(frozen=True, slots=True)
class Fitted:
    """What the readings say.

    ``misfit`` is χ² over its degrees of freedom, ``degrees``; where it is beyond one, intervals are wider by its root.
    """

    unknowns: tuple[Found, ...]
    compared: tuple[Compared, ...]
    misfit: float
    misfit_before: float
    degrees: int

    @property
    def outlying(self) -> tuple[Compared, ...]:
        """Readings far off what is computed, the farthest first."""
        far = [one for one in self.compared if not one.clamped and abs(one.deviation) > OUTLYING]
        return tuple(sorted(far, key=lambda one: -abs(one.deviation)))


def fitted_to(model: BenchModel, held: Mapping[str, float] | None = None) -> Fitted:
    """Find the unknowns that readings tell.

    Parameters
    ----------
    model : BenchModel
        With its readings.
    held : mapping or None
        Unknowns that keep a given value, SI and °C.

    Returns
    -------
    Fitted
        Unknowns that the readings do not tell, or do not tell apart, are held at the study's values, the least told
        first.
    """
    fixed = dict(held or {})
    reasons = dict.fromkeys(fixed, "held as asked")
    comparison = _Comparison(model)
    free = [one for one in model.unknowns if one.key not in fixed]
    while True:
        values, covariance = _search(comparison, free, fixed)
        untold = _untold(free, values, covariance)
        if untold is None:
            break
        one, reason = untold
        fixed[one.key], reasons[one.key] = one.nominal, reason
        free = [other for other in free if other is not one]
    everything = fixed | values
    compared = comparison.told(everything)
    misfit, degrees = _misfit(compared, len(free), "after")
    before, _ = _misfit(compared, 0, "before")
    wider = sqrt(max(1.0, misfit)) * float(norm.ppf(1.0 - 0.5 * (1.0 - CONFIDENCE) / max(len(free), 1)))
    found = []
    for unknown in model.unknowns:
        key = unknown.key
        if key in fixed:
            found.append(Found(unknown, fixed[key], fixed[key], fixed[key], reasons[key]))
            continue
        half = wider * sqrt(covariance[free.index(unknown), free.index(unknown)])
        value, room = values[key], 1e-6 * (unknown.high - unknown.low)
        edge = value - unknown.low < room or unknown.high - value < room
        low, high = max(value - half, unknown.low), min(value + half, unknown.high)
        found.append(Found(unknown, value, low, high, "", edge))
    return Fitted(tuple(found), compared, misfit, before, degrees)


class _Comparison:
    """The readings beside the model, as residuals of a least-squares search."""

    def __init__(self, model: BenchModel) -> None:
        self.model = model
        chip = model.candidate.tag.chip
        self.clamp = chip.clamp_voltage
        self.before = model.predicted({})
        self.rows: list[tuple[int, str, float, float]] = []
        self.clamped: list[tuple[int, str, float, float]] = []
        for number, reading in enumerate(model.readings):
            for quantity, measured in reading.values.items():
                sigma = reading.sigma(quantity)
                row = (number, quantity, measured, sigma)
                over = quantity == "chip_voltage" and self.clamp is not None and measured > CLAMPED_SHARE * self.clamp
                (self.clamped if over else self.rows).append(row)
            if reading.read is not None:
                self.rows.append((number, "margin", float(reading.read), READ_SPREAD))

    def residuals(self, unknowns: Mapping[str, float]) -> Array:
        """In standard uncertainties; those of plain readings are the roots of twice the lost log-likelihood."""
        return self._residuals(self.model.predicted(unknowns))

    def _residuals(self, predicted: Sequence[Mapping[str, float]]) -> Array:
        found = []
        for number, quantity, measured, sigma in self.rows:
            value = predicted[number][quantity]
            if quantity == "margin":
                chance = float(norm.cdf((value if measured else -value) / sigma))
                found.append(sqrt(-2.0 * log(max(chance, LEAST_PROBABILITY))))
            else:
                found.append(log(measured / max(value, 1e-300)) / sigma)
        return np.array(found)

    def told(self, unknowns: Mapping[str, float]) -> tuple[Compared, ...]:
        after = self.model.predicted(unknowns)
        kept = [(row, False) for row in self.rows] + [(row, True) for row in self.clamped]
        kept.sort(key=lambda pair: pair[0][0])
        return tuple(
            Compared(
                self.model.readings[number], quantity, measured, sigma,
                self._shown(self.before, number, quantity, clamped), self._shown(after, number, quantity, clamped),
                clamped,
            )
            for (number, quantity, measured, sigma), clamped in kept
        )  # fmt: skip

    def _shown(self, values: Sequence[Mapping[str, float]], number: int, quantity: str, clamped: bool) -> float:
        value = values[number][quantity]
        return min(value, self.clamp) if clamped and self.clamp is not None else value


def _search(
    comparison: _Comparison, free: Sequence[Unknown], fixed: Mapping[str, float]
) -> tuple[dict[str, float], Array]:
    """The most likely values of the free unknowns, and their covariance, (n, n) in SI."""
    if not free or not comparison.rows:
        return {one.key: one.nominal for one in free}, np.full((len(free), len(free)), np.inf)
    low, span = np.array([one.low for one in free]), np.array([one.high - one.low for one in free])

    def residuals(shares: Array) -> Array:
        values = low + span * np.clip(shares, 0.0, 1.0)
        return comparison.residuals(dict(fixed) | {one.key: float(v) for one, v in zip(free, values, strict=True)})

    nominal = np.clip((np.array([one.nominal for one in free]) - low) / span, 1e-3, 1.0 - 1e-3)
    best = None
    for start in (nominal, *(np.full(len(free), share) for share in STARTS)):
        tried = least_squares(residuals, start, bounds=(0.0, 1.0), diff_step=STEP, x_scale=0.1)
        if best is None or tried.cost < best.cost - 1e-9:
            best = tried
    assert best is not None, "there are starts"
    slopes = _slopes(residuals, best.x)
    covariance = np.linalg.pinv(slopes.T @ slopes, hermitian=True)
    for place in range(len(free)):
        if not np.any(np.abs(slopes[:, place]) > 1e-9):
            covariance[place, place] = np.inf
    values = low + span * best.x
    return {one.key: float(v) for one, v in zip(free, values, strict=True)}, np.asarray(
        covariance * np.outer(span, span)
    )


def _slopes(residuals: Callable[[Array], Array], at: Array) -> Array:
    """Derivatives of the residuals, by steps to both sides where there is room, (n_residual, n)."""
    columns = []
    for place in range(at.size):
        ends = np.stack((at, at))
        ends[0, place], ends[1, place] = max(at[place] - STEP, 0.0), min(at[place] + STEP, 1.0)
        ahead, behind = residuals(ends[1]), residuals(ends[0])
        columns.append((ahead - behind) / (ends[1, place] - ends[0, place]))
    return np.stack(columns, axis=1)


def _untold(free: Sequence[Unknown], values: Mapping[str, float], covariance: Array) -> tuple[Unknown, str] | None:
    """The unknown that the readings tell least, where they do not tell it, and why."""
    if not free:
        return None
    sigmas = np.sqrt(np.diag(covariance))
    limits = np.array([TOLD[one.key] * (values[one.key] if one.key == PERMEABILITY else 1.0) for one in free])
    worst = int(np.argmax(sigmas / limits))
    if sigmas[worst] > limits[worst]:
        return free[worst], "the readings do not tell it"
    ratios = covariance / np.outer(sigmas, sigmas)
    for one in range(len(free)):
        for other in range(one):
            if abs(ratios[one, other]) > ALIKE:
                given = max((one, other), key=lambda place: sigmas[place] / limits[place])
                return free[given], "the readings do not tell it apart from the others"
    return None


def _misfit(compared: Sequence[Compared], free: int, which: str) -> tuple[float, int]:
    """χ² over degrees of freedom of the readings with values, and those degrees."""
    squares = [
        (log(one.measured / getattr(one, which)) / one.sigma) ** 2
        for one in compared
        if not one.plain and not one.clamped
    ]
    degrees = max(len(squares) - free, 0)
    return (sum(squares) / degrees if degrees else 1.0), degrees


def decibels(ratio: float) -> float:
    """Of an amplitude."""
    return 20.0 * log10(ratio)
