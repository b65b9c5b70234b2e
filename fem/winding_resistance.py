"""Resistance of a stranded winding of round wire, part by part (DESIGN 4.4)."""

from dataclasses import dataclass

from fem.wire_losses import (
    direct_current_resistance,
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
    field of the evenly spread current. Good while wires do not react on each other: see ``wire_losses.proximity_note``.

    References
    ----------
    S. Butterworth, "Effective resistance of inductance coils at radio frequency", Wireless Engineer 3, 1926.
    """
    length = turns * section.mean_turn_length
    steady = direct_current_resistance(length, wire.diameter, wire.conductivity)
    skin = steady * (float(skin_effect_ratio(wire.diameter, frequency, wire.conductivity)) - 1.0)
    unit_loss = float(proximity_loss_per_length(wire.diameter, frequency, wire.conductivity, 1.0))
    proximity = 2.0 * unit_loss * turns**3 * field_square_length
    density = wire.conductor.density
    mass = None if density is None else length * wire.area * density
    return WindingResistance(steady, skin, proximity, length, mass)
