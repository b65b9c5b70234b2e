"""Charge of a half-duplex tag's storage capacitor while the base coil is on."""

from dataclasses import dataclass

import numpy as np

from links.budget import LinkBudget
from links.errors import LinkError, require_positive
from links.quantities import BooleanArray, RealArray
from links.rectified_tag import TAG_VOLTAGE, Moment, RectifiedTag, Store, advanced, rectified_tag

# Cycles stepped one by one before any leap, and the longest leap.
FIRST_CYCLES = 4
LONGEST_LEAP = 1024
# Error a leap may make, of the voltage's scale; leaps' errors add up, tens of them.
LEAP_TOLERANCE = 5e-4
# Size of the steps that give the derivative of one cycle, of each state's scale.
NUDGE = 1e-5
VARIABLES = 5


@dataclass(frozen=True, slots=True, eq=False)
class Charge:
    """The storage capacitor after its charge time, arrays of the budget's shape.

    Parameters
    ----------
    time : float
        [s].
    unclamped_voltage : ndarray
        What the store would stand at without a limiter [V].
    clamped_voltage : ndarray
        As the limiter leaves it [V].
    final_rate : ndarray
        At which the unclamped voltage still rises [V/s].
    """

    time: float
    unclamped_voltage: RealArray
    clamped_voltage: RealArray
    final_rate: RealArray


def charge(budget: LinkBudget, supply: Store, time: float) -> Charge:
    """Voltage of the store at the end of the charge time.

    Parameters
    ----------
    budget : LinkBudget
        Places; see `charge_curve`.
    supply : Store
        Rectifier and store.
    time : float
        The drive is on [s].

    Returns
    -------
    Charge
        See there.

    Raises
    ------
    LinkError
        For a time not above 0 or a store no rectifier can serve.
    """
    period = 1.0 / budget.frequency
    before, after = charge_curve(budget, supply, np.array([max(time - period, 0.0), time]))
    clamped = after if supply.clamp_voltage is None else np.minimum(after, supply.clamp_voltage)
    return Charge(time, after, np.asarray(clamped), np.asarray((after - before) / min(period, time)))


def charge_curve(budget: LinkBudget, supply: Store, times: RealArray) -> RealArray:
    """Voltage of the store against time, the drive coming on at 0 with nothing charged, no limiter at work [V].

    Parameters
    ----------
    budget : LinkBudget
        Places. The drive has the voltage the budget's current limit leaves it; the tag's load resistance is replaced by
        the store.
    supply : Store
        Rectifier and store.
    times : ndarray, shape (n_time,)
        Not negative, any order [s].

    Returns
    -------
    ndarray, shape (n_time, *shape of the budget)
        [V].

    Raises
    ------
    LinkError
        For times that are negative or all 0, or a store no rectifier can serve.

    Notes
    -----
    Cycle by cycle: the two coupled circuits are solved exactly from one switching of the diode to the next. Where many
    cycles are alike a leap is taken over them: x_{n+K} = x_n + (1 + J + … + J^{K−1})(Φ(x_n) − x_n), with Φ one cycle
    and J its derivative, exact but for the bend of Φ; the cycle after the leap tells the error, and a leap that errs
    is taken again at half its length. Against every cycle stepped, leaps were off by up to 1e-4 once the store stood
    at a tenth of its end, and 7e-4 before. A limiter leaves the lesser of this curve and its own voltage.
    """
    times = np.asarray(times, dtype=np.float64)
    end = float(times.max(initial=0.0))
    require_positive("charge time", end)
    if not (np.all(times >= 0.0) and np.isfinite(end)):
        raise LinkError("charge time", "a negative or infinite time given; it must be finite and at least 0")
    circuits = rectified_tag(budget, supply)
    nodes = _march(circuits, end)
    voltages = _interpolated(nodes, times, circuits.period)
    return voltages.reshape(times.shape + budget.held.shape)


@dataclass(frozen=True, slots=True, eq=False)
class _Node:
    """Times, voltages of the store and its gain over the cycle that follows, shape (n,) each [s], [V], [V]."""

    time: RealArray
    store: RealArray
    gain: RealArray


def _march(circuits: RectifiedTag, end: float) -> list[_Node]:
    """Nodes from rest until every circuit has passed ``end``."""
    moment, nodes, leap, count = circuits.at_rest(), [], 1, 0
    following = advanced(circuits, moment, circuits.period)
    while True:
        nodes.append(_Node(moment.time, moment.store, following.store - moment.store))
        if np.all(moment.time >= end):
            return nodes
        count += 1
        unfit = _unfit(moment) | _unfit(following)
        if count <= FIRST_CYCLES:
            moment = following
            following = advanced(circuits, moment, circuits.period)
        elif np.any(unfit):
            # Those go on by part of a cycle, to a phase at which the tag's voltage is negative.
            moment = advanced(circuits, moment, np.where(unfit, circuits.period / 7.0, circuits.period))
            following = advanced(circuits, moment, circuits.period)
        else:
            moment, following, leap = _leapt(circuits, moment, following, leap, nodes)


def _unfit(moment: Moment) -> BooleanArray:
    """Where a derivative of the coming cycle would not hold: the diode has to be at rest, well before it conducts."""
    return np.asarray(moment.conducts | (moment.state[:, TAG_VOLTAGE] > 0.0))


def _leapt(
    circuits: RectifiedTag, moment: Moment, following: Moment, leap: int, nodes: list[_Node]
) -> tuple[Moment, Moment, int]:
    """The moment after a leap, the one a cycle later, and the length to try next; nodes within the leap are added."""
    begin, scale = _vector(moment), _scale(circuits)
    gain = _vector(following) - begin
    stages = _stages(_derivative(circuits, moment, following, scale), gain, leap)
    for length, sums, predicted in reversed(stages):
        landed = begin + sums
        landed[:, -1] = np.maximum(landed[:, -1], 0.0)
        after = Moment(moment.time + length * circuits.period, landed[:, :-1], landed[:, -1], moment.conducts)
        then = advanced(circuits, after, circuits.period)
        wrong = np.abs(_vector(then) - landed - predicted)
        # What one cycle is off by has grown from nought over the leap: a third of it, so often, if it grew as a square.
        store = length * wrong[:, -1] / (3.0 * np.maximum(landed[:, -1], 0.01 * scale[:, -1]))
        error = float(np.max(np.maximum(store, np.max(wrong[:, :-1] / scale[:, :-1], axis=1))))
        if length == 1 or error <= LEAP_TOLERANCE:
            break
    nodes.extend(
        _Node(moment.time + k * circuits.period, moment.store + sums[:, -1], rise[:, -1])
        for k, sums, rise in stages
        if k < length
    )
    following_leap = 2 * length if error < LEAP_TOLERANCE / 6.0 else length
    return after, then, min(following_leap, LONGEST_LEAP)


def _vector(moment: Moment) -> RealArray:
    return np.asarray(np.concatenate((moment.state, moment.store[:, None]), axis=1))


def _scale(circuits: RectifiedTag) -> RealArray:
    """Size of each variable with the diode off for good, shape (n, 5); a little where nothing arrives."""
    forced = np.abs(circuits.shapes[0, :, :, 4])
    return np.asarray(np.maximum(np.concatenate((forced, forced[:, [TAG_VOLTAGE]]), axis=1), 1e-9))


def _derivative(circuits: RectifiedTag, moment: Moment, following: Moment, scale: RealArray) -> RealArray:
    """Of the state a cycle later by the state now, shape (n, 5, 5)."""
    count = moment.time.size
    copies = np.repeat(np.arange(count), VARIABLES)
    nudges = np.tile(np.eye(VARIABLES), (count, 1)) * (NUDGE * scale)[copies]
    start = moment.taken(copies)
    nudged = Moment(start.time, start.state + nudges[:, :-1], start.store + nudges[:, -1], start.conducts)
    change = _vector(advanced(circuits.taken(copies), nudged, circuits.period)) - _vector(following)[copies]
    slopes = change.reshape(count, VARIABLES, VARIABLES) / (NUDGE * scale)[:, :, None]
    return np.asarray(slopes.swapaxes(1, 2))


def _stages(derivative: RealArray, gain: RealArray, leap: int) -> list[tuple[int, RealArray, RealArray]]:
    """For 1, 2, 4 … ``leap`` cycles: (1 + J + … + J^{K−1}) g and J^K g, shape (n, 5) each."""
    length, sums, power = 1, gain, derivative
    stages = []
    while True:
        predicted = np.einsum("nij,nj->ni", power, gain)
        stages.append((length, sums, predicted))
        if length >= leap:
            return stages
        sums = sums + np.einsum("nij,nj->ni", power, sums)
        power = power @ power
        length *= 2


def _interpolated(nodes: list[_Node], times: RealArray, period: float) -> RealArray:
    """Cubic between the nodes, with their slopes; shape (n_time, n)."""
    moments = np.array([node.time for node in nodes])
    voltages = np.array([node.store for node in nodes])
    slopes = np.array([node.gain for node in nodes]) / period
    found = np.empty((times.size, moments.shape[1]))
    for place in range(moments.shape[1]):
        found[:, place] = _hermite(moments[:, place], voltages[:, place], slopes[:, place], times)
    return np.maximum(found, 0.0)


def _hermite(nodes: RealArray, values: RealArray, slopes: RealArray, asked: RealArray) -> RealArray:
    """Cubic through values and slopes at both ends of each stretch between rising nodes."""
    at = np.clip(np.searchsorted(nodes, asked, side="right") - 1, 0, nodes.size - 2)
    width = nodes[at + 1] - nodes[at]
    share = (asked - nodes[at]) / width
    rest = 1.0 - share
    ends = values[at] * rest**2 * (1.0 + 2.0 * share) + values[at + 1] * share**2 * (1.0 + 2.0 * rest)
    return np.asarray(ends + width * share * rest * (slopes[at] * rest - slopes[at + 1] * share))
