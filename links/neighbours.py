"""Two equal stations side by side: what one base coil, driven, brings to the other while that listens."""

from dataclasses import dataclass
from math import inf, log10, pi

import numpy as np

from links.circuits import BaseCircuit
from links.errors import LinkError, require_not_negative


@dataclass(frozen=True, slots=True)
class NeighbourLink:
    """The link between two equal base coils.

    Parameters
    ----------
    coupling_coefficient : float
        k = |M|/L [1].
    coupling_times_quality : float
        k times the loaded quality factor of either [1]; at 1 they are critically coupled, and no longer two circuits.
    voltage : float
        Across the listening coil [V peak].
    isolation : float
        Voltage across the driven coil over that across the listening one [dB]; infinite where nothing comes over.
    """

    coupling_coefficient: float
    coupling_times_quality: float
    voltage: float
    isolation: float


def neighbour_link(frequency: float, base: BaseCircuit, mutual_inductance: float, current: float) -> NeighbourLink:
    """One station driven, an equal one listening, its drive stage leaving no more than its resistance in the loop.

    Parameters
    ----------
    frequency : float
        Of the driven coil, at which both are tuned as `base` says [Hz].
    base : BaseCircuit
        Of either station, every value a single number.
    mutual_inductance : float
        Of the two base coils [H], of either sign.
    current : float
        In the driven coil, whatever the other takes from it [A peak].

    Raises
    ------
    LinkError
        For a mutual inductance as large as the inductance, or a negative current.

    Notes
    -----
    Z2 = Zs + R + jωL with Zs what the coil looks back into; the listening coil's current is ωM I/|Z2|, and the
    voltage across its terminals |Zs| times that. Across the driven coil stands I |R + jωL + (ωM)²/Z2|. Tuned in series
    and loosely coupled, the isolation is 1/(k Q).
    """
    require_not_negative("current of the driven coil", current)
    coupling = abs(mutual_inductance) / float(np.asarray(base.inductance))
    if coupling >= 1.0:
        raise LinkError("mutual inductance of the neighbours", "it is as large as their inductance; less is possible")
    coil, source = complex(base.coil_impedance(frequency)), complex(base.source_impedance(frequency))
    reactance = 2.0 * pi * frequency * abs(mutual_inductance)
    heard = reactance * abs(source / (source + coil))
    driven = abs(coil + reactance**2 / (source + coil))
    quality = float(base.loaded_quality_factor(frequency))
    isolation = 20.0 * log10(driven / heard) if heard > 0.0 else inf
    return NeighbourLink(coupling, coupling * quality, current * heard, isolation)
