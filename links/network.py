"""The two coupled circuits solved at the full source voltage."""

from dataclasses import dataclass
from math import pi

import numpy as np

from links.circuits import BaseCircuit, TagCircuit
from links.errors import require_positive
from links.quantities import Complex, ComplexArray


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Peak phasors of the link with nothing holding the drive back.

    Parameters
    ----------
    reflected_impedance : ndarray
        What the tag puts in series with the base coil, (ωM)²/Z2 [Ω].
    base_current, source_current, tag_current : ndarray
        [A].
    coil_voltage, chip_voltage : ndarray
        Across the base coil and across the chip [V].
    """

    reflected_impedance: ComplexArray
    base_current: ComplexArray
    source_current: ComplexArray
    tag_current: ComplexArray
    coil_voltage: ComplexArray
    chip_voltage: ComplexArray


def coupled_network(frequency: float, base: BaseCircuit, tag: TagCircuit, mutual_inductance: Complex) -> Network:
    """Currents and voltages of a base coil and a tag that act on each other.

    Parameters
    ----------
    frequency : float
        [Hz].
    base : BaseCircuit
        Its current limit plays no part here.
    tag : TagCircuit
        Arrays broadcast with ``mutual_inductance``.
    mutual_inductance : complex or ndarray
        M, any shape [H].

    Returns
    -------
    Network
        Arrays of the broadcast shape.

    Raises
    ------
    LinkError
        For a frequency not above 0.

    Notes
    -----
    Base loop: V_open = (Z_source + R1 + jωL1) I1 + jωM I2; tag loop: 0 = Z2 I2 + jωM I1. Eliminating I2 puts
    (ωM)²/Z2 in series with the base coil; M is not conjugated, because the coupling is reciprocal, losses included.
    The source current of a parallel circuit is I1 + jωC1 V1, equal to (Vs − V1)/Rs but good for Rs = 0 as well.
    """
    require_positive("frequency", frequency)
    omega = 2.0 * pi * frequency
    mutual = np.asarray(mutual_inductance, dtype=np.complex128)
    loop = tag.loop_impedance(frequency)
    reflected = (omega * mutual) ** 2 / loop
    load = base.coil_impedance(frequency) + reflected
    base_current = base.open_circuit_voltage(frequency) / (base.source_impedance(frequency) + load)
    coil_voltage = base_current * load
    source_current = base_current
    if base.tuning == "parallel":
        source_current = base_current + 1j * omega * base.tuning_capacitance(frequency) * coil_voltage
    tag_current = -1j * omega * mutual * base_current / loop
    chip_voltage = -tag_current * tag.chip_impedance(frequency)
    parts = np.broadcast_arrays(reflected, base_current, source_current, tag_current, coil_voltage, chip_voltage)
    return Network(*parts)
