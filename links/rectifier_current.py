"""Direct current of a half-duplex tag's rectifier into a store that hardly moves within a cycle."""

from dataclasses import dataclass
from math import pi

import numpy as np

from links.circuits import TagCircuit
from links.quantities import ComplexArray, RealArray

# Conduction angles at which the steady state is written down, from wide to none [rad]. With no voltage on the store
# the diode conducts over 3.5 to 5 rad; beyond that the solutions stand at negative voltage and only lead up to it.
CONDUCTION_NODES = 40
WIDEST_CONDUCTION = 5.2


@dataclass(frozen=True, slots=True, eq=False)
class SteadyConduction:
    """Periodic steady state of a tag's rectifier against its conduction angle, per volt of EMF at the tag coil.

    Arrays of shape (n_angle, *shape of the tag's values), from the widest conduction to none.

    Parameters
    ----------
    store_voltage : ndarray
        Steady voltage behind the ideal diode; negative where conduction is wider than any store allows [V/V].
    direct_drop : ndarray
        Mean current of the diode times the coil's reactance ωL2 [V/V].
    emf : ndarray of complex
        Of magnitude 1, its phase counted from the moment conduction ceases.
    begun_drop : ndarray
        Current at the beginning of conduction times ωL2 [V/V].
    angle, r, b : ndarray
        Of conduction [rad]; R2/(ωL2) and 1/(ω²L2C2) [1].
    """

    store_voltage: RealArray
    direct_drop: RealArray
    emf: ComplexArray
    begun_drop: RealArray
    angle: RealArray
    r: RealArray
    b: RealArray

    @property
    def coil_drop(self) -> ComplexArray:
        """Fundamental of the coil current times ωL2, for an EMF of peak phasor ``emf`` [V/V]."""
        turn, emf, loss = np.exp(-1j * self.angle), self.emf, self.r + 1j
        swept = 0.5 * (emf * self.angle + np.conj(emf) * (1.0 - turn**-2) / -2j)
        swept = swept - self.store_voltage * 1j * (1.0 - 1.0 / turn)
        conducted = (swept + self.begun_drop / turn) / (pi * loss)
        tank_voltage = self.b * (emf - loss * conducted) / (self.b - 1.0 + 1j * self.r)
        return np.asarray(1j * tank_voltage / self.b + conducted)


def steady_conduction(frequency: float, tag: TagCircuit) -> SteadyConduction:
    """Steady states of coil, capacitor, ideal diode and a stiff voltage, solved exactly.

    Parameters
    ----------
    frequency : float
        [Hz].
    tag : TagCircuit
        Its load resistance is not used.

    Returns
    -------
    SteadyConduction
        See there.

    Notes
    -----
    In angle x = ωt with y = ωL2 i, r = R2/(ωL2), b = 1/(ω²L2C2): y' + ry + v = e throughout; v' = by while the diode is
    off, v = V while it is on. Counted from the end of conduction (v = V, y = 0), the voltage must be back at V when
    conduction begins, and the current at 0 when it ends. For a *given* conduction angle these are two real equations,
    linear and homogeneous in V and the real and imaginary part of the EMF: their solution is a vector product, without
    iteration. The phase of the EMF and the voltage come out, the angle goes in.
    """
    reactance = 2.0 * pi * frequency * np.asarray(tag.inductance)
    r, b = np.broadcast_arrays(
        np.asarray(tag.resistance) / reactance,
        1.0 / (2.0 * pi * frequency * reactance * tag.tuning_capacitance(frequency)),
    )
    angle = _conduction_angles(r.ndim)
    voltage, emf, first = _periodic(r, b, angle)
    turn, on = np.exp(-1j * angle), -np.expm1(-r * angle)
    # Mean of y over the conduction.
    driven = emf / (r + 1j)
    direct = (
        (first - (driven * turn).real) * on / r + (driven * (1.0 - turn) / 1j).real - voltage * (angle - on / r) / r
    )
    return SteadyConduction(voltage, direct / (2.0 * pi), emf, first, angle, r, b)


def _conduction_angles(dimensions: int) -> RealArray:
    # Close together where conduction is narrow: there the voltage of a good coil changes most.
    share = np.linspace(1.0, 0.0, CONDUCTION_NODES + 1)[:-1]
    return np.asarray(WIDEST_CONDUCTION * share**2).reshape(-1, *[1] * dimensions)


def _periodic(r: RealArray, b: RealArray, angle: RealArray) -> tuple[RealArray, ComplexArray, RealArray]:
    """Voltage, EMF of magnitude 1, and y at the beginning of conduction."""
    rest = 2.0 * pi - angle
    turn, fading = np.exp(-1j * angle), np.exp(-r * angle)
    cosine, sine = _free_motion(r, b, rest)
    # Free motion of (v, y) over the rest: one column from v, one from y.
    v_of_v, v_of_y = cosine + 0.5 * r * sine, b * sine
    y_of_v, y_of_y = -sine, cosine - 0.5 * r * sine
    resonant = b / (b - 1.0 + 1j * r)
    back = resonant * (turn - v_of_v - 1j * v_of_y / b)
    begun = resonant * (1j * turn / b - y_of_v - 1j * y_of_y / b)
    ended = fading * begun + (1.0 - fading * turn) / (r + 1j)
    of_voltage = v_of_v - 1.0, fading * y_of_v + np.expm1(-r * angle) / r
    # Rows over (V, Re e, Im e), crossed; the sign is that of a current into the diode.
    voltage = back.real * ended.imag - back.imag * ended.real
    real = back.imag * of_voltage[1] - of_voltage[0] * ended.imag
    imaginary = back.real * of_voltage[1] - of_voltage[0] * ended.real
    emf = real + 1j * imaginary
    size = np.abs(emf)
    voltage, emf = voltage / size, emf / size
    return voltage, emf, y_of_v * voltage + (emf * begun).real


def _free_motion(r: RealArray, b: RealArray, rest: RealArray) -> tuple[RealArray, RealArray]:
    """Decaying cosine, and sine over its rate, of coil and capacitor left alone; overdamped ones have them too."""
    own = np.sqrt((b - 0.25 * r**2).astype(np.complex128))
    own = np.where(np.abs(own) < 1e-6, 1e-6, own)
    forward, backward = np.exp((1j * own - 0.5 * r) * rest), np.exp((-1j * own - 0.5 * r) * rest)
    return np.asarray(0.5 * (forward + backward).real), np.asarray(((forward - backward) / (2j * own)).real)
