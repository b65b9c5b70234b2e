"""Charge of a half-duplex tag's store where it hardly moves within a cycle: quick enough for every place of a map."""

from itertools import pairwise
from math import pi

import numpy as np

from links.budget import LinkBudget
from links.charging import Charge
from links.circuits import TagCircuit
from links.errors import require_positive
from links.network import coupled_network
from links.quantities import BooleanArray, RealArray
from links.rectified_tag import Store
from links.rectifier_current import steady_conduction


def quasi_steady_charge(budget: LinkBudget, supply: Store, time: float) -> Charge:
    """Voltage of the store at the end of the charge time, the circuits in their steady state at every voltage.

    Parameters
    ----------
    budget : LinkBudget
        Places.
    supply : Store
        Rectifier and store.
    time : float
        The drive is on [s].

    Returns
    -------
    Charge
        As `links.charging.charge`, which steps every cycle.

    Raises
    ------
    LinkError
        For a time not above 0.

    Notes
    -----
    C dV/dt = I(V) − V/R − I_chip, with I(V) the rectifier's mean current while base and tag have settled at the
    store's voltage V: the tag's coil has the EMF ωM I1 that the base's current makes without a tag, behind
    R2 + jωL2 + (ωM)²/Z1. Between two conduction angles I is taken to be straight in V, so that V runs exponentially.
    Good where base and tag settle, in some Q/π cycles, in a time that is short against the charge time, which is
    counted from the moment at which the drive comes on. A current limit acts as in the budget: what the tag leaves
    of the source's voltage there is kept all along.
    """
    require_positive("charge time", time)
    frequency, base = budget.frequency, budget.base
    omega = 2.0 * pi * frequency
    shape = budget.held.shape
    mutual = np.abs(budget.mutual_inductance)
    open_tag = TagCircuit(1.0, 1e-9, float("inf"), 1.0)
    current = budget.held * np.abs(coupled_network(frequency, base, open_tag, 0.0).base_current)
    loop = base.source_impedance(frequency) + base.coil_impedance(frequency)
    reflected = (omega * mutual) ** 2 / loop
    seen = TagCircuit(
        np.broadcast_to(np.asarray(budget.tag.inductance) + reflected.imag / omega, shape),
        np.broadcast_to(np.asarray(budget.tag.resistance) + reflected.real, shape),
        float("inf"),
        np.broadcast_to(budget.tag.tuning_capacitance(frequency), shape),
    )
    steady = steady_conduction(frequency, seen)
    emf = omega * mutual * current
    voltages = emf * steady.store_voltage - supply.diode_drop
    currents = emf * steady.direct_drop / (omega * np.asarray(seen.inductance))
    settling = 2.0 * base.loaded_quality_factor(frequency) / omega + 2.0 * np.asarray(seen.inductance / seen.resistance)
    left = np.broadcast_to(np.maximum(time - settling, 0.0), shape)
    reached, rate = _charged(voltages, currents, _no_load(frequency, seen, emf) - supply.diode_drop, supply, left)
    clamped = reached if supply.clamp_voltage is None else np.minimum(reached, supply.clamp_voltage)
    return Charge(time, reached, np.asarray(clamped), rate)


def _no_load(frequency: float, tag: TagCircuit, emf: RealArray) -> RealArray:
    """Peak voltage of the tag's tuned circuit with nothing across it [V]."""
    return np.asarray(emf * np.abs(tag.chip_impedance(frequency) / tag.loop_impedance(frequency)))


def _charged(
    voltages: RealArray, currents: RealArray, end: RealArray, supply: Store, time: RealArray
) -> tuple[RealArray, RealArray]:
    """Voltage after ``time`` and its rate, from nodes of the rectifier's current, (n, …); none flows at ``end``."""
    voltages = np.concatenate((voltages, end[None]))
    currents = np.concatenate((currents, np.zeros_like(end)[None]))
    net = currents - np.maximum(voltages, 0.0) / supply.load_resistance - supply.chip_current
    reached, left = np.zeros_like(end), time
    rate = np.zeros_like(end)
    for (low, high), (first, second) in zip(pairwise(voltages), pairwise(net), strict=True):
        width = high - low
        rises = (high > reached) & (width > 0.0) & (left > 0.0)
        slope = np.where(rises, (second - first) / np.where(rises, width, 1.0), 0.0)
        begin = first + slope * (np.maximum(reached, low) - low)
        moves = rises & (begin > 0.0)
        reached, left, rate = _along(moves, (reached, left, rate), high, (begin, slope), supply.capacitance)
        left = np.where(rises & ~moves, 0.0, left)
    return np.maximum(reached, 0.0), rate


def _along(
    moves: BooleanArray,
    now: tuple[RealArray, RealArray, RealArray],
    high: RealArray,
    line: tuple[RealArray, RealArray],
    capacitance: float,
) -> tuple[RealArray, RealArray, RealArray]:
    """Voltage, time left and rate after one stretch over which the current is ``begin`` + ``slope`` · (V − now)."""
    (reached, left, rate), (begin, slope) = now, line
    begin = np.where(moves, begin, 1.0)
    pull = slope / capacitance
    speed = begin / capacitance
    grown = pull * left
    gained = (
        speed * left * np.where(np.abs(grown) < 1e-9, 1.0 + 0.5 * grown, np.expm1(grown) / np.where(grown, grown, 1.0))
    )
    gap = np.maximum(high - reached, 0.0)
    crosses = moves & (gained > gap)
    share = slope * gap / begin
    inside = np.log1p(np.where(crosses, np.maximum(share, -1.0 + 1e-15), 0.0))
    needed = gap / speed * np.where(np.abs(share) < 1e-9, 1.0, inside / np.where(share, share, 1.0))
    after = np.where(crosses, high, np.where(moves, reached + gained, reached))
    rest = np.where(crosses, np.maximum(left - needed, 0.0), np.where(moves, 0.0, left))
    return after, rest, np.where(moves & ~crosses, speed * np.exp(grown), np.where(crosses, rate * 0.0, rate))
