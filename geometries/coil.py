"""The base coil: a winding section, its turns and its wire."""

from dataclasses import dataclass

from geometries.section import WindingSection
from geometries.wire import Wire


@dataclass(frozen=True, slots=True)
class BaseCoil:
    """A stranded base coil in its place under the plate.

    Parameters
    ----------
    section : WindingSection
        Where the turns lie; height 0 is the top surface of the plate.
    turns : int
        Number of turns.
    wire : Wire
        What it is wound with.
    """

    section: WindingSection
    turns: int
    wire: Wire
