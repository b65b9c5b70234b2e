"""What a square-wave drive sends into the base circuit beside its fundamental."""

from math import pi

import numpy as np
from numpy.typing import NDArray

from links.circuits import BaseCircuit
from links.errors import LinkError
from links.quantities import ComplexArray


def harmonic_source_currents(frequency: float, base: BaseCircuit, orders: NDArray[np.int_]) -> ComplexArray:
    """Peak source current at odd harmonics of a square-wave drive, no tag present.

    Parameters
    ----------
    frequency : float
        Of the fundamental [Hz].
    base : BaseCircuit
        Its inductance and resistance one number each.
    orders : ndarray of int, shape (n,)
        Odd orders, 1 for the fundamental.

    Returns
    -------
    ndarray, shape (n,)
        Peak phasors [A], each relative to its own harmonic's phase.

    Raises
    ------
    LinkError
        For an order that is not odd and positive; for a parallel circuit driven without any source resistance,
        whose capacitor current has no bound.

    Notes
    -----
    Harmonic n of a square wave is 1/n of its fundamental. The coil's resistance is taken at the fundamental: it is
    higher at the harmonics, but there the coil's reactance, not its resistance, sets the current.
    """
    orders = np.asarray(orders)
    if np.any(orders < 1) or np.any(orders % 2 == 0):
        raise LinkError("orders", f"{orders.tolist()} given; harmonics of a square wave have odd orders from 1 up")
    if base.tuning == "parallel" and base.source_resistance == 0.0:
        raise LinkError("source resistance", "0 ohm given; a square wave across a bare capacitor needs some")
    omega = 2.0 * pi * frequency * orders
    capacitor = 1.0 / (1j * omega * base.tuning_capacitance(frequency))
    coil = base.resistance + 1j * omega * base.inductance
    load = coil + capacitor if base.tuning == "series" else coil * capacitor / (coil + capacitor)
    return np.asarray(base.source_voltage / orders / (base.source_resistance + load))
