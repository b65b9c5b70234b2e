"""Half-duplex reply: a telegram sustained from the tag's store, as it arrives at the base coil."""

from dataclasses import dataclass, field, replace
from math import pi

import numpy as np

from links.budget import LinkBudget
from links.circuits import BaseCircuit
from links.dead_time import DriveOff, check_drive_off
from links.errors import LinkError, require_not_negative, require_positive
from links.quantities import ComplexArray, RealArray

# ISO 11785 half-duplex: a bit is 16 cycles, of 134.2 kHz for a 0 and of 124.2 kHz for a 1; 112 bits a telegram.
TONES = (134.2e3, 124.2e3)
CYCLES_PER_BIT = 16
TELEGRAM_BITS = 112
DISCHARGE_STEPS = 64


@dataclass(frozen=True, slots=True)
class Telegram:
    """Tones and length of a frequency-keyed reply.

    Parameters
    ----------
    tones : tuple of float
        [Hz].
    bits : int
        Of the whole telegram.
    cycles_per_bit : int
        Of whichever tone the bit has.
    """

    tones: tuple[float, ...] = TONES
    bits: int = TELEGRAM_BITS
    cycles_per_bit: int = CYCLES_PER_BIT

    def __post_init__(self) -> None:
        if not self.tones:
            raise LinkError("reply tones", "none given; at least one is needed")
        for tone in self.tones:
            require_positive("reply tone", tone)
        require_positive("bits of the telegram", self.bits)
        require_positive("cycles per bit", self.cycles_per_bit)

    @property
    def durations(self) -> RealArray:
        """Of a telegram that is all one tone, shape (n_tone,) [s]; a mixed one lies between."""
        return self.bits * self.cycles_per_bit / np.asarray(self.tones)


@dataclass(frozen=True, slots=True)
class ReplyDrive:
    """How the chip keeps its tuned circuit swinging.

    Parameters
    ----------
    amplitude : float
        Of the voltage across the tag's tuned circuit while it replies [V peak]. A stage that tops the swing up from the
        store reaches about the store's voltage: the chip's minimum is what it holds to the end.
    minimum_voltage : float
        Of the store, at which the reply ceases [V].
    chip_current : float
        What the chip takes from the store beside that [A].
    drive_off : {"shorted", "open"}
        What the base's drive stage leaves between its terminals while it listens.
    telegram : Telegram
        What is sent.

    Raises
    ------
    LinkError
        For a value no circuit can have.
    """

    amplitude: float
    minimum_voltage: float
    chip_current: float = 0.0
    drive_off: DriveOff = "shorted"
    telegram: Telegram = field(default_factory=Telegram)

    def __post_init__(self) -> None:
        require_positive("reply amplitude", self.amplitude)
        require_positive("minimum voltage of the store", self.minimum_voltage)
        require_not_negative("chip current", self.chip_current)
        check_drive_off(self.drive_off)


@dataclass(frozen=True, slots=True, eq=False)
class Reply:
    """A sustained reply; arrays of shape (n_tone, *shape of the budget), in the order of the telegram's tones.

    Parameters
    ----------
    drive : ReplyDrive
        What sends it.
    tag_current : ndarray
        Magnitude in the tag coil [A peak].
    base_voltage : ndarray
        Magnitude across the base coil, in steady state [V peak].
    circuit_power : ndarray
        Mean power the tag's tuned circuit takes to keep its swing, the base's share included [W].
    """

    drive: ReplyDrive
    tag_current: RealArray
    base_voltage: RealArray
    circuit_power: RealArray

    @property
    def weakest_base_voltage(self) -> RealArray:
        """Of the tone that arrives weakest [V peak]."""
        return np.asarray(self.base_voltage.min(axis=0))

    def needed_voltage(self, capacitance: float, spent_before: float = 0.0) -> RealArray:
        """Voltage of the store from which the whole telegram can be sent [V], the greater over the tones.

        Parameters
        ----------
        capacitance : float
            Of the store [F].
        spent_before : float
            Energy that the store gives before the telegram begins, for a measurement [J].

        Notes
        -----
        d(½CsV²)/dt = −(P + V·I_chip), followed backward from the minimum over the telegram's time.
        """
        require_not_negative("energy for the measurement", spent_before)
        return np.asarray(np.sqrt(self._squared_at_begin(capacitance) + 2.0 * spent_before / capacitance))

    def _squared_at_begin(self, capacitance: float) -> RealArray:
        require_positive("storage capacitance", capacitance)
        durations = self.drive.telegram.durations.reshape(-1, *[1] * (self.circuit_power.ndim - 1))
        square = np.full_like(self.circuit_power, self.drive.minimum_voltage**2)
        if self.drive.chip_current == 0.0:
            return np.asarray((square + 2.0 / capacitance * durations * self.circuit_power).max(axis=0))
        step = durations / DISCHARGE_STEPS

        def rise(value: RealArray) -> RealArray:
            return np.asarray(2.0 / capacitance * (self.circuit_power + np.sqrt(value) * self.drive.chip_current))

        for _ in range(DISCHARGE_STEPS):
            one = rise(square)
            two = rise(square + 0.5 * step * one)
            three = rise(square + 0.5 * step * two)
            square = square + step / 6.0 * (one + 2.0 * two + 2.0 * three + rise(square + step * three))
        return np.asarray(square.max(axis=0))


def sustained_reply(budget: LinkBudget, drive: ReplyDrive) -> Reply:
    """What a reply kept up from the store costs the tag and brings to the base coil.

    Parameters
    ----------
    budget : LinkBudget
        The link; its drive plays no part here, the base keeps the capacitor it is driven with.
    drive : ReplyDrive
        How the chip replies.

    Returns
    -------
    Reply
        See there.

    Notes
    -----
    The tag's circuit is tuned to each tone by the chip and swings with constant amplitude V, so that its coil carries
    I2 = V/(R2 + jωL2 + (ωM)²/Z1) and takes ½|I2|² Re(R2 + (ωM)²/Z1), Z1 the base's loop with its drive stage off. The
    base sees the voltage −jωM I2 behind its coil, raised by its own resonance, which lies at the carrier: the other
    tone gets less of it. Lossless switching is taken: a stage that tops up through a resistance needs more.

    Steady state: a bit of n cycles lets the base come to 1 − exp(−nπ/Q1) of it where tone and resonance agree. Not a
    free ring-down, which is over after 2Q2/ω, about a bit.
    """
    base = replace(budget.base, capacitance=budget.base.tuning_capacitance(budget.frequency))
    found = [_at_tone(budget, base, drive, tone) for tone in drive.telegram.tones]
    current, voltage, power = (np.array(parts) for parts in zip(*found, strict=True))
    return Reply(drive, current, voltage, power)


def _at_tone(
    budget: LinkBudget, base: BaseCircuit, drive: ReplyDrive, tone: float
) -> tuple[RealArray, RealArray, RealArray]:
    omega, shape = 2.0 * pi * tone, budget.held.shape
    share, admittance = _listening_base(base, drive.drive_off, tone)
    linked = omega * budget.mutual_inductance
    loop = budget.tag.resistance + 1j * omega * np.asarray(budget.tag.inductance) + linked**2 * admittance
    current = np.broadcast_to(drive.amplitude / np.abs(loop), shape)
    voltage = np.broadcast_to(np.abs(linked * current * share), shape)
    return current, voltage, np.broadcast_to(0.5 * current**2 * loop.real, shape)


def _listening_base(base: BaseCircuit, drive_off: DriveOff, tone: float) -> tuple[ComplexArray, ComplexArray]:
    """Coil voltage per volt induced [1], and admittance of the whole loop [S]."""
    coil = base.coil_impedance(tone)
    if drive_off == "shorted":
        source = base.source_impedance(tone)
    elif base.tuning == "series":
        return np.ones_like(coil), np.zeros_like(coil)
    else:
        source = np.asarray(1.0 / (2j * pi * tone * base.tuning_capacitance(tone)), dtype=np.complex128)
    return np.asarray(source / (source + coil)), np.asarray(1.0 / (source + coil))
