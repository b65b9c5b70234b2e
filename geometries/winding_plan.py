"""How a winding comes out layer by layer, and what its wire is called in a shop."""

from dataclasses import dataclass
from math import ceil, log10, sqrt

from geometries.gauges import gauge_diameter, gauge_names
from geometries.laying import turns_a_layer
from geometries.packing import ROUNDING
from geometries.section import WindingSection

NESTING = 0.5 * sqrt(3.0)
"""Distance between layers over the wire's diameter where each lies in the grooves of the one below."""

R20 = (1.00, 1.12, 1.25, 1.40, 1.60, 1.80, 2.00, 2.24, 2.50, 2.80, 3.15, 3.55, 4.00, 4.50, 5.00, 5.60, 6.30, 7.10,
       8.00, 9.00)  # fmt: skip
"""Preferred numbers of ISO 3, series R20 (from memory)."""


@dataclass(frozen=True, slots=True)
class WindingPlan:
    """Turns in layers along the axis, each full before the next begins.

    Parameters
    ----------
    layer_turns : int
        Of a full layer.
    layers : int
        The last one included.
    last_layer_turns : int
        Of the last layer, at most ``layer_turns``.
    straight_build, nested_build : float
        Radial room that the layers take one upon the other, and in each other's grooves [m].
    """

    layer_turns: int
    layers: int
    last_layer_turns: int
    straight_build: float
    nested_build: float


def winding_plan(section: WindingSection, turns: int, overall_diameter: float) -> WindingPlan:
    """The layers of a winding.

    Parameters
    ----------
    section : WindingSection
        Where the turns lie.
    turns : int
        At least 1.
    overall_diameter : float
        Diameter over the covering [m].

    Raises
    ------
    GeometryError
        For a wire without thickness.
    """
    full = min(turns, turns_a_layer(section, overall_diameter))
    layers = ceil(turns / full)
    last = turns - (layers - 1) * full
    nested = overall_diameter * (1.0 + NESTING * (layers - 1))
    return WindingPlan(full, layers, last, layers * overall_diameter, nested)


def fits_build(plan: WindingPlan, section: WindingSection) -> str:
    """How the layers fit a section's radial build: "straight", "nested" or, where neither does, "no"."""
    room = section.radial_build * (1.0 + ROUNDING)
    if plan.straight_build <= room:
        return "straight"
    return "nested" if plan.nested_build <= room else "no"


def nearest_gauge(diameter: float) -> tuple[str, float]:
    """American gauge nearest to a bare ``diameter`` [m], and its diameter [m]; nearest by ratio.

    References
    ----------
    ASTM B258, see `geometries.gauges`.
    """
    named = [(name, gauge_diameter(name)) for name in gauge_names()]
    return min(named, key=lambda one: abs(log10(one[1] / diameter)))


def nearest_metric_size(diameter: float) -> float:
    """Metric wire size nearest to a bare ``diameter`` [m], by ratio [m].

    Notes
    -----
    IEC 60317-0-1 prefers nominal conductor diameters of the R20 series of ISO 3 (both from memory); its intermediate
    ones of R40 are not proposed.
    """
    decades = range(-6, -1)
    sizes = [float(f"{number:.2f}e{decade}") for decade in decades for number in R20]
    return min(sizes, key=lambda size: abs(log10(size / diameter)))
