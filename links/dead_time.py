"""How long a base coil rings after its drive has stopped, before its receiver can hear."""

from dataclasses import dataclass, replace
from math import pi
from typing import Literal, get_args

import numpy as np

from links.budget import LinkBudget
from links.circuits import BaseCircuit
from links.errors import LinkError, require_not_negative, require_positive
from links.margin import margin_decibels
from links.quantities import ComplexArray, Real, RealArray

# What the drive stage leaves between its terminals once it has stopped: its resistance, or nothing.
DriveOff = Literal["shorted", "open"]


def check_drive_off(drive_off: str) -> None:
    """Raise unless it is one of the two ways a drive stage can stop.

    Raises
    ------
    LinkError
        For another word.
    """
    if drive_off not in get_args(DriveOff):
        allowed = ", ".join(get_args(DriveOff))
        raise LinkError("drive stage when off", f"{drive_off!r} given; one of {allowed} is allowed")


@dataclass(frozen=True, slots=True, eq=False)
class RingDown:
    """Free decay of the base coil's voltage; arrays of shape (2, *shape of the budget).

    Parameters
    ----------
    amplitudes : ndarray
        Of the two exponentials across the coil, each at the drive phase that makes it greatest [V peak].
    decay_rates : ndarray
        [1/s].
    """

    amplitudes: RealArray
    decay_rates: RealArray

    def voltage_after(self, time: float) -> RealArray:
        """Envelope of what is left across the coil at a time after the drive has stopped [V peak]."""
        require_not_negative("pause", time)
        return np.asarray((self.amplitudes * np.exp(-self.decay_rates * time)).sum(axis=0))

    def time_to(self, voltage: Real) -> RealArray:
        """Time after which the coil's voltage stays under ``voltage`` [V peak] [s]; 0 where it begins under it.

        Notes
        -----
        Each exponential is given half of it. In a circuit that rings both are of one size and decay alike, and this is
        exact; in one that does not (Q < ½) it is up to the slower one's time to halve too long, close to Q = ½ up to
        ten of them.
        """
        require_positive("minimum voltage of the receiver", voltage)
        ratio = np.maximum(2.0 * self.amplitudes / voltage, 1.0)
        return np.asarray((np.log(ratio) / self.decay_rates).max(axis=0))

    def margin(self, pause: float, voltage: Real) -> RealArray:
        """How far under the receiver's minimum the coil's voltage lies when the pause is over [dB]."""
        require_positive("minimum voltage of the receiver", voltage)
        return -margin_decibels(self.voltage_after(pause), voltage)


def ring_down(budget: LinkBudget, drive_off: DriveOff = "shorted") -> RingDown:
    """Free decay of the base coil from the steady state of a budget.

    Parameters
    ----------
    budget : LinkBudget
        The link just before the drive stops, the tag's effect on the base current included.
    drive_off : {"shorted", "open"}
        The stopped drive stage leaves its resistance, or nothing, between its terminals.

    Returns
    -------
    RingDown
        See there.

    Raises
    ------
    LinkError
        For a series-tuned base whose stage opens: its current has no way left but the stage's own protection, which no
        value here describes.

    Notes
    -----
    The base's circuit of second order in closed form, roots −(R1 + Rs)/2L ± … in series, −(R1/L + 1/(Rs C))/2 ± … in
    parallel, started from the steady current and capacitor voltage at the worst phase. With Q well above ½ the envelope
    is V0 exp(−ωt/2Q), and the dead time (2Q/ω) ln(V0/Vmin). The tag is left out while the base rings: good where
    k ≪ 1/Q1; what the tag gives back in that time rings on with the tag's own Q and is no longer the base's.
    """
    check_drive_off(drive_off)
    base = replace(budget.base, capacitance=budget.base.tuning_capacitance(budget.frequency))
    if base.tuning == "parallel" and drive_off == "shorted" and base.source_resistance == 0.0:
        # The stage holds the coil at nought volts from the first moment.
        still = np.zeros((2, *budget.held.shape))
        return RingDown(still, np.ones_like(still))
    matrix, row = _free_circuit(base, drive_off)
    current = budget.base_current
    capacitor = budget.held * budget.network.coil_voltage
    if base.tuning == "series":
        capacitor = current / (2j * pi * budget.frequency * np.asarray(base.capacitance))
    return _decay(matrix, row, current, capacitor)


Entry = RealArray


def _free_circuit(
    base: BaseCircuit, drive_off: DriveOff
) -> tuple[tuple[Entry, Entry, Entry, Entry], tuple[Real, Real]]:
    """Rows of d/dt (coil current, capacitor voltage), and the coil's voltage as a row over the two."""
    if base.capacitance is None:
        raise LinkError("tuning capacitance of the base coil", "none given; the one it is driven with is needed")
    inductance, capacitance = np.asarray(base.inductance), np.asarray(base.capacitance)
    resistance, source = np.asarray(base.resistance), base.source_resistance
    if base.tuning == "series":
        if drive_off == "open":
            text = "'open' given with a series-tuned base coil, whose current then has no way left; shorted is allowed"
            raise LinkError("drive stage when off", text)
        entries = (-(resistance + source) / inductance, -1.0 / inductance, 1.0 / capacitance, np.asarray(0.0))
        return entries, (-source, -1.0)
    conductance = 0.0 if drive_off == "open" else 1.0 / source
    entries = (-resistance / inductance, 1.0 / inductance, -1.0 / capacitance, -conductance / capacitance)
    return entries, (0.0, 1.0)


def _decay(
    matrix: tuple[Entry, Entry, Entry, Entry],
    row: tuple[Real, Real],
    current: ComplexArray,
    capacitor: ComplexArray,
) -> RingDown:
    first, second, third, fourth = matrix
    middle, determinant = 0.5 * (first + fourth), first * fourth - second * third
    root = np.sqrt((middle**2 - determinant).astype(np.complex128))
    # Two equal roots are moved apart: else either exponential would be boundless, and only their difference is not.
    root = np.where(np.abs(root) < 1e-3 * np.abs(middle), 1e-3 * np.abs(middle), root)
    amplitudes, rates = [], []
    for side in (1.0, -1.0):
        rate, other = middle + side * root, middle - side * root
        on_current = (row[0] * (first - other) + row[1] * third) / (rate - other)
        on_capacitor = (row[0] * second + row[1] * (fourth - other)) / (rate - other)
        # Greatest over the phase of |Re-part of the phasors through this row|: half the sum of both turning senses.
        forward = on_current * current + on_capacitor * capacitor
        backward = on_current * np.conj(current) + on_capacitor * np.conj(capacitor)
        amplitudes.append(0.5 * (np.abs(forward) + np.abs(backward)))
        rates.append(np.broadcast_to(-rate.real, current.shape))
    return RingDown(np.array(amplitudes), np.array(rates))
