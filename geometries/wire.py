"""Round covered wire."""

from dataclasses import dataclass
from math import pi

from geometries.materials import Material


@dataclass(frozen=True, slots=True)
class Wire:
    """A round wire with its covering, at its working temperature.

    Parameters
    ----------
    conductor : Material
        What the wire is made of.
    diameter : float
        Bare diameter [m].
    overall_diameter : float
        Diameter over the covering [m].
    temperature : float
        Working temperature [°C].
    rated_temperature : float or None
        Highest temperature the covering stands [°C].
    rated_voltage : float or None
        Highest voltage the covering stands [V peak].
    rated_current_density : float or None
        Highest rms current density over the bare wire [A/m²].
    minimum_bend_radius : float or None
        Least inner radius the covering may be bent to [m].
    """

    conductor: Material
    diameter: float
    overall_diameter: float
    temperature: float = 20.0
    rated_temperature: float | None = None
    rated_voltage: float | None = None
    rated_current_density: float | None = None
    minimum_bend_radius: float | None = None

    @property
    def area(self) -> float:
        """Cross-section of the bare conductor [m²]."""
        return 0.25 * pi * self.diameter**2

    @property
    def conductivity(self) -> float:
        """Conductivity at the working temperature [S/m]."""
        return self.conductor.conductivity(self.temperature)
