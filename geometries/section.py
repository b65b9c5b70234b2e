"""The rectangle a winding fills, seen in the half plane (r, z)."""

from dataclasses import dataclass
from math import pi


@dataclass(frozen=True, slots=True)
class WindingSection:
    """Rectangular cross-section of a winding about the axis of symmetry.

    Parameters
    ----------
    inner_radius, outer_radius : float
        Radii of the winding's inside and outside [m].
    bottom, top : float
        Heights of its two ends along the axis [m].
    """

    inner_radius: float
    outer_radius: float
    bottom: float
    top: float

    @property
    def radial_build(self) -> float:
        """Outer less inner radius [m]."""
        return self.outer_radius - self.inner_radius

    @property
    def winding_length(self) -> float:
        """Length along the axis [m]."""
        return self.top - self.bottom

    @property
    def area(self) -> float:
        """Area of the cross-section [m²]."""
        return self.radial_build * self.winding_length

    @property
    def mean_radius(self) -> float:
        """Radius of the middle turn [m]."""
        return 0.5 * (self.inner_radius + self.outer_radius)

    @property
    def mid_height(self) -> float:
        """Height of the middle of the section [m]."""
        return 0.5 * (self.bottom + self.top)

    @property
    def mean_turn_length(self) -> float:
        """Length of the middle turn [m]."""
        return 2.0 * pi * self.mean_radius

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """The four corners (r, z) [m], counter-clockwise."""
        a, b, c, d = self.inner_radius, self.outer_radius, self.bottom, self.top
        return ((a, c), (b, c), (b, d), (a, d))

    def raised(self, height: float) -> "WindingSection":
        """The same section moved up the axis by ``height`` [m]."""
        return WindingSection(self.inner_radius, self.outer_radius, self.bottom + height, self.top + height)
