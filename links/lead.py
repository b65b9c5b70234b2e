"""What lies between the base coil and the reader, and the coil as the reader sees it through that.

A lead is one or more uniform lines in a row, each with its own resistance (a hot part, a cold part). Phasors are peak
values, time convention e^{+jωt}. The chain matrix of a line is that of any book on transmission lines:
(V, I) at the reader = [[A, B], [C, D]] (V, I) at the coil, with AD − BC = 1.
"""

from dataclasses import dataclass
from math import inf, isfinite, pi

import numpy as np

from links.drive import Tuning
from links.errors import LinkError, require_not_negative, require_positive
from links.quantities import Complex, ComplexArray, Real, RealArray
from links.resonance import parallel_tuning_capacitance, series_tuning_capacitance

LEAST_RESONANCE_RATIO = 3.0
"""Resonance of coil and lead over the carrier under which the lead counts (common practice, no source)."""

# Of the first guess, which lies below the first resonance: one step of the search, and how far it goes.
_SEARCH_STEP, _SEARCH_END, _HALVINGS = 0.01, 20.0, 60


@dataclass(frozen=True, slots=True)
class LeadPart:
    """A uniform piece of the lead, both conductors together.

    Parameters
    ----------
    length : float
        [m].
    resistance : float
        Of go and return per metre of lead, as hot as it is and at the carrier, skin effect included [Ω/m].
    inductance : float
        Of the loop of both conductors [H/m].
    capacitance : float
        Between them [F/m].

    Raises
    ------
    LinkError
        For a value that is negative or not finite.
    """

    length: float
    resistance: float
    inductance: float
    capacitance: float

    def __post_init__(self) -> None:
        for name in ("length", "resistance", "inductance", "capacitance"):
            per_metre = "" if name == "length" else " per metre"
            require_not_negative(f"{name}{per_metre} of the lead", getattr(self, name))

    def chain_matrix(self, frequency: float) -> ComplexArray:
        """[[A, B], [C, D]] at ``frequency`` [Hz], shape (2, 2), exact for a uniform line.

        Notes
        -----
        With Z = (R' + jωL')l and Y = jωC'l: A = D = cosh √(ZY), B = Z sinhc √(ZY), C = Y sinhc √(ZY), which needs no
        wave impedance and holds for a line without capacitance too.
        """
        series = (self.resistance + 2j * pi * frequency * self.inductance) * self.length
        shunt = 2j * pi * frequency * self.capacitance * self.length
        angle = np.sqrt(complex(series * shunt))
        share = np.sinh(angle) / angle if angle != 0.0 else 1.0
        return np.array([[np.cosh(angle), series * share], [shunt * share, np.cosh(angle)]])


@dataclass(frozen=True, slots=True)
class Lead:
    """Pieces in a row.

    Parameters
    ----------
    parts : tuple of LeadPart
        From the coil to the reader; empty for a reader at the coil's own terminals.
    coil_stray : float
        Capacitance the coil brings itself, across its terminals [F]; 0 where it is not known.
    """

    parts: tuple[LeadPart, ...]
    coil_stray: float = 0.0

    def __post_init__(self) -> None:
        require_not_negative("stray capacitance of the coil", self.coil_stray)

    def chain_matrix(self, frequency: float) -> ComplexArray:
        """From the reader to the winding within its stray capacitance, shape (2, 2).

        Raises
        ------
        LinkError
            For a frequency not above 0.
        """
        require_positive("frequency", frequency)
        chain = np.array([[1.0, 0.0], [2j * pi * frequency * self.coil_stray, 1.0]])
        for part in self.parts:
            chain = part.chain_matrix(frequency) @ chain
        return chain

    def without_loss(self) -> "Lead":
        """The same without resistance."""
        parts = tuple(LeadPart(part.length, 0.0, part.inductance, part.capacitance) for part in self.parts)
        return Lead(parts, self.coil_stray)


@dataclass(frozen=True, slots=True, eq=False)
class ApparentCoil:
    """The base coil as the reader sees it at one frequency; arrays have the shape of the coil's own values.

    Parameters
    ----------
    frequency : float
        [Hz].
    inductance, resistance : ndarray
        At the reader's end [H], [Ω]; the inductance is negative above the resonance of coil and lead.
    current_ratio : ndarray of complex
        Current in the winding per current at the reader, 1/(C Z + D), no tag present [1].
    voltage_ratio : ndarray of complex
        Voltage across the coil per voltage at the reader, Z/(A Z + B), no tag present [1].
    chain : ndarray, shape (2, 2)
        Of the lead.
    coil_impedance : ndarray of complex
        Z of the coil itself [Ω].

    Notes
    -----
    The link budget takes a lead in exactly by three replacements, because lead and coil together are one reciprocal
    two-port between the reader and the tag: the base coil by ``inductance`` and ``resistance``, M by
    `mutual_inductance` (the voltage in an open tag coil is jωM times the winding's current, and that is
    ``current_ratio`` times the reader's), and the tag coil's impedance by what `tag_impedance` adds. The last is the
    tag's own field coming back over the lead's capacitance; about k²ω²L1C of the tag's reactance, it may mostly be
    left away. The budget's base current, source current and coil voltage then are those at the reader's end, and
    `at_coil` gives the coil's.
    """

    frequency: float
    inductance: RealArray
    resistance: RealArray
    current_ratio: ComplexArray
    voltage_ratio: ComplexArray
    chain: ComplexArray
    coil_impedance: ComplexArray

    @property
    def share_in_coil(self) -> RealArray:
        """Of the power that enters the lead without a tag, what the coil takes [1]."""
        return np.asarray(np.abs(self.current_ratio) ** 2 * self.coil_impedance.real / self.resistance)

    def mutual_inductance(self, mutual_inductance: Complex) -> ComplexArray:
        """M between reader's end and tag for a given M of the coil itself [H]."""
        return np.asarray(self.current_ratio * mutual_inductance)

    def tag_impedance(self, mutual_inductance: Complex) -> ComplexArray:
        """What the open lead adds to the tag coil's impedance, (ωM)² C/(C Z + D) [Ω].

        Parameters
        ----------
        mutual_inductance : complex or ndarray
            Of the coil itself [H].
        """
        omega_mutual = 2.0 * pi * self.frequency * np.asarray(mutual_inductance)
        return np.asarray(omega_mutual**2 * self.chain[1, 0] * self.current_ratio)

    def at_coil(self, voltage: Complex, current: Complex) -> tuple[ComplexArray, ComplexArray]:
        """Voltage across the winding and current in it, a tag present or not.

        Parameters
        ----------
        voltage, current : complex or ndarray
            Peak phasors at the reader's end of the lead [V], [A].

        Returns
        -------
        voltage, current : ndarray of complex
            At the coil [V], [A].
        """
        (a, b), (c, d) = self.chain
        return np.asarray(d * voltage - b * current), np.asarray(a * current - c * voltage)

    def tuning_capacitance(self, tuning: Tuning) -> RealArray:
        """Capacitance that tunes the coil from the reader's end [F].

        Raises
        ------
        LinkError
            Where the coil no longer is one at the reader's end.
        """
        if not np.all(self.inductance > 0.0):
            raise LinkError(
                "lead",
                f"at {self.frequency / 1e3:.4g} kHz coil and lead are above their own resonance, and no capacitor at "
                "the reader tunes them; a lead with less capacitance or a coil with less inductance is needed",
            )
        if tuning == "series":
            return np.asarray(series_tuning_capacitance(self.inductance, self.frequency))
        return np.asarray(parallel_tuning_capacitance(self.inductance, self.resistance, self.frequency))


def apparent_coil(lead: Lead, inductance: Real, resistance: Real, frequency: float) -> ApparentCoil:
    """The coil as the reader sees it through its lead.

    Parameters
    ----------
    lead : Lead
        Between coil and reader.
    inductance, resistance : float or ndarray
        Of the coil as installed, without its stray capacitance [H], [Ω].
    frequency : float
        [Hz].

    Raises
    ------
    LinkError
        For a coil or a frequency not above 0.
    """
    require_positive("inductance of the base coil", inductance)
    require_positive("resistance of the base coil", resistance)
    (a, b), (c, d) = chain = lead.chain_matrix(frequency)
    coil = np.asarray(np.asarray(resistance) + 2j * pi * frequency * np.asarray(inductance))
    current_ratio, voltage_ratio = np.asarray(1.0 / (c * coil + d)), np.asarray(coil / (a * coil + b))
    seen = (a * coil + b) * current_ratio
    seen_inductance = np.asarray(seen.imag / (2.0 * pi * frequency))
    return ApparentCoil(frequency, seen_inductance, np.asarray(seen.real), current_ratio, voltage_ratio, chain, coil)


def lead_resonance(lead: Lead, inductance: float) -> float:
    """First frequency at which coil and lead resonate as the reader sees them [Hz]; infinity without capacitance.

    Parameters
    ----------
    lead : Lead
        Its stray capacitance of the coil counts.
    inductance : float
        Of the coil [H].

    Raises
    ------
    LinkError
        For an inductance that is not above 0 and finite.

    Notes
    -----
    The first zero of C jωL + D without losses, where the reader sees an open circuit; losses move it by about 1/Q² of
    itself. That function is Π(1 − ω²/ω_k²), so Σ 1/ω_k² = Σ (capacitance × inductance between it and the coil's far
    end), and the first resonance lies above the root of the inverse of this sum: the search starts there.
    """
    require_positive("inductance of the base coil", inductance)
    if not isfinite(inductance):
        raise LinkError("inductance of the base coil", f"{inductance} given; it must be finite")
    behind, squares = inductance, inductance * lead.coil_stray
    for part in lead.parts:
        own = part.inductance * part.length
        squares += part.capacitance * part.length * (behind + 0.5 * own)
        behind += own
    if squares == 0.0:
        return inf
    lossless, guess = lead.without_loss(), 1.0 / (2.0 * pi * squares**0.5)

    def opening(frequency: float) -> float:
        _, (c, d) = lossless.chain_matrix(frequency)
        return float((c * 2j * pi * frequency * inductance + d).real)

    # The guess itself is the resonance of a lone capacitance: a hair below, the function is positive.
    low = guess * (1.0 - 1e-9)
    high = next(
        (f for f in guess * np.arange(1.0 + _SEARCH_STEP, _SEARCH_END, _SEARCH_STEP) if opening(float(f)) <= 0.0), inf
    )
    if high == inf:
        raise LinkError("lead", f"no resonance found from {guess:.4g} Hz to {_SEARCH_END * guess:.4g} Hz")
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if opening(middle) > 0.0 else (low, middle)
    return float(0.5 * (low + high))


def lead_notes(lead: Lead, inductance: float, resistance: float, frequency: float) -> tuple[str, ...]:
    """Sentences a designer should read about this lead at the carrier; none for a lead that hardly counts.

    Parameters
    ----------
    lead : Lead
        Between coil and reader.
    inductance, resistance : float
        Of the coil as installed [H], [Ω].
    frequency : float
        Carrier [Hz].
    """
    resonance = lead_resonance(lead, inductance)
    ratio = resonance / frequency
    if ratio >= LEAST_RESONANCE_RATIO:
        return ()
    found = f"Coil and lead resonate at {resonance / 1e3:.4g} kHz, {ratio:.3g} times the carrier"
    if ratio <= 1.0:
        return (
            f"{found}: below it the reader drives no coil but a capacitor; a shorter lead, or one of less capacitance, "
            "is needed.",
        )
    seen = apparent_coil(lead, inductance, resistance, frequency)
    return (
        f"{found} and under {LEAST_RESONANCE_RATIO:g} times (common practice, no source): the reader sees "
        f"{float(seen.inductance) * 1e6:.4g} µH instead of {inductance * 1e6:.4g} µH, which moves with the lead's "
        "place and heat.",
    )
