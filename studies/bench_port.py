"""Two coils measured at their terminals: a Touchstone file becomes L, R and k against frequency, and a reading."""

import warnings
from dataclasses import dataclass
from math import pi
from pathlib import Path

import numpy as np

from fem.arrays import Array
from studies.engineering import engineering
from studies.errors import RunError
from studies.extras import needed
from studies.measured_list import Reading
from studies.specification import Place

ENDINGS = (".s1p", ".s2p")
MOST_SAID = 120
LARGEST_FILE = 20_000_000


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPort:
    """What a measured one-port or two-port tells of its coils.

    Parameters
    ----------
    frequencies : ndarray, shape (n,)
        Rising [Hz].
    inductances, resistances : ndarray, shape (n_port, n)
        Of the base coil, then of the tag coil [H], [Ω].
    mutual_inductance : ndarray, shape (n,), or None
        Its magnitude [H]; None for a one-port.
    file : str
        Where it comes from.
    """

    frequencies: Array
    inductances: Array
    resistances: Array
    mutual_inductance: Array | None
    file: str

    @property
    def coupling_coefficient(self) -> Array | None:
        """k [1]."""
        if self.mutual_inductance is None:
            return None
        return np.asarray(self.mutual_inductance / np.sqrt(self.inductances[0] * self.inductances[1]))

    def reading(self, frequency: float, place: Place | None) -> Reading:
        """The coils at the carrier, between the two frequencies about it.

        Raises
        ------
        RunError
            Where the carrier was not measured, a coil is none there, or it is not said where the tag stood.
        """
        low, high = float(self.frequencies[0]), float(self.frequencies[-1])
        if not low <= frequency <= high:
            raise RunError(
                f"{self.file}: measured from {engineering(low, 'Hz')} to {engineering(high, 'Hz')}; the carrier of "
                f"{engineering(frequency, 'Hz')} must lie within"
            )
        if self.mutual_inductance is not None and place is None:
            raise RunError(f'{self.file}: say where the tag stood, as in --place "25 mm, 5 mm, 10 deg"')

        def at(values: Array) -> float:
            return float(np.interp(frequency, self.frequencies, values))

        values: dict[str, float] = {}
        for side, own, loss in zip(("base", "tag"), self.inductances, self.resistances, strict=False):
            if at(own) <= 0.0 or at(loss) <= 0.0:
                raise RunError(
                    f"{self.file}: the {side} coil comes to {engineering(at(own), 'H')} and "
                    f"{engineering(at(loss), 'ohm')} at the carrier: no coil; are its ports and reference right?"
                )
            values |= {f"{side}_inductance": at(own), f"{side}_resistance": at(loss)}
        if self.mutual_inductance is None or place is None:
            return Reading(0, values=values, note=self.file)
        values["coupling_coefficient"] = at(self.mutual_inductance) / float(
            np.sqrt(values["base_inductance"] * values["tag_inductance"])
        )
        return Reading(0, place.height, place.offset, place.tilt, values, note=self.file)


def read_port(path: Path) -> MeasuredPort:
    """Read a Touchstone file of one or two ports, port 1 the base coil's terminals, port 2 the tag coil's.

    Raises
    ------
    RunError
        Where it cannot be read, or holds no such ports.
    """
    if not path.is_file():
        given = "is a directory" if path.is_dir() else "does not exist"
        raise RunError(f"{path}: {given}; a Touchstone file (.s1p, .s2p) is wanted")
    if path.stat().st_size > LARGEST_FILE:
        raise RunError(f"{path}: is {path.stat().st_size / 1e6:.3g} MB long; at most {LARGEST_FILE / 1e6:g} MB")
    if path.stat().st_size == 0:
        raise RunError(f"{path}: is empty; a Touchstone file (.s1p, .s2p) is wanted")
    reader = needed("skrf", "reading a Touchstone file", "bench")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            network = reader.Network(str(path))
            frequencies, scattering = np.asarray(network.f, dtype=float), np.asarray(network.s)
            finite = bool(np.isfinite(scattering).all())
            impedances = np.asarray(network.z) if finite else scattering
    except Exception as fault:  # the reader raises whatever its parser trips over
        said = " ".join(str(fault).split())[:MOST_SAID]
        raise RunError(f"{path}: cannot be read as a Touchstone file; its reader says: {said or 'nothing'}") from None
    if finite and not (np.isfinite(network.z0).all() and (np.real(network.z0) > 0.0).all()):
        raise RunError(f"{path}: its reference resistance is not above 0 ohm; a positive one is wanted, as in R 50")
    ports = impedances.shape[-1]
    if ports not in (1, 2) or not frequencies.size:
        raise RunError(f"{path}: holds {ports} ports at {frequencies.size} frequencies; one or two ports are wanted")
    if (
        not finite
        or not np.isfinite(impedances).all()
        or (frequencies <= 0.0).any()
        or (np.diff(frequencies) <= 0.0).any()
    ):
        raise RunError(f"{path}: frequencies must rise from above nought, and every value must be a number")
    omega = 2.0 * pi * frequencies
    own = np.stack([impedances[:, port, port] for port in range(ports)])
    across = None if ports == 1 else 0.5 * (impedances[:, 0, 1] + impedances[:, 1, 0])
    mutual = None if across is None else np.abs(across) / omega
    return MeasuredPort(frequencies, own.imag / omega, own.real, mutual, path.name)
