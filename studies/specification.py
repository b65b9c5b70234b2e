"""What one candidate of a study says, checked and in SI, before any field is solved.

What follows from a field solve (whole turns from a wanted inductance, a stock part's turns) is still open here.
"""

from dataclasses import dataclass
from typing import Literal

from geometries.laying import Laying
from geometries.magnet import Magnet
from geometries.materials import Material
from geometries.part import TagPart
from geometries.pucks import Puck
from geometries.stack import Stack
from geometries.tag import Tag
from geometries.vessels import Vessel
from geometries.wire import Wire


@dataclass(frozen=True, slots=True)
class CapacitorSpecification:
    """A tuning capacitor as it works: typical, least and greatest capacitance [F] at its ``temperature`` [°C].

    They hold its stray capacitance, its parts' tolerance and what its dielectric allows; ``dielectric`` is empty where
    none is given. ``parts`` [F] are the nominal values that lie in parallel, ``rated_voltage`` [V peak] is what each
    stands, ``loss_factor`` [1] its tan δ, ``spread`` [1] the share by which each may be off.
    """

    capacitance: float
    least: float
    greatest: float
    dielectric: str = ""
    temperature: float = 20.0
    parts: tuple[float, ...] = ()
    rated_voltage: float | None = None
    loss_factor: float = 0.0
    spread: float = 0.0


@dataclass(frozen=True, slots=True)
class CapacitorChoice:
    """A tuning capacitor still to be chosen from preferred values, once it is known what tunes the coil.

    ``series`` of IEC 60063, ``tolerance`` [1] of each part; ``factors`` [1] of the dielectric at ``temperature`` [°C]:
    typical, least, greatest. The rest as in `CapacitorSpecification`; ``stray`` [F] lies in parallel.
    """

    choose: Literal["one part", "pair", "bank"]
    series: Literal["E3", "E6", "E12", "E24", "E48", "E96", "E192"]
    tolerance: float = 0.0
    factors: tuple[float, float, float] = (1.0, 1.0, 1.0)
    stray: float = 0.0
    dielectric: str = ""
    temperature: float = 20.0
    rated_voltage: float | None = None
    loss_factor: float = 0.0


Capacitor = CapacitorSpecification | CapacitorChoice


@dataclass(frozen=True, slots=True)
class CoilSpecification:
    """The base coil as typed: exactly one of ``turns`` and ``inductance`` [H] is given.

    ``radial_build`` and ``winding_length`` [m] are both given or both None (then the section is made as large
    as the turns need); ``clearance`` [m] lies between the layer it is ``under`` and the winding's top.
    Without a ``capacitor`` it is tuned exactly. ``laying`` says how its turns follow one another.
    """

    turns: int | None
    inductance: float | None
    mean_diameter: float
    radial_build: float | None
    winding_length: float | None
    under: str
    clearance: float
    wire: Wire
    capacitor: Capacitor | None = None
    laying: Laying = "layers"


@dataclass(frozen=True, slots=True)
class ChipSpecification:
    """The tag's chip: loads [Ω] and voltages [V peak] across the tag's tuned circuit.

    ``rectifier_drop`` [V] stands across the rectifier of a tag with a store, from which the chip draws ``current`` [A].
    """

    load_resistance: float
    minimum_voltage: float
    clamp_voltage: float | None
    modulated_load_resistance: float
    maximum_voltage: float | None = None
    rectifier_drop: float = 0.0
    current: float = 0.0


@dataclass(frozen=True, slots=True)
class Correction:
    """What is fixed to the tag and not round about its axis does to it.

    Factors on its inductance and on the coupling coefficient [1], and resistance added to its own [Ω].
    """

    inductance: float = 1.0
    coupling: float = 1.0
    added_resistance: float = 0.0


@dataclass(frozen=True, slots=True)
class TagSpecification:
    """The tag by its construction or data sheet; ``sensitivity`` [V per A/m] at ``sensitivity_frequency`` [Hz].

    At ``temperature`` [°C] its core is as heated; ``cold_core`` is its material at 20 °C where that differs: what a
    data sheet says of the part holds there. Without a ``capacitor`` it is tuned exactly in free air. A ``correction``
    is applied to what is computed.
    """

    construction: Tag | None
    part: TagPart | None
    chip: ChipSpecification
    sensitivity: float | None = None
    sensitivity_frequency: float | None = None
    temperature: float = 20.0
    cold_core: Material | None = None
    capacitor: Capacitor | None = None
    correction: Correction | None = None


@dataclass(frozen=True, slots=True)
class DriveSpecification:
    """What drives the base coil: supply [V], peak voltage of the fundamental [V], resistance [Ω], limit [A peak].

    ``when_off`` is what the stage leaves between its terminals while the base listens.
    ``duty`` is the share of the time that it is on [1].
    """

    bridge: Literal["full", "half", "sine"]
    supply: float
    source_voltage: float
    resistance: float
    current_limit: float | None
    when_off: Literal["shorted", "open"] = "shorted"
    duty: float = 1.0


@dataclass(frozen=True, slots=True)
class LeadSpecification:
    """The lead between coil and reader: its pieces from the coil on; both conductors together, per metre of the lead.

    A piece is its length [m], its resistance to direct current [Ω/m], and the conductivity of its conductors [S/m], 0
    where the resistance is given as it is at the working frequency. ``diameter`` is that of one conductor [m].
    """

    pieces: tuple[tuple[float, float, float], ...]
    diameter: float
    inductance: float
    capacitance: float


@dataclass(frozen=True, slots=True)
class LinkSpecification:
    """How base and tag talk; storage capacitance [F], charge time [s], receiver [V], [dB].

    ``pause`` [s] lies between the end of the drive and the first bit of a half-duplex reply of ``telegram_bits`` on
    ``reply_tones`` [Hz], before which a measurement takes ``measurement_energy`` [J] from the store;
    ``keying_frequency`` [Hz] is that of a full-duplex tag's load.
    """

    mode: Literal["half-duplex", "full-duplex"]
    tuning: Literal["series", "parallel"]
    storage_capacitance: float | None
    charge_time: float | None
    receiver_minimum_voltage: float
    receiver_dynamic_range: float
    pause: float = 3e-3
    reply_tones: tuple[float, ...] = (134.2e3, 124.2e3)
    telegram_bits: int = 112
    measurement_energy: float = 0.0
    keying_frequency: float | None = None


@dataclass(frozen=True, slots=True)
class MapGrid:
    """Places of the coupling map: heights [m], offsets [m], tilts [rad], each rising."""

    heights: tuple[float, ...]
    offsets: tuple[float, ...]
    tilts: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """Where the tag sits: height [m], offset [m], tilt [rad]."""

    height: float
    offset: float
    tilt: float


@dataclass(frozen=True, slots=True)
class Limit:
    """One line of what is required: ``quantity`` (a name of the outputs) and its bound in SI (dB for a margin)."""

    quantity: str
    value: float


@dataclass(frozen=True, slots=True)
class Requirement:
    """What a good design must do."""

    places: tuple[Place, ...] = ()
    at_least: tuple[Limit, ...] = ()
    at_most: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value the study file left open: its key path, the value as text with its unit, and why it is a fair guess."""

    key: str
    value: str
    reason: str


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A second station like this one: ``spacing`` of the two axes, and how much higher it stands, ``level`` [m]."""

    spacing: float
    level: float


AS_GIVEN, COLD = "as given", "cold"
"""State that the study file describes where it names none, and that in which every part is at 20 °C."""

Formulation = Literal["total field", "reaction field"]
"""How a base coil's field is solved for: each coil by itself, or all coils over one stack together (DESIGN 4.7)."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One point of a sweep.

    ``design`` is its short name in every output; ``swept`` pairs each swept key path with its value (SI number,
    or text for a word such as a layer's name); ``warnings`` are sentences for the designer. ``magnets`` are fixed to
    the tag, in its axes; ``drive_magnets`` stay below, in the stack's. ``states`` are the same design in its other
    states, this one being ``state``; turns and capacitors are found in the one called ``tuned_in``, where there is one,
    and kept in all of them. Where a ``puck`` carries the tag, the design is looked at in each of the ``vessels``; else
    they are drawn only.
    """

    design: str
    swept: tuple[tuple[str, float | int | str], ...]
    frequency: float
    accuracy: float
    stack: Stack
    coil: CoilSpecification
    tag: TagSpecification
    drive: DriveSpecification
    link: LinkSpecification
    grid: MapGrid
    require: Requirement
    vessels: tuple[Vessel, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    warnings: tuple[str, ...] = ()
    magnets: tuple[Magnet, ...] = ()
    formulation: Formulation = "total field"
    drive_magnets: tuple[Magnet, ...] = ()
    lead: LeadSpecification | None = None
    neighbour: Neighbour | None = None
    state: str = AS_GIVEN
    states: tuple["Candidate", ...] = ()
    tuned_in: str = AS_GIVEN
    puck: Puck | None = None


def state_names(candidate: Candidate) -> tuple[str, ...]:
    """Names of all states in which a candidate is judged, the one as given first."""
    return (candidate.state, *(state.state for state in candidate.states))
