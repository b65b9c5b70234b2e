"""Constants of the weak form by region: what the bodies and thin layers of a mesh are made of."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import pi

from geometries.constants import MAGNETIC_CONSTANT
from geometries.plan import TAG_CORE, is_sheet
from geometries.stack import RIBBON_KINDS, Layer, Stack
from geometries.tag import Tag


@dataclass(frozen=True, slots=True)
class Body:
    """A region's reluctivity relative to that of vacuum [1] and its conductivity [S/m]."""

    reluctivity: complex = 1.0
    conductivity: float = 0.0


@dataclass(frozen=True, slots=True)
class SheetTerms:
    """The two possible terms of a thin layer (DESIGN 4.2).

    ``conductance`` is σt [S] where current can run right round the axis; ``magnetisation`` is the length [m]
    that multiplies ν0 ∫ B_n(A) B_n(v) r dl where it cannot.
    """

    conductance: float = 0.0
    magnetisation: complex = 0.0


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
    bodies = {} if tag.core is None else {TAG_CORE: Body(1.0 / tag.core.material.permeability)}
    return Model(2.0 * pi * frequency, bodies)


def joined(first: Model, second: Model) -> Model:
    """Both models' bodies and sheets; the frequency is the first's."""
    bodies = {**first.bodies, **second.bodies}
    return Model(first.angular_frequency, bodies, {**first.sheets, **second.sheets})


def sheet_terms(layer: Layer, frequency: float) -> SheetTerms:
    """Terms of a thin layer: a closed path round the axis, or ribbon that keeps its eddies to itself."""
    if layer.kind not in RIBBON_KINDS:
        return SheetTerms(conductance=layer.conductivity * layer.thickness)
    return SheetTerms(magnetisation=ribbon_magnetisation(layer, frequency))


def ribbon_screening(layer: Layer, frequency: float) -> float:
    """X = ωμ0σt·w of a ribbon layer [1]: how far its own eddy currents screen it."""
    if layer.ribbon_width is None:
        raise ValueError(f"layer {layer.name} has no ribbon width")
    return 2.0 * pi * frequency * MAGNETIC_CONSTANT * layer.conductivity * layer.thickness * layer.ribbon_width


def ribbon_magnetisation(layer: Layer, frequency: float) -> complex:
    """Length that multiplies ν0 ∫ B_n(A) B_n(v) r dl for a layer of ribbon [m].

    Notes
    -----
    jωμ0σt·w³/(12p) / (1 + jcX) with c = 0.119 − 0.0455(w/p)² − 0.0155(w/p)⁶ for the screening by the ribbon
    itself and by its neighbours; 0.2 % at X = 2, used up to X = 2π.
    """
    if layer.ribbon_width is None or layer.pitch is None:
        raise ValueError(f"layer {layer.name} has no ribbon width or pitch")
    screening = ribbon_screening(layer, frequency)
    ratio = layer.ribbon_width / layer.pitch
    own = 0.119 - 0.0455 * ratio**2 - 0.0155 * ratio**6
    return 1j * screening * layer.ribbon_width * ratio / 12.0 / (1.0 + 1j * own * screening)
