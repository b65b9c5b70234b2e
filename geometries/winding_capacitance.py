"""Self-capacitance of a multilayer winding: an estimate, no more."""

from math import floor

from geometries.section import WindingSection
from geometries.wire import Wire

ELECTRIC_CONSTANT = 8.8541878128e-12
"""ε0 [F/m] (CODATA 2018)."""

COVERING_PERMITTIVITY = 3.5
"""Relative permittivity of a resin covering (common practice, no source)."""


def winding_capacitance(section: WindingSection, wire: Wire) -> float:
    """Capacitance across the ends of a winding laid in even layers [F].

    Notes
    -----
    Two neighbouring layers form a cylinder capacitor C_l whose voltage rises evenly from 0 to 2V/n along its length;
    the energy of n − 1 of them is that of C = 4 C_l (n − 1)/(3 n²) at V. Random winding can come out at half of it,
    potting at twice. The wires touch along lines, so the mean gap is the overall diameter less π/4 of the bare one.
    """
    layers = max(1, floor(section.radial_build / wire.overall_diameter))
    gap = wire.overall_diameter - 0.25 * 3.141592653589793 * wire.diameter
    between = ELECTRIC_CONSTANT * COVERING_PERMITTIVITY * section.mean_turn_length * section.winding_length / gap
    if layers == 1:
        return between / 3.0 * wire.overall_diameter / section.winding_length
    return 4.0 * between * (layers - 1) / (3.0 * layers**2)
