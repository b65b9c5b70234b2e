"""Constants of the weak form by region: what the bodies and thin layers of a mesh are made of."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import pi

import numpy as np

from geometries.constants import MAGNETIC_CONSTANT
from geometries.heater import ribbon_length, ribbon_resistance
from geometries.magnet import Magnet, magnet_region
from geometries.plan import TAG_CORE, TAG_SHIELD, acting_shield, is_sheet
from geometries.stack import RIBBON_KINDS, Layer, Stack
from geometries.tag import Tag

CROWDING_TERMS = 2000


@dataclass(frozen=True, slots=True)
class Body:
    """A region's reluctivity relative to that of vacuum [1] and its conductivity [S/m]."""

    reluctivity: complex = 1.0
    conductivity: float = 0.0


@dataclass(frozen=True, slots=True)
class Loop:
    """A layer wound as one spiral whose ends are joined: one more winding, closed through an impedance (DESIGN 4.2).

    ``turn_density`` [1/m] is the number of turns per radial length. ``impedance`` [Ω] is what the current meets besides
    the flux that the field solve knows: the ribbon's resistance, the flux close about each ribbon, the termination.
    """

    turn_density: float
    impedance: complex


@dataclass(frozen=True, slots=True)
class SheetTerms:
    """The possible terms of a thin layer (DESIGN 4.2).

    ``conductance`` is σt [S] where current can run right round the axis; ``magnetisation`` is the length [m]
    that multiplies ν0 ∫ B_n(A) B_n(v) r dl where it cannot; ``loop`` closes a spiral through its ends.
    """

    conductance: complex = 0.0
    magnetisation: complex = 0.0
    loop: Loop | None = None


@dataclass(frozen=True, slots=True)
class Model:
    """All constants at one frequency; regions that are not named are air.

    Parameters
    ----------
    angular_frequency : float
        [rad/s].
    bodies : Mapping of str to Body
        By region of the mesh.
    sheets : Mapping of str to SheetTerms
        By sheet of the mesh.
    """

    angular_frequency: float
    bodies: Mapping[str, Body] = field(default_factory=dict)
    sheets: Mapping[str, SheetTerms] = field(default_factory=dict)

    def without(self, *names: str) -> "Model":
        """The same with the named bodies and sheets taken out."""
        return Model(
            self.angular_frequency,
            {name: body for name, body in self.bodies.items() if name not in names},
            {name: terms for name, terms in self.sheets.items() if name not in names},
        )

    @property
    def lossless(self) -> bool:
        """Whether every term is real."""
        bodies = all(b.conductivity == 0.0 and complex(b.reluctivity).imag == 0.0 for b in self.bodies.values())
        return bodies and not self.sheets


def stack_model(stack: Stack, frequency: float) -> Model:
    """Constants of the base coil's surroundings."""
    bodies, sheets = {}, {}
    for layer in stack.layers:
        if layer.material is None:
            continue
        if is_sheet(layer, frequency):
            sheets[f"layer {layer.name}"] = sheet_terms(layer, frequency)
        else:
            bodies[f"layer {layer.name}"] = Body(1.0 / layer.material.permeability, layer.conductivity)
    for solid in stack.solids:
        bodies[f"solid {solid.name}"] = Body(1.0 / solid.material.permeability, solid.conductivity)
    return Model(2.0 * pi * frequency, bodies, sheets)


def tag_model(tag: Tag, frequency: float) -> Model:
    """Constants of the tag alone."""
    bodies = {}
    if tag.core is not None:
        bodies[TAG_CORE] = Body(1.0 / tag.core.material.permeability, tag.core.conductivity)
    shield = acting_shield(tag)
    if shield is not None:
        bodies[TAG_SHIELD] = Body(1.0 / shield.material.permeability, shield.conductivity)
    return Model(2.0 * pi * frequency, bodies)


def magnet_model(magnets: tuple[Magnet, ...], frequency: float) -> Model:
    """Constants of blocks fixed to a tag."""
    bodies = {magnet_region(one): Body(1.0 / one.material.permeability, one.conductivity) for one in magnets}
    return Model(2.0 * pi * frequency, bodies)


def joined(first: Model, second: Model) -> Model:
    """Both models' bodies and sheets; the frequency is the first's."""
    bodies = {**first.bodies, **second.bodies}
    return Model(first.angular_frequency, bodies, {**first.sheets, **second.sheets})


def sheet_terms(layer: Layer, frequency: float) -> SheetTerms:
    """Terms of a thin layer: a closed path round the axis, ribbon that keeps its eddies to itself, or both."""
    if layer.kind not in RIBBON_KINDS:
        return SheetTerms(conductance=layer.conductivity * layer.thickness)
    eddies = ribbon_magnetisation(layer, frequency)
    if layer.kind == "rings":
        return SheetTerms(ring_conductance(layer, frequency), eddies)
    if layer.kind == "shorted spiral":
        return SheetTerms(magnetisation=eddies, loop=spiral_loop(layer, frequency))
    return SheetTerms(magnetisation=eddies)


def ring_conductance(layer: Layer, frequency: float) -> complex:
    """Conductance of a layer of closed rings, taken as an even sheet [S].

    Notes
    -----
    A ring of width w in its pitch p has the resistance 1/(σtw) per length, and stores more field close about it than
    an even sheet of the same current does (`crowding_inductance`): 1/(p/(σtw) + jωp·l).
    """
    width, pitch = _ribbon_sizes(layer)
    resistance = pitch / (layer.conductivity * layer.thickness * width)
    return 1.0 / (resistance + 2j * pi * frequency * pitch * crowding_inductance(width, pitch))


def spiral_loop(layer: Layer, frequency: float) -> Loop:
    """The winding that a spiral whose ends are joined makes."""
    width, pitch = _ribbon_sizes(layer)
    length = ribbon_length(layer.outer_radius, layer.inner_radius, pitch)
    resistance = ribbon_resistance(1.0 / layer.conductivity, length, width, layer.thickness)
    inductance = length * crowding_inductance(width, pitch) + layer.termination_inductance
    impedance = resistance + layer.termination_resistance + 2j * pi * frequency * inductance
    return Loop(1.0 / pitch, impedance)


def crowding_inductance(width: float, pitch: float) -> float:
    """Inductance per length that ribbons side by side have beyond an even sheet of the same current [H/m].

    Parameters
    ----------
    width, pitch : float
        Of the ribbons, each with an even current of the same strength and sense [m].

    Notes
    -----
    The sheet's current has the harmonics 2 s_n, s_n = sin(nπw/p)/(nπw/p), and one of wavelength p/n makes the potential
    μ0 K p/(4πn): averaged over the ribbon, (μ0/2π) Σ s_n²/n. It is 0 for w = p.
    """
    n = np.arange(1, CROWDING_TERMS + 1)
    return float(MAGNETIC_CONSTANT / (2.0 * pi) * np.sum(np.sinc(n * width / pitch) ** 2 / n))


def _ribbon_sizes(layer: Layer) -> tuple[float, float]:
    if layer.ribbon_width is None or layer.pitch is None:
        raise ValueError(f"layer {layer.name} has no ribbon width or pitch")
    return layer.ribbon_width, layer.pitch


def ribbon_screening(layer: Layer, frequency: float) -> float:
    """X = ωμ0σt·w of a ribbon layer [1]: how far its own eddy currents screen it."""
    width, _ = _ribbon_sizes(layer)
    return 2.0 * pi * frequency * MAGNETIC_CONSTANT * layer.conductivity * layer.thickness * width


def ribbon_magnetisation(layer: Layer, frequency: float) -> complex:
    """Length that multiplies ν0 ∫ B_n(A) B_n(v) r dl for a layer of ribbon [m].

    Notes
    -----
    jωμ0σt·w³/(12p) / (1 + jcX) with c = 0.119 − 0.0455(w/p)² − 0.0155(w/p)⁶ for the screening by the ribbon
    itself and by its neighbours; 0.2 % at X = 2, used up to X = 2π.
    """
    width, pitch = _ribbon_sizes(layer)
    screening = ribbon_screening(layer, frequency)
    ratio = width / pitch
    own = 0.119 - 0.0455 * ratio**2 - 0.0155 * ratio**6
    return 1j * screening * width * ratio / 12.0 / (1.0 + 1j * own * screening)
