"""Resistance of a stranded winding of round wire, part by part (DESIGN 4.4)."""

from dataclasses import dataclass

import numpy as np

from fem.graded_rules import FloatArray, gauss_rule
from fem.wire_losses import (
    direct_current_resistance,
    local_field_factor,
    proximity_loss_per_length,
    skin_effect_ratio,
)
from geometries.section import WindingSection
from geometries.wire import Wire


@dataclass(frozen=True, slots=True)
class WindingResistance:
    """Parts of a winding's own resistance [Ω], and its wire's length [m] and mass [kg; None where unknown]."""

    direct_current: float
    skin: float
    proximity: float
    wire_length: float
    conductor_mass: float | None

    @property
    def total(self) -> float:
        """All parts together [Ω]."""
        return self.direct_current + self.skin + self.proximity


def winding_resistance(
    section: WindingSection, turns: float, wire: Wire, frequency: float, field_square_length: float
) -> WindingResistance:
    """Resistance at ``frequency`` [Hz] of ``turns`` of ``wire`` spread evenly over ``section``.

    Parameters
    ----------
    field_square_length : float
        ∫ |H|² 2πr dS / section area for one ampere-turn, peak [A²/m per A²], with the surroundings and the core.

    Notes
    -----
    Skin and proximity effect add, since in a round wire they are orthogonal; proximity R = 2P/|I|² with P from the
    field of the evenly spread current, less what a turn's own current spread over its cell makes there, times the
    factor by which the wires' induced moments weaken it. Within 1 % of wires solved one by one at diameters up to 1.5
    skin depths, within 3 % up to 2 (docs/ac-resistance.md).

    References
    ----------
    S. Butterworth, "Effective resistance of inductance coils at radio frequency", Wireless Engineer 3, 1926.
    """
    length = turns * section.mean_turn_length
    steady = direct_current_resistance(length, wire.diameter, wire.conductivity)
    skin = steady * (float(skin_effect_ratio(wire.diameter, frequency, wire.conductivity)) - 1.0)
    field = max(field_square_length - own_cell_square_length(section, turns), 0.0)
    unit_loss = float(proximity_loss_per_length(wire.diameter, frequency, wire.conductivity, 1.0))
    fill = turns * wire.area / section.area
    factor = float(local_field_factor(wire.diameter, frequency, wire.conductivity, fill))
    proximity = 2.0 * unit_loss * turns**3 * field * factor
    density = wire.conductor.density
    mass = None if density is None else length * wire.area * density
    return WindingResistance(steady, skin, proximity, length, mass)


def own_cell_square_length(section: WindingSection, turns: float) -> float:
    """What of ∫ |H|² 2πr dS / area is the spread current's variation over a turn's cell [A²/m per A²].

    A round wire at the middle of its cell sees the field there; the mean of |H|² over the cell is more by
    (p_r² |∂H/∂r|² + p_z² |∂H/∂z|²)/12, p the cell's sides. The slopes are those of a straight bar of evenly spread
    current with the winding's section (angles under which its sides are seen); the turns lie in whole layers, their
    cells as near to square as that allows.
    """
    pitch = (section.area / turns) ** 0.5
    layers = max(round(section.radial_build / pitch), 1)
    radial_pitch = section.radial_build / layers
    axial_pitch = section.winding_length / max(turns / layers, 1.0)
    across, along = _slope_squares(section.radial_build, section.winding_length)
    variation = (radial_pitch**2 * across + axial_pitch**2 * along) / 12.0
    return float(section.mean_turn_length * variation / section.area**2)


def _slope_squares(width: float, length: float, points: int = 12) -> tuple[float, float]:
    """Means of |∂H/∂x|² and |∂H/∂y|² over a bar of current density 1 A/m² with these sides [A²/m⁴]."""
    nodes, weights = gauss_rule(points)
    x, y = np.meshgrid(0.5 * width * nodes, 0.5 * length * nodes)  # one quarter, the rest mirrors it
    right, left, upper, lower = 0.5 * width - x, 0.5 * width + x, 0.5 * length - y, 0.5 * length + y
    sides = _angle(upper, right) + _angle(lower, right) + _angle(upper, left) + _angle(lower, left)
    shear = np.log((right**2 + upper**2) * (left**2 + lower**2) / (left**2 + upper**2) / (right**2 + lower**2))
    across, along, stretch = sides / (2.0 * np.pi), 1.0 - sides / (2.0 * np.pi), shear / (4.0 * np.pi)
    mean = np.outer(weights, weights)
    return float((mean * (across**2 + stretch**2)).sum()), float((mean * (along**2 + stretch**2)).sum())


def _angle(opposite: FloatArray, adjacent: FloatArray) -> FloatArray:
    angle: FloatArray = np.arctan2(opposite, adjacent)
    return angle
