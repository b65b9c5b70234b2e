"""A bar that is fixed to the tag: a magnet, or any other block that is not round about the tag's axis."""

from dataclasses import dataclass
from math import hypot

from geometries.materials import Material

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Magnet:
    """A block in the tag's axes, its edges along them.

    Parameters
    ----------
    name : str
        As the study file calls it.
    material : Material
        Its conductivity and recoil permeability; what it is magnetised to for good does not matter at the working
        frequency.
    size : (float, float, float)
        Edges along x, y and z [m]; z is the coil's axis, x lies in the plane of offset and tilt.
    place : (float, float, float)
        Centre [m], from the coil's centre.
    temperature : float
        At which its conductivity holds [°C].
    """

    name: str
    material: Material
    size: Triple
    place: Triple
    temperature: float = 20.0

    @property
    def conductivity(self) -> float:
        """[S/m]; 0 for an insulator."""
        return self.material.conductivity(self.temperature)

    @property
    def low(self) -> Triple:
        """Least x, y and z [m]."""
        x, y, z = (c - 0.5 * s for c, s in zip(self.place, self.size, strict=True))
        return x, y, z

    @property
    def high(self) -> Triple:
        """Greatest x, y and z [m]."""
        x, y, z = (c + 0.5 * s for c, s in zip(self.place, self.size, strict=True))
        return x, y, z

    @property
    def reach(self) -> float:
        """Distance of its farthest corner from the coil's centre [m]."""
        return hypot(*(max(abs(a), abs(b)) for a, b in zip(self.low, self.high, strict=True)))


def magnet_region(magnet: Magnet) -> str:
    """Name of a magnet's region in the mesh."""
    return f"magnet {magnet.name}"
