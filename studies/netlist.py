"""The two coupled circuits of a design as a netlist in plain Berkeley SPICE: linear, steady, at the carrier."""

import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import isfinite, pi, sqrt

import numpy as np

from links.lead import Lead, LeadPart
from studies.engineering import engineering, place_text
from studies.exported import AtPlace
from studies.leads import lead_between
from studies.plain_text import plain
from studies.tuning import base_circuit, tag_circuit

LEAST_LOSS_SHARE = 1e-4
"""Imaginary part of M over its real part under which it is left away: it moves no voltage by more than that."""

WIDTH = 96


@dataclass(frozen=True, slots=True)
class Element:
    """A line of the netlist with what it is: name, nodes and value, in SI."""

    line: str
    meaning: str

    @classmethod
    def of(cls, name: str, nodes: tuple[str, ...], value: float, meaning: str) -> "Element":
        """From its parts."""
        return cls(" ".join((name, *nodes, f"{value:.9e}")), meaning)


def netlist(title: str, at: AtPlace, cautions: Iterable[str]) -> str:
    """The netlist of a design at a place.

    Parameters
    ----------
    title : str
        Study and design in a line.
    at : AtPlace
        The link there.
    cautions : iterable of str
        Sentences that whoever builds the circuit has to read.

    Notes
    -----
    Values are SI, amplitudes are peak. What does not depend on the frequency in SPICE does in truth: resistances hold
    skin and proximity effect and what the surroundings reflect, at the carrier only.
    """
    frequency = at.found.candidate.frequency
    lines = [plain(title)]
    for text in _head(at):
        lines += _comment(text)
    for text in cautions:
        lines += _comment(f"CAUTION: {text}")
    for element in (*_base(at), *_tag(at), *_coupling(at)):
        lines += ["*", *_comment(element.meaning), element.line]
    lines += ["*", *_comment("At the carrier: magnitude and phase of the chip's voltage, peak.")]
    lines += [f".ac lin 1 {frequency:.9e} {frequency:.9e}", ".print ac vm(chip) vp(chip)", ".end"]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> list[str]:
    return [f"* {line}" for line in textwrap.wrap(plain(text), WIDTH, break_on_hyphens=False)]


def _head(at: AtPlace) -> Iterator[str]:
    candidate, budget = at.found.candidate, at.link.budget
    yield f"Place: {place_text(at.place)}, {at.lean}. State: {candidate.state}."
    yield (
        f"Steady state at {engineering(candidate.frequency, 'Hz', 6)}, amplitudes are peak, values are SI. Resistances "
        "hold skin and proximity effect and what the surroundings reflect, at this frequency only: do not sweep far."
    )
    yield (
        f"As trivet computes it: {engineering(float(at.link.chip_voltage[0]), 'V', 6)} across the chip, "
        f"{engineering(float(abs(budget.source_current[0])), 'A', 6)} out of the drive stage, margin "
        f"{float(at.link.margin[0]):.2f} dB."
    )
    clamp = candidate.tag.chip.clamp_voltage
    if clamp is not None:
        yield f"The chip's limiter at {engineering(clamp, 'V')} is not in this circuit: a higher voltage is cut there."
    if candidate.tag.capacitor is not None or candidate.coil.capacitor is not None:
        yield "Capacitors stand where their tolerance and heat leave the least margin."
    yield from (f"Note: {text}" for text in at.remarks)


def _base(at: AtPlace) -> Iterator[Element]:
    candidate, coils, budget = at.found.candidate, at.found.coils, at.link.budget
    drive, circuit = candidate.drive, base_circuit(candidate, coils)
    amplitude = float(budget.source_voltage[0])
    told = f"Drive stage: fundamental of the {drive.bridge} bridge" if drive.bridge != "sine" else "Drive stage: sine"
    if budget.drive_limited[0]:
        told += (
            f", lowered from {engineering(drive.source_voltage, 'V')} to hold its current limit of "
            f"{engineering(drive.current_limit or 0.0, 'A')} at this place"
        )
    yield Element(f"Vdrive src 0 dc 0 ac {amplitude:.9e}", f"{told}, {engineering(amplitude, 'V')} peak.")
    out = "src"
    if drive.resistance > 0.0:
        out = "drv"
        yield Element.of("Rdrive", ("src", out), drive.resistance, "Of the drive stage, with any series resistor.")
    capacitance = float(circuit.tuning_capacitance(candidate.frequency))
    if circuit.tuning == "series":
        yield Element.of("Cbase", (out, "tuned"), capacitance, "Tuning capacitor, in series with the base coil.")
        out = "tuned"
    else:
        yield Element.of("Cbase", (out, "0"), capacitance, "Tuning capacitor, across the base coil.")
    lead = lead_between(candidate, coils.base)
    if lead is not None:
        elements, out = _lead(lead, candidate.frequency, out)
        yield from elements
    base = coils.base
    yield Element.of("Lbase", (out, "base"), base.inductance, f"Base coil as installed, {base.turns:g} turns: L.")
    yield Element.of(
        "Rbase",
        ("base", "hbase" if _lossy(at) else "0"),
        base.resistance,
        f"Base coil as installed: {engineering(base.winding.total, 'ohm')} of its winding, "
        f"{engineering(base.reflected_resistance, 'ohm')} reflected by what surrounds it.",
    )


def _lead(lead: Lead, frequency: float, out: str) -> tuple[list[Element], str]:
    """The lead from the reader to the coil, a pi section a piece, and the node at its far end."""
    found: list[Element] = []
    for number, part in enumerate(reversed(lead.parts), 1):
        pieces, out = _lead_part(part, frequency, str(number), out)
        found += pieces
    if lead.coil_stray > 0.0:
        found.append(Element.of("Cstray", (out, "0"), lead.coil_stray, "Own capacitance of the base coil (estimate)."))
    return found, out


def _lead_part(part: LeadPart, frequency: float, number: str, near: str) -> tuple[list[Element], str]:
    """A pi section with the chain matrix of the uniform line at ``frequency`` [Hz].

    Its two shunt branches have an admittance (D − 1)/B. Their conductance, R(ωC)²/24, is a millionth of what they let
    through in any lead that is short against the wave, and is left away.
    """
    (_, series), (_, d) = part.chain_matrix(frequency)
    omega = 2.0 * pi * frequency
    half = part.capacitance * part.length / 2.0 if series == 0.0 else float(((d - 1.0) / series).imag) / omega
    what = f"Lead, piece {number} from the reader, {part.length * 1e3:.4g} mm"
    found, far = [], near
    shunt = [half] if half > 0.0 else []
    found += [Element.of(f"Clead{number}a", (near, "0"), c, f"{what}: half its capacitance.") for c in shunt]
    for sign, kind, value in (("R", "resistance", series.real), ("L", "inductance", series.imag / omega)):
        if value > 0.0:
            onward = f"lead{number}{sign.lower()}"
            found.append(Element.of(f"{sign}lead{number}", (far, onward), float(value), f"{what}: its {kind}."))
            far = onward
    found += [Element.of(f"Clead{number}b", (far, "0"), c, f"{what}: half its capacitance.") for c in shunt]
    return found, far


def _tag(at: AtPlace) -> Iterator[Element]:
    candidate, height = at.found.candidate, np.array([at.place.height])
    circuit = tag_circuit(candidate, at.found.coils, height)
    (inductance,), (resistance,) = np.asarray(circuit.inductance), np.asarray(circuit.resistance)
    where = f"where it sits, {engineering(at.place.height, 'm')} above the plate"
    yield Element.of(
        "Ltag", ("chip", "tag"), float(inductance), f"Tag coil {where}: L. Node 0 on its side is no earth."
    )
    yield Element.of("Rtag", ("tag", "htag" if _lossy(at) else "0"), float(resistance), f"Tag coil {where}: R.")
    capacitance = float(circuit.tuning_capacitance(candidate.frequency))
    yield Element.of("Ctag", ("chip", "0"), capacitance, "The tag's capacitor, stray capacitance included.")
    load = candidate.tag.chip.load_resistance
    if isfinite(load):
        yield Element.of("Rchip", ("chip", "0"), load, "What the chip loads the tag with.")


def _coupling(at: AtPlace) -> Iterator[Element]:
    candidate, coils = at.found.candidate, at.found.coils
    mutual = _positive(at.mutual_inductance)
    tag_inductance = float(coils.tag_inductance(np.array([at.place.height]))[0])
    k = mutual.real / sqrt(coils.base.inductance * tag_inductance)
    if k > 0.0:
        yield Element.of(
            "Kbase", ("Lbase", "Ltag"), k, f"Coupling at this place; M is {engineering(mutual.real, 'H')}."
        )
    else:
        yield Element("*", "The coils do not couple at this place: there is no K element.")
    if _lossy(at):
        ratio = -2.0 * pi * candidate.frequency * mutual.imag
        told = "Currents in what surrounds the coils turn M's phase (at the carrier only): its imaginary part"
        yield Element.of("Hbase", ("hbase", "abase", "Vtag"), ratio, f"{told}, on the base coil's side.")
        yield Element("Vbase abase 0 dc 0", "Carries no voltage: tells Htag the base coil's current.")
        yield Element.of("Htag", ("htag", "atag", "Vbase"), ratio, f"{told}, on the tag's side.")
        yield Element("Vtag atag 0 dc 0", "Carries no voltage: tells Hbase the tag coil's current.")


def _lossy(at: AtPlace) -> bool:
    mutual = at.mutual_inductance
    return abs(mutual.imag) > LEAST_LOSS_SHARE * abs(mutual.real)


def _positive(mutual: complex) -> complex:
    """M with its real part positive: which way the tag's ends are named does not matter."""
    return -mutual if mutual.real < 0.0 else mutual
