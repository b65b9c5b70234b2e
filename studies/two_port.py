"""The two coils of a design as a two-port against frequency, as a Touchstone file."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import pi

import numpy as np

from fem.arrays import ComplexArray
from studies.coupling import asked_of, coupling_of
from studies.engineering import engineering, place_text
from studies.errors import RunError
from studies.exported import AtPlace
from studies.one_state import Kept
from studies.plain_text import plain
from studies.quantities import QuantityError, read_quantity
from studies.solving import solved_coils
from studies.specification import Candidate

REFERENCE = 50.0
"""Resistance of the ports that the file is written for [Ω]."""

SHARES = (0.5, 0.63, 0.8, 0.9, 1.0, 1.1, 1.25, 1.6, 2.0)
"""Frequencies solved at where none are asked for, over the carrier."""

FARTHEST = 10.0
"""How many times above or below the carrier a frequency may lie: constants of materials hold near the carrier."""


@dataclass(frozen=True, slots=True, eq=False)
class TwoPort:
    """Impedances of the coils alone, port 1 the base coil's terminals and port 2 the tag coil's.

    ``frequencies`` [Hz] of shape (n,), rising, each of them solved at; ``impedances`` [Ω] of shape (n, 2, 2).
    """

    frequencies: tuple[float, ...]
    impedances: ComplexArray

    @property
    def scattering(self) -> ComplexArray:
        """S between ports of `REFERENCE`, (Z − R)(Z + R)⁻¹, shape (n, 2, 2)."""
        ports = REFERENCE * np.eye(2)
        return np.asarray((self.impedances - ports) @ np.linalg.inv(self.impedances + ports))


def read_frequencies(texts: Iterable[str], carrier: float) -> tuple[float, ...]:
    """Frequencies as typed, or the usual ones about the carrier [Hz]; rising, the carrier among them.

    Raises
    ------
    RunError
        Where one is none, or too far from the carrier.
    """
    found = {carrier}
    for text in texts:
        try:
            frequency = read_quantity(text, "frequency")
        except QuantityError as fault:
            raise RunError(f"--frequency: {fault}") from None
        if not carrier / FARTHEST <= frequency <= carrier * FARTHEST:
            raise RunError(
                f'--frequency: "{text}" was given; {engineering(carrier / FARTHEST, "Hz")} to '
                f"{engineering(carrier * FARTHEST, 'Hz')} is allowed, about the carrier of {engineering(carrier, 'Hz')}"
            )
        found.add(frequency)
    return tuple(sorted(found if len(found) > 1 else {share * carrier for share in SHARES}))


def two_port(at: AtPlace, frequencies: Sequence[float]) -> TwoPort:
    """Solve the coils of a design at every frequency, wound as they are, the tag at its place.

    Raises
    ------
    GeometryError, MeshingError, FieldError
        Where it cannot be computed at one of them.
    """
    return TwoPort(tuple(frequencies), np.array([_impedances(at, frequency) for frequency in frequencies]))


def _impedances(at: AtPlace, frequency: float) -> ComplexArray:
    found = at.found
    candidate, coils, mutual = found.biased, found.coils, at.mutual_inductance
    if frequency != candidate.frequency:
        candidate = _at_frequency(Kept.of(found).in_state(candidate), frequency)
        coils = solved_coils(candidate)
        mutual = complex(asked_of(coupling_of(candidate, coils), (at.place,)).extremes[_lean(at), 0])
    omega, height = 2.0 * pi * frequency, np.array([at.place.height])
    base = coils.base.resistance + 1j * omega * coils.base.inductance
    tag = coils.tag_resistance(height, frequency)[0] + 1j * omega * coils.tag_inductance(height)[0]
    return np.array([[base, 1j * omega * mutual], [1j * omega * mutual, tag]])


def _lean(at: AtPlace) -> int:
    """Which of the two extreme leans the tag has."""
    extremes = asked_of(at.found.coupling, (at.place,)).extremes[:, 0]
    return int(np.argmin(np.abs(extremes - at.mutual_inductance)))


def _at_frequency(candidate: Candidate, frequency: float) -> Candidate:
    """The same things driven at another frequency; a sensitivity stays one at the frequency that it was given for."""
    tag = replace(candidate.tag, sensitivity_frequency=candidate.tag.sensitivity_frequency or candidate.frequency)
    return replace(candidate, frequency=frequency, tag=tag, formulation="total field")


def touchstone(title: str, at: AtPlace, found: TwoPort, cautions: Iterable[str]) -> str:
    """The two-port as the text of a Touchstone file of version 1: Hz, S, real and imaginary parts."""
    low, high = (engineering(found.frequencies[end], "Hz", 6) for end in (0, -1))
    base = at.found.coils.base
    texts = [
        title,
        f"Place: {place_text(at.place)}, {at.lean}. State: {at.found.candidate.state}.",
        "Port 1: base coil as installed. Port 2: tag coil. No lead, capacitor or chip; the coils' own capacitance is "
        f"left out too (the base coil alone resonates at about {engineering(base.self_resonance, 'Hz', 3)}, estimate).",
        f"Solved at each of the {len(found.frequencies)} frequencies below; nothing is known outside {low} to {high}. "
        f"Constants of materials are those at the carrier, {engineering(at.found.candidate.frequency, 'Hz', 6)}.",
        *(f"Note: {text}" for text in at.remarks),
        *(f"CAUTION: {text}" for text in cautions),
    ]
    lines = [f"! {plain(text)}" for text in texts]
    lines += [f"# Hz S RI R {REFERENCE:g}", "! frequency S11 S21 S12 S22"]
    for frequency, s in zip(found.frequencies, found.scattering, strict=True):
        parts = [part for value in (s[0, 0], s[1, 0], s[0, 1], s[1, 1]) for part in (value.real, value.imag)]
        lines.append(" ".join([f"{frequency:.12g}", *(f"{part:.16e}" for part in parts)]))
    return "\n".join(lines) + "\n"
