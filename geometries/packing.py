"""How many turns of a round wire fit a rectangular winding section.

Every count here is of wires over their covering. A real winding never reaches a perfect lattice: a layer loses
one wire's width where its helix ends, and crossings lift the wires above it. So a section is taken to hold no more
than 0.95 of what its area divided by the square round one wire would give, and no more than the best perfect lattice
could. Careful machine winding comes near that, a coil wound by hand needs about 0.8 (common practice, no source).
"""

from functools import lru_cache
from math import ceil, floor, pi, sqrt

from geometries.errors import GeometryError, PackingError
from geometries.section import WindingSection
from geometries.wire import Wire

LARGEST_SHARE = 0.95
"""Largest part of square packing that careful winding reaches (common practice, no source)."""

COMFORTABLE_SHARE = 0.80
"""Part of square packing that is reached without care (common practice, no source)."""

# Sizes typed in millimetres are not exact in binary: 3 mm over 0.3 mm must count as ten.
ROUNDING = 1e-9


def packing_share(section: WindingSection, turns: float, overall_diameter: float) -> float:
    """Part of a section that its turns take, each reckoned as a square round its covering.

    Parameters
    ----------
    section : WindingSection
        Where they lie.
    turns : float
        Number of turns.
    overall_diameter : float
        Diameter over the covering [m].

    Returns
    -------
    float
        N d² / area [1]; 1 is perfect square packing.
    """
    return turns * overall_diameter**2 / section.area


def fill_factor(section: WindingSection, turns: float, overall_diameter: float) -> float:
    """Part of a section's area that covered round wire takes [1]; π/4 is perfect square packing."""
    return 0.25 * pi * packing_share(section, turns, overall_diameter)


def largest_turns(section: WindingSection, overall_diameter: float) -> int:
    """Most turns that fit a section.

    Parameters
    ----------
    section : WindingSection
        Where they are to lie.
    overall_diameter : float
        Diameter over the covering [m].

    Returns
    -------
    int
        0 where the wire is thicker than the section, otherwise at least 1.

    Raises
    ------
    GeometryError
        For a wire without thickness.

    Notes
    -----
    Common practice, no source: 0.95 of square packing by area, within the best perfect square or staggered lattice
    (which binds where the section is only a few wires wide).
    """
    if overall_diameter <= 0.0:
        raise GeometryError("overall_diameter", f"a wire of {overall_diameter:g} m cannot be wound; it must be above 0")
    return _largest_count(section.radial_build / overall_diameter, section.winding_length / overall_diameter)


def check_turns(section: WindingSection, turns: float, wire: Wire, key: str = "base_coil.turns") -> None:
    """Refuse turns that do not fit their section.

    Parameters
    ----------
    section : WindingSection
        Where they are to lie.
    turns : float
        Number of turns.
    wire : Wire
        What they are wound with.
    key : str
        Key path of the study file that the error should name.

    Raises
    ------
    PackingError
        Saying how many would fit, and which section or wire would hold the turns asked for.
    """
    most = largest_turns(section, wire.overall_diameter)
    if turns <= most:
        return
    scale = _smallest_scale(section.radial_build, section.winding_length, turns, wire.overall_diameter)
    raise PackingError(
        key,
        f"{turns:g} turns of wire {_millimetres(wire.overall_diameter)} mm over its covering do not fit the section "
        f"of {_millimetres(section.radial_build)} × {_millimetres(section.winding_length)} mm; it holds {most}. "
        f"They need about {_enough(section.radial_build * scale)} × {_enough(section.winding_length * scale)} mm, "
        f"or wire of at most {_at_most(wire.overall_diameter / scale)} mm over its covering",
    )


def section_side_for_turns(turns: float, overall_diameter: float) -> float:
    """Side of a square section that comfortably holds its turns.

    Parameters
    ----------
    turns : float
        Number of turns.
    overall_diameter : float
        Diameter over the covering [m].

    Returns
    -------
    float
        [m]; 0.8 of square packing (common practice, no source), more where only a few wires lie side by side.

    Raises
    ------
    GeometryError
        For no turns or a wire without thickness.
    """
    if turns <= 0.0 or overall_diameter <= 0.0:
        raise GeometryError(
            "turns", f"{turns:g} turns of {overall_diameter:g} m wire cannot be wound; both must be above 0"
        )
    comfortable = overall_diameter * sqrt(turns / COMFORTABLE_SHARE)
    return max(
        comfortable, _smallest_scale(overall_diameter, overall_diameter, turns, overall_diameter) * overall_diameter
    )


def _largest_count(width: float, length: float) -> int:
    """Most wires in a rectangle whose sides are given in wire diameters."""
    width, length = width * (1.0 + ROUNDING), length * (1.0 + ROUNDING)
    if min(width, length) < 1.0:
        return 0
    lattice = max(floor(width) * floor(length), _staggered_count(width, length), _staggered_count(length, width))
    return max(1, min(floor(LARGEST_SHARE * width * length), lattice))


def _staggered_count(width: float, length: float) -> int:
    """Wires in a perfect staggered lattice whose layers lie one behind the other across ``width``."""
    layers = 1 + floor((width - 1.0) / (0.5 * sqrt(3.0)))
    full = floor(length)
    between = full if length - full >= 0.5 else full - 1
    return (layers + 1) // 2 * full + layers // 2 * between


@lru_cache(maxsize=1024)
def _smallest_scale(width: float, length: float, turns: float, overall_diameter: float) -> float:
    """How much larger (or smaller) a section of the same shape must be to hold its turns."""

    def fits(scale: float) -> bool:
        return _largest_count(width * scale / overall_diameter, length * scale / overall_diameter) >= turns

    low, high = 0.0, 1.0
    while not fits(high):
        low, high = high, 2.0 * high
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high


def _millimetres(length: float) -> str:
    return f"{length * 1e3:.4g}"


def _enough(length: float) -> str:
    """Millimetres rounded up to a hundredth, so that the advice holds."""
    return f"{ceil(length * 1e5) * 1e-2:.2f}"


def _at_most(length: float) -> str:
    """Millimetres rounded down to a thousandth, so that the advice holds."""
    return f"{floor(length * 1e6) * 1e-3:.3f}"
