"""The tag: a small coil, in air or on a ferrite core, in its own axes (origin at the coil's centre)."""

from dataclasses import dataclass
from math import hypot

from geometries.materials import Material
from geometries.section import WindingSection
from geometries.wire import Wire

Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class DrumCore:
    """A ferrite drum: a centre post between two flanges, centred on the origin; lengths in [m]."""

    material: Material
    centre_post_diameter: float
    centre_post_height: float
    flange_diameter: float
    flange_thickness: float

    @property
    def conductivity(self) -> float:
        """Conductivity at room temperature [S/m]; 0 for ferrite, whose loss is in its permeability."""
        return self.material.conductivity(20.0)

    @property
    def half_height(self) -> float:
        """Half the overall height [m]."""
        return 0.5 * self.centre_post_height + self.flange_thickness

    @property
    def outer_radius(self) -> float:
        """Radius of the flanges [m]."""
        return 0.5 * self.flange_diameter

    @property
    def outline(self) -> Outline:
        """Corners (r, z) of the half section [m], counter-clockwise."""
        post, flange = 0.5 * self.centre_post_diameter, 0.5 * self.flange_diameter
        low, high = 0.5 * self.centre_post_height, self.half_height
        return ((0.0, -high), (flange, -high), (flange, -low), (post, -low),
                (post, low), (flange, low), (flange, high), (0.0, high))  # fmt: skip


@dataclass(frozen=True, slots=True)
class RodCore:
    """A straight ferrite rod, centred on the origin; lengths in [m]."""

    material: Material
    diameter: float
    length: float

    @property
    def conductivity(self) -> float:
        """Conductivity at room temperature [S/m]; 0 for ferrite, whose loss is in its permeability."""
        return self.material.conductivity(20.0)

    @property
    def half_height(self) -> float:
        """Half the length [m]."""
        return 0.5 * self.length

    @property
    def outer_radius(self) -> float:
        """Radius of the rod [m]."""
        return 0.5 * self.diameter

    @property
    def outline(self) -> Outline:
        """Corners (r, z) of the half section [m], counter-clockwise."""
        r, h = self.outer_radius, self.half_height
        return ((0.0, -h), (r, -h), (r, h), (0.0, h))


@dataclass(frozen=True, slots=True)
class ShieldCan:
    """A can or sleeve about the tag's own axis that moves with the tag; lengths in [m].

    Parameters
    ----------
    material : Material
        What it is made of.
    inner_radius, wall_thickness : float
        Of the wall.
    bottom, top : float
        Heights of its two ends, from the tag's centre.
    closed_bottom, closed_top : bool
        Which ends are closed, by discs as thick as the wall.
    temperature : float
        [°C].
    """

    material: Material
    inner_radius: float
    wall_thickness: float
    bottom: float
    top: float
    closed_bottom: bool = False
    closed_top: bool = False
    temperature: float = 20.0

    @property
    def conductivity(self) -> float:
        """Conductivity at the can's temperature [S/m]."""
        return self.material.conductivity(self.temperature)

    @property
    def outer_radius(self) -> float:
        """Radius of the outside [m]."""
        return self.inner_radius + self.wall_thickness

    @property
    def outline(self) -> Outline:
        """Corners (r, z) of the half section [m], counter-clockwise."""
        inner, outer, wall = self.inner_radius, self.outer_radius, self.wall_thickness
        floor, lid = self.bottom + wall, self.top - wall
        below = ((0.0, floor), (0.0, self.bottom)) if self.closed_bottom else ((inner, self.bottom),)
        above = ((0.0, self.top), (0.0, lid), (inner, lid)) if self.closed_top else ((inner, self.top),)
        inside = ((inner, floor),) if self.closed_bottom else ()
        return (*below, (outer, self.bottom), (outer, self.top), *above, *inside)


@dataclass(frozen=True, slots=True)
class Tag:
    """A tag coil with its core, in its own axes.

    Parameters
    ----------
    section : WindingSection
        Where the turns lie; the coil's centre is the origin.
    turns : float
        Number of turns (not whole where it follows from a data-sheet inductance).
    core : DrumCore, RodCore or None
        The core; None for an air-cored coil.
    wire : Wire or None
        What it is wound with, where known.
    series_resistance : float or None
        Resistance of the coil where it is given instead of its wire [Ω].
    shield : ShieldCan or None
        A can round it all.
    """

    section: WindingSection
    turns: float
    core: DrumCore | RodCore | None
    wire: Wire | None = None
    series_resistance: float | None = None
    shield: ShieldCan | None = None

    @property
    def outer_radius(self) -> float:
        """Largest radius of winding, core and shield [m]."""
        return max(r for r, _ in self.corners)

    @property
    def half_height(self) -> float:
        """Farthest that winding, core or shield reach from the centre along the axis [m]."""
        return max(abs(z) for _, z in self.corners)

    @property
    def sphere_radius(self) -> float:
        """Radius of the smallest sphere about the centre that holds the tag [m]."""
        return max(hypot(r, z) for r, z in self.corners)

    @property
    def corners(self) -> Outline:
        """Corners (r, z) of all its parts [m]."""
        core = () if self.core is None else self.core.outline
        return (*self.section.corners, *core, *(() if self.shield is None else self.shield.outline))
