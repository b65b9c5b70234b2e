"""A magnet of the tag or of the drive, or any other block fixed to the tag; none is round about the tag's axis."""

from dataclasses import dataclass
from math import hypot
from typing import Literal

from geometries.materials import Material

Triple = tuple[float, float, float]
MagnetShape = Literal["block", "cylinder"]
Carrier = Literal["tag", "drive"]
ALONG_Z: Triple = (0.0, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Magnet:
    """A block with its edges along the axes, or a cylinder with its axis along z.

    The axes are the tag's for what is fixed to the tag; for a magnet of the drive they are those of the stack: z is the
    base coil's axis and 0 at the plate's top surface.

    Parameters
    ----------
    name : str
        As the study file calls it.
    material : Material
        Its conductivity and recoil permeability.
    size : (float, float, float)
        Edges along x, y and z [m]; of a cylinder its diameter twice, then its height. Of what is fixed to the tag, z is
        the coil's axis and x lies in the plane of offset and tilt.
    place : (float, float, float)
        Centre [m], from the origin of its axes.
    temperature : float
        At which its conductivity holds [°C].
    remanence : float
        Flux density that it is magnetised to for good, uniform [T]; it plays no part at the working frequency.
    direction : (float, float, float)
        Unit vector from its south pole to its north pole [1]; along z in a cylinder.
    shape : {"block", "cylinder"}
    fixed_to : {"tag", "drive"}
        What it moves with.
    """

    name: str
    material: Material
    size: Triple
    place: Triple
    temperature: float = 20.0
    remanence: float = 0.0
    direction: Triple = ALONG_Z
    shape: MagnetShape = "block"
    fixed_to: Carrier = "tag"

    @property
    def acts(self) -> bool:
        """Whether an alternating field meets anything in it: eddy currents or another permeability than air's."""
        return self.material.magnetic or self.conductivity > 0.0

    @property
    def polarisation(self) -> Triple:
        """Magnetic polarisation J, the remanence with its direction [T]."""
        x, y, z = (self.remanence * share for share in self.direction)
        return x, y, z

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
