"""One candidate: a base coil in its stack, and the tag above it."""

from dataclasses import dataclass

from geometries.coil import BaseCoil
from geometries.stack import Stack
from geometries.tag import Tag


@dataclass(frozen=True, slots=True)
class Design:
    """Everything the fields depend on.

    Parameters
    ----------
    frequency : float
        [Hz].
    accuracy : float
        Wanted relative accuracy of L and M.
    stack : Stack
        What surrounds the base coil.
    base_coil : BaseCoil
        In its place.
    tag : Tag
        In its own axes.
    """

    frequency: float
    accuracy: float
    stack: Stack
    base_coil: BaseCoil
    tag: Tag
