"""What surrounds the base coil: layers placed from the plate's top surface downward, and other round solids."""

from dataclasses import dataclass
from typing import Literal

from geometries.materials import Material
from geometries.tag import Outline

LayerKind = Literal["solid", "gap", "foil", "meander", "open spiral", "shorted spiral", "rings"]
RIBBON_KINDS: tuple[LayerKind, ...] = ("meander", "open spiral", "shorted spiral", "rings")


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of the stack in its place.

    Parameters
    ----------
    name : str
        Name the study file gives it.
    kind : LayerKind
        What it is; a ribbon kind is described by ``ribbon_width`` and ``pitch`` besides.
    material : Material or None
        None for a gap.
    top, thickness : float
        Height of the upper surface (0 is the plate's top) and thickness downward [m].
    outer_radius, inner_radius : float
        Extent [m].
    temperature : float
        [°C].
    ribbon_width, pitch : float or None
        Width of the ribbon, and distance from one ribbon's middle to the next [m].
    termination_resistance, termination_inductance : float
        What joins the ends of a shorted spiral [Ω], [H].
    """

    name: str
    kind: LayerKind
    material: Material | None
    top: float
    thickness: float
    outer_radius: float
    inner_radius: float = 0.0
    temperature: float = 20.0
    ribbon_width: float | None = None
    pitch: float | None = None
    termination_resistance: float = 0.0
    termination_inductance: float = 0.0

    @property
    def bottom(self) -> float:
        """Height of the lower surface [m]."""
        return self.top - self.thickness

    @property
    def mid_height(self) -> float:
        """Height of the middle [m]."""
        return self.top - 0.5 * self.thickness

    @property
    def conductivity(self) -> float:
        """Conductivity at the layer's temperature [S/m]; 0 for a gap or an insulator."""
        return 0.0 if self.material is None else self.material.conductivity(self.temperature)

    @property
    def outline(self) -> Outline:
        """Corners (r, z) of the half section [m], counter-clockwise."""
        a, b = self.inner_radius, self.outer_radius
        return ((a, self.bottom), (b, self.bottom), (b, self.top), (a, self.top))


@dataclass(frozen=True, slots=True)
class Solid:
    """Any other body that is round about the base coil's axis.

    Parameters
    ----------
    name : str
        Name the study file gives it.
    material : Material
        What it is made of.
    outline : tuple of (r, z)
        Corners of its half section [m].
    temperature : float
        [°C].
    shape : str
        The shape's name where the study file gives one in place of the corners.
    """

    name: str
    material: Material
    outline: Outline
    temperature: float = 20.0
    shape: str = "outline"

    @property
    def conductivity(self) -> float:
        """Conductivity at the solid's temperature [S/m]."""
        return self.material.conductivity(self.temperature)


@dataclass(frozen=True, slots=True)
class Stack:
    """Layers and solids about one axis; height 0 is the top surface of the plate."""

    layers: tuple[Layer, ...] = ()
    solids: tuple[Solid, ...] = ()
