"""How turns are laid, how far apart along the wire two wires that touch may be, and how sharply the wire is bent.

Layers run along the axis, each full before the next begins, as tight as the covering allows: a winding that is loose
has fewer turns a layer, and fewer turns between its neighbours, so that every count here is on the safe side.
"""

from math import floor
from typing import Literal

from geometries.errors import GeometryError
from geometries.packing import ROUNDING
from geometries.section import WindingSection
from geometries.wire import Wire

Laying = Literal["layers", "layers with return", "random"]
LAYINGS: tuple[Laying, ...] = ("layers", "layers with return", "random")
"""Back and forth; every layer begun on the same side, the wire led back between them; as it falls."""

BEND_RADIUS_RATIO = 5.0
"""Least inner radius of a bend over a wire's overall diameter, for a covering of resin (common practice, no source).

Coverings of glass or ceramic crack much earlier: their makers say where.
"""


def turns_a_layer(section: WindingSection, overall_diameter: float) -> int:
    """Most turns that lie side by side along a section's length; at least 1.

    Parameters
    ----------
    section : WindingSection
        Where they lie.
    overall_diameter : float
        Diameter over the covering [m].

    Returns
    -------
    int

    Raises
    ------
    GeometryError
        For a wire without thickness.
    """
    if not overall_diameter > 0.0:
        raise GeometryError("overall_diameter", f"a wire of {overall_diameter:g} m cannot be wound; it must be above 0")
    return max(1, floor(section.winding_length / overall_diameter * (1.0 + ROUNDING)))


def neighbour_turns(turns: int, layer_turns: int, laying: Laying) -> int:
    """Most turns of wire that lie between two points where its coverings touch.

    Parameters
    ----------
    turns : int
        Of the whole winding.
    layer_turns : int
        Of a full layer.
    laying : {"layers", "layers with return", "random"}
        How they are laid.

    Returns
    -------
    int
        At least 1, at most ``turns``.

    Raises
    ------
    GeometryError
        For no turns, or another laying.

    Notes
    -----
    With m turns a layer, N in all:

    - back and forth, the wires of two layers touch at the open end, 2m turns apart; while the second layer is not full
      yet, 2(N − m) + 1;
    - with a return, every wire lies m turns above the one below it, and one turn more where it has slid into the
      groove on the far side of that;
    - as it falls, the first turn and the last may touch: N. What share of it to reckon with instead is for whoever
      winds to say; none is taken here.

    Turns are counted along the wire, a part of a turn as part of it, so that these are one more than the differences
    of the numbers of the turns.
    """
    if turns < 1 or layer_turns < 1:
        raise GeometryError(
            "base_coil.turns", f"{turns} turns, {layer_turns} a layer, were given; both must be at least 1"
        )
    if laying not in LAYINGS:
        raise GeometryError("base_coil.laying", f'"{laying}" was given; one of {", ".join(LAYINGS)} is allowed')
    if laying == "random":
        return turns
    beyond_first = turns - layer_turns
    if beyond_first <= 0:
        return 1
    if laying == "layers with return":
        return min(layer_turns + 1, turns)
    return min(2 * layer_turns, 2 * beyond_first + 1, turns)


def least_bend_radius(wire: Wire) -> float:
    """Least inner radius that a wire may be bent to [m]: as given, else by `BEND_RADIUS_RATIO`."""
    given = wire.minimum_bend_radius
    return BEND_RADIUS_RATIO * wire.overall_diameter if given is None else given
