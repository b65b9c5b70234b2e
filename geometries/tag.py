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
    """

    section: WindingSection
    turns: float
    core: DrumCore | RodCore | None
    wire: Wire | None = None
    series_resistance: float | None = None

    @property
    def outer_radius(self) -> float:
        """Largest radius of winding and core [m]."""
        core = 0.0 if self.core is None else self.core.outer_radius
        return max(core, self.section.outer_radius)

    @property
    def half_height(self) -> float:
        """Farthest that winding or core reach from the centre along the axis [m]."""
        core = 0.0 if self.core is None else self.core.half_height
        return max(core, self.section.top, -self.section.bottom)

    @property
    def sphere_radius(self) -> float:
        """Radius of the smallest sphere about the centre that holds the tag [m]."""
        corners = list(self.section.corners) + ([] if self.core is None else list(self.core.outline))
        return max(hypot(r, z) for r, z in corners)
