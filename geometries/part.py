"""A tag known only by its data sheet."""

from dataclasses import dataclass

from geometries.materials import Material
from geometries.tag import ShieldCan


@dataclass(frozen=True, slots=True)
class TagPart:
    """A stock ferrite inductor as its data sheet gives it.

    Parameters
    ----------
    inductance : float
        [H].
    dc_resistance : float
        [Ω].
    diameter, height : float
        Outer size [m].
    material : Material
        What its core is taken to be made of.
    shield : ShieldCan or None
        A can round it; the data sheet's inductance is that without it.
    """

    inductance: float
    dc_resistance: float
    diameter: float
    height: float
    material: Material
    shield: ShieldCan | None = None
