"""Two coupled circuits with a rectifier behind the tag, stepped exactly from one switching of the diode to the next.

The state is the base coil's current, its tuning capacitor's voltage, the tag coil's current and the voltage across it;
beside it stands the voltage of the storage capacitor. Between two switchings all of it is a sum of exponentials.
"""

from dataclasses import dataclass, replace
from math import pi

import numpy as np
from numpy.typing import NDArray

from links.budget import LinkBudget
from links.errors import LinkError, require_not_negative, require_positive
from links.quantities import BooleanArray, ComplexArray, Real, RealArray

TAG_CURRENT, TAG_VOLTAGE = 2, 3
# Looks at a switching function over one cycle; a peak between two of them is looked for apart.
LOOKS = 24
NEWTON_STEPS = 12
SWITCHINGS_A_CYCLE = 40
# The chip takes its current between the cycles, so the store must outlast many of them.
LEAST_CYCLES_OF_DISCHARGE = 50.0


@dataclass(frozen=True, slots=True)
class Store:
    """Rectifier, storage capacitor and what draws from it while it charges.

    Parameters
    ----------
    capacitance : float
        Of the storage capacitor [F].
    diode_drop : float
        Constant drop of the one diode while it conducts [V].
    chip_current : float
        Constant current the chip takes from the store, as long as there is any charge [A].
    load_resistance : float
        Further load of the store [Ω]; infinity for none.
    clamp_voltage : float or None
        Where the chip's limiter holds the store [V]; None for no limiter.

    Raises
    ------
    LinkError
        For a value no circuit can have.
    """

    capacitance: float
    diode_drop: float = 0.0
    chip_current: float = 0.0
    load_resistance: float = float("inf")
    clamp_voltage: float | None = None

    def __post_init__(self) -> None:
        require_positive("storage capacitance", self.capacitance)
        require_not_negative("storage capacitance", self.capacitance)
        require_not_negative("diode drop", self.diode_drop)
        require_not_negative("chip current", self.chip_current)
        require_positive("load resistance of the store", self.load_resistance)
        if self.clamp_voltage is not None:
            require_positive("clamp voltage", self.clamp_voltage)

    def drained(self, voltage: RealArray, duration: RealArray) -> RealArray:
        """Voltage left when the chip alone has drawn from the store for ``duration`` [V]."""
        left = voltage * np.exp(-duration / (self.load_resistance * self.capacitance))
        return np.asarray(np.maximum(left - self.chip_current * duration / self.capacitance, 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """Where each of n circuits stands.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Since the drive came on [s].
    state : ndarray, shape (n, 4)
        Base coil current, base capacitor voltage, tag coil current, tag voltage [A], [V], [A], [V].
    store : ndarray, shape (n,)
        Voltage of the storage capacitor [V].
    conducts : ndarray of bool, shape (n,)
        Whether the diode does.
    """

    time: RealArray
    state: RealArray
    store: RealArray
    conducts: BooleanArray

    def taken(self, which: NDArray[np.intp] | BooleanArray) -> "Moment":
        """These circuits only."""
        return Moment(self.time[which], self.state[which], self.store[which], self.conducts[which])


@dataclass(frozen=True, slots=True, eq=False)
class RectifiedTag:
    """n driven circuits; index 0 of the first axis is the diode off, 1 the diode on.

    Parameters
    ----------
    frequency : float
        [Hz].
    supply : Store
        Behind the rectifier.
    rates : ndarray of complex, shape (2, n, 5)
        Of the four free exponentials and, last, of the drive [1/s].
    shapes : ndarray of complex, shape (2, n, 4, 5)
        State from the exponentials' amplitudes; the last column is the forced state's peak phasor [A], [V].
    weights : ndarray of complex, shape (2, n, 4, 4)
        Amplitudes of the free exponentials from the state.
    """

    frequency: float
    supply: Store
    rates: ComplexArray
    shapes: ComplexArray
    weights: ComplexArray

    @property
    def period(self) -> float:
        """Of the drive [s]."""
        return 1.0 / self.frequency

    def taken(self, which: NDArray[np.intp]) -> "RectifiedTag":
        """These circuits only, in this order, repeats allowed."""
        return replace(self, rates=self.rates[:, which], shapes=self.shapes[:, which], weights=self.weights[:, which])

    def at_rest(self) -> Moment:
        """Nothing charged, no current, drive coming on."""
        count = self.rates.shape[1]
        return Moment(np.zeros(count), np.zeros((count, 4)), np.zeros(count), np.zeros(count, dtype=np.bool_))


def rectified_tag(budget: LinkBudget, supply: Store) -> RectifiedTag:
    """The circuits of a budget, one place after the other, with the chip's resistive load replaced by a store.

    Parameters
    ----------
    budget : LinkBudget
        Places, flattened; its load resistance is not used. The drive has the voltage its current limit leaves it in
        the budget.
    supply : Store
        Rectifier and store.

    Returns
    -------
    RectifiedTag
        See there.

    Raises
    ------
    LinkError
        Where the chip would empty the store within few cycles.

    Notes
    -----
    Tag: L2 dI2/dt + M dI1/dt = −R2 I2 − V2, C dV2/dt = I2 with C = C2 while the diode is off and C2 + Cs while it
    conducts. M enters by its magnitude; the small phase that eddy currents give it is left out. A parallel-tuned base
    on a source without resistance is given a millionth of its coil's reactance.
    """
    frequency, base, tag = budget.frequency, budget.base, budget.tag
    shape, omega = budget.held.shape, 2.0 * pi * frequency
    cycles = supply.load_resistance * supply.capacitance * frequency
    if cycles < LEAST_CYCLES_OF_DISCHARGE:
        text = f"{supply.capacitance} F given; its load empties it in {cycles:.3g} cycles, at least "
        raise LinkError("storage capacitance", f"{text}{LEAST_CYCLES_OF_DISCHARGE:g} are allowed")

    def flat(values: object) -> RealArray:
        return np.broadcast_to(np.asarray(values, dtype=np.float64), shape).ravel()

    mutual = flat(np.abs(budget.mutual_inductance))
    first_l, first_r, first_c = flat(base.inductance), flat(base.resistance), flat(base.tuning_capacitance(frequency))
    second_l, second_r = flat(tag.inductance), flat(tag.resistance)
    capacitance = flat(tag.tuning_capacitance(frequency))
    source = np.full_like(mutual, base.source_resistance)
    if np.any(mutual**2 >= first_l * second_l):
        raise LinkError("mutual inductance", "a coupling coefficient of 1 or more given; it must be less than 1")

    # Voltage left for the two inductances, as rows over the state, and for the source.
    left = np.zeros((mutual.size, 2, 4))
    driven = np.zeros((mutual.size, 4))
    derivative = np.zeros((2, mutual.size, 4, 4))
    left[:, 0, 0] = -first_r
    left[:, 1, 2], left[:, 1, 3] = -second_r, -1.0
    inverse = np.empty((mutual.size, 2, 2))
    determinant = first_l * second_l - mutual**2
    inverse[:, 0, 0], inverse[:, 1, 1] = second_l / determinant, first_l / determinant
    inverse[:, 0, 1] = inverse[:, 1, 0] = -mutual / determinant
    if base.tuning == "series":
        left[:, 0, 0] -= source
        left[:, 0, 1] = -1.0
        driven[:, [0, 2]] = inverse[:, :, 0]
        derivative[:, :, 1, 0] = 1.0 / first_c
    else:
        source = np.maximum(source, 1e-6 * omega * first_l)
        left[:, 0, 1] = 1.0
        derivative[:, :, 1, 0], derivative[:, :, 1, 1] = -1.0 / first_c, -1.0 / (source * first_c)
        driven[:, 1] = 1.0 / (source * first_c)
    derivative[:, :, [0, 2], :] = inverse @ left
    derivative[0, :, 3, 2] = 1.0 / capacitance
    derivative[1, :, 3, 2] = 1.0 / (capacitance + supply.capacitance)
    driven *= flat(budget.source_voltage)[:, None]

    rates, shapes = np.linalg.eig(derivative.astype(np.complex128))
    forced = np.linalg.solve(1j * omega * np.eye(4) - derivative, np.broadcast_to(driven[..., None], (*rates.shape, 1)))
    drive_rate = np.full((*rates.shape[:2], 1), 1j * omega)
    return RectifiedTag(
        frequency=frequency,
        supply=supply,
        rates=np.concatenate((rates, drive_rate), axis=2),
        shapes=np.concatenate((shapes, forced), axis=3),
        weights=np.linalg.inv(shapes),
    )


def advanced(circuits: RectifiedTag, start: Moment, duration: Real) -> Moment:
    """All circuits carried on.

    Parameters
    ----------
    circuits : RectifiedTag
        n of them.
    start : Moment
        Of the same n.
    duration : float or ndarray, shape (n,)
        Not above one period [s].

    Returns
    -------
    Moment
        At ``start.time + duration``; what the chip draws is taken half before and half after.

    Raises
    ------
    LinkError
        Where the diode does not come to rest.
    """
    duration = np.broadcast_to(np.asarray(duration, dtype=np.float64), start.time.shape)
    half = 0.5 * duration
    state, store = start.state.copy(), circuits.supply.drained(start.store, half)
    conducts, left = start.conducts.copy(), duration.copy()
    # While the diode conducts the tag's voltage goes with the store: what was drained is missing from both.
    state[conducts, TAG_VOLTAGE] = store[conducts] + circuits.supply.diode_drop
    for _ in range(SWITCHINGS_A_CYCLE):
        active = np.flatnonzero(left > 0.0)
        if active.size == 0:
            break
        mode = conducts[active].astype(np.intp)
        rates, shapes = circuits.rates[mode, active], circuits.shapes[mode, active]
        now = start.time[active] + duration[active] - left[active]
        amplitudes = _amplitudes(circuits, mode, active, now, state[active])
        threshold = store[active] + circuits.supply.diode_drop
        passed, switches = _until_switched(rates, shapes * amplitudes[:, None, :], mode, threshold, left[active])
        amplitudes = amplitudes * np.exp(rates * passed[:, None])
        state[active] = np.einsum("nsk,nk->ns", shapes, amplitudes).real
        # At the switching itself the tag's voltage is the threshold, and the coil's current nought, to rounding.
        on = mode == 1
        store[active[on]] = state[active[on], TAG_VOLTAGE] - circuits.supply.diode_drop
        left[active] = np.where(switches, left[active] - passed, 0.0)
        conducts[active] ^= switches
    else:
        raise LinkError("rectifier", f"more than {SWITCHINGS_A_CYCLE} switchings in a cycle; no steady conduction")
    return Moment(start.time + duration, state, circuits.supply.drained(store, half), conducts)


def _amplitudes(
    circuits: RectifiedTag, mode: NDArray[np.intp], active: NDArray[np.intp], now: RealArray, state: RealArray
) -> ComplexArray:
    """Of the five exponentials at ``now``, the drive's last, shape (n, 5)."""
    drive = np.exp(2j * pi * circuits.frequency * now)
    forced = (circuits.shapes[mode, active, :, 4] * drive[:, None]).real
    free = np.einsum("nks,ns->nk", circuits.weights[mode, active], state - forced)
    return np.concatenate((free, drive[:, None]), axis=1)


def _until_switched(
    rates: ComplexArray, parts: ComplexArray, mode: NDArray[np.intp], threshold: RealArray, left: RealArray
) -> tuple[RealArray, BooleanArray]:
    """Time until the diode switches, at most ``left``, and whether it does.

    ``parts`` (n, 4, 5) are the state's five exponentials as they stand now. Off, the diode begins to conduct where the
    tag's voltage passes the threshold upward; on, it ceases where the tag coil's current passes nought downward.
    """
    on = mode == 1
    row = np.where(on, TAG_CURRENT, TAG_VOLTAGE)
    # The function sought is positive where the diode is to switch.
    sign = np.where(on, -1.0, 1.0)
    parts_of = parts[np.arange(on.size), row] * sign[:, None]
    level = np.where(on, 0.0, threshold)
    looks = np.linspace(0.0, 1.0, LOOKS + 1)[None, :] * left[:, None]
    decay = np.exp(rates[:, :, None] * looks[:, None, :])
    values = np.einsum("nk,nkt->nt", parts_of, decay).real - level[:, None]
    rises = values[:, 1:] > 0.0
    rises[:, 1:] &= values[:, 1:-1] <= 0.0
    # Off begins at the threshold, to rounding: what counts is that the voltage goes on rising from there.
    rises[:, 0] &= on | (values[:, 1] > values[:, 0])
    found = rises.any(axis=1)
    at = np.argmax(rises, axis=1)
    step = left / LOOKS
    low, high = at * step, (at + 1) * step
    everyone = np.arange(on.size)
    first, second = values[everyone, at], values[everyone, at + 1]
    share = np.clip(-first / np.where(second == first, 1.0, second - first), 0.0, 1.0)
    guess = low + share * step
    _add_hidden_peaks(rates, parts, threshold, on, step, decay, found, low, high, guess)
    passed = np.where(found, guess, left)
    which = np.flatnonzero(found)
    if which.size:
        passed[which] = _root(
            rates[which], parts_of[which], level[which], low[which], high[which], guess[which], 1e-9 * step[which]
        )
    return passed, found


def _add_hidden_peaks(
    rates: ComplexArray,
    parts: ComplexArray,
    threshold: RealArray,
    on: BooleanArray,
    step: RealArray,
    decay: ComplexArray,
    found: BooleanArray,
    low: RealArray,
    high: RealArray,
    guess: RealArray,
) -> None:
    """Find where the tag's voltage passes the threshold and comes back between two looks; written into the arrays."""
    current = np.einsum("nk,nkt->nt", parts[:, TAG_CURRENT], decay).real
    peaks = (current[:, :-1] > 0.0) & (current[:, 1:] <= 0.0)
    which = np.flatnonzero(~on & ~found & peaks.any(axis=1))
    if which.size == 0:
        return
    at = np.argmax(peaks[which], axis=1)
    begin, width = at * step[which], step[which]
    first, second = current[which, at], current[which, at + 1]
    top = begin + width * first / (first - second)
    top = _root(rates[which], -parts[which, TAG_CURRENT], np.zeros(which.size), begin, begin + width, top, 1e-9 * width)
    tops = parts[which, TAG_VOLTAGE] * np.exp(rates[which] * top[:, None])
    excess = tops.sum(axis=1).real - threshold[which]
    bend = (tops * rates[which] ** 2).sum(axis=1).real
    # Rounding goes with the exponentials, which may be far larger than the threshold: that of an empty store is nought,
    # and the end of a conduction is such a peak, to rounding.
    passes = (excess > 1e-12 * np.abs(tops).sum(axis=1)) & (bend < 0.0)
    which, begin, top, excess, bend = (part[passes] for part in (which, begin, top, excess, bend))
    found[which] = True
    low[which], high[which] = begin, top
    guess[which] = np.maximum(top - np.sqrt(-2.0 * excess / bend), begin)


def _root(
    rates: ComplexArray,
    parts: ComplexArray,
    level: RealArray,
    low: RealArray,
    high: RealArray,
    guess: RealArray,
    tolerance: RealArray,
) -> RealArray:
    """Where Σ parts exp(rates t) passes ``level`` upward between ``low`` and ``high``: Newton's steps, else halving."""
    low, high, time = low.copy(), high.copy(), guess.copy()
    for _ in range(NEWTON_STEPS):
        terms = parts * np.exp(rates * time[:, None])
        value = terms.sum(axis=1).real - level
        slope = (terms * rates).sum(axis=1).real
        low, high = np.where(value <= 0.0, time, low), np.where(value > 0.0, time, high)
        stepped = time - value / np.where(slope == 0.0, np.inf, slope)
        outside = (stepped < low) | (stepped > high) | (slope <= 0.0)
        following = np.where(outside, 0.5 * (low + high), stepped)
        settled = np.all(np.abs(following - time) <= tolerance)
        time = following
        if settled:
            break
    return time
