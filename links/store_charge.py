"""Charge of a half-duplex tag's store where it hardly moves within a cycle: quick enough for every place of a map."""

from math import pi

import numpy as np

from links.budget import LinkBudget
from links.charging import Charge
from links.circuits import TagCircuit
from links.errors import require_positive
from links.network import coupled_network
from links.quantities import RealArray
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
    counted from the moment at which the drive comes on; well past critical coupling it was up to 26 % off from
    stepping, mostly too low (255 random circuits, 3 % at most up to twice critical coupling). A current
    limit acts as in the budget: what the tag leaves of the source's voltage there is kept all along.
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
    nodes = np.maximum(np.concatenate((voltages, end[None])), 0.0)
    flowing = np.concatenate((currents, np.zeros_like(end)[None]))
    # Where the first voltage above nought is reached from a node below it, the current at nought is that between them.
    crossing = (nodes[:-1] == 0.0) & (nodes[1:] > 0.0)
    between = -voltages / np.where(crossing, nodes[1:] - voltages, 1.0)
    flowing[:-1] += np.where(crossing, between * (flowing[1:] - flowing[:-1]), 0.0)
    net = flowing - nodes / supply.load_resistance - supply.chip_current
    begin, width = net[:-1], np.maximum(nodes[1:] - nodes[:-1], 0.0)
    bend = np.where(width > 0.0, net[1:] - begin, 0.0) / np.where(begin > 0.0, begin, 1.0)
    passes = (begin > 0.0) & (bend > -1.0)
    bent = np.where(passes & (np.abs(bend) > 1e-9), bend, 1e-9)
    needed = supply.capacitance * width / np.where(begin > 0.0, begin, 1.0) * np.log1p(bent) / bent
    needed = np.where(width > 0.0, np.where(passes, needed, np.inf), 0.0)
    passed = np.cumsum(needed, axis=0)
    # The last stretch ends without current and is never passed: a stretch is always found.
    at = np.argmax(passed > time, axis=0)[None]
    stretch = np.take_along_axis
    speed = np.maximum(stretch(begin, at, 0)[0], 0.0) / supply.capacitance
    left = time - np.where(at > 0, stretch(passed, np.maximum(at - 1, 0), 0), 0.0)[0]
    wide = stretch(width, at, 0)[0]
    pull = stretch(bend, at, 0)[0] * speed / np.where(wide > 0.0, wide, 1.0)
    grown = np.where(np.abs(pull * left) > 1e-9, pull * left, 1e-9)
    reached = stretch(nodes, at, 0)[0] + np.minimum(speed * left * np.expm1(grown) / grown, wide)
    return np.asarray(reached), np.asarray(speed * np.exp(grown))
