"""The self-capacitance estimate: its formula, and what it must do when the winding changes."""

from math import log, pi

import pytest

from geometries.materials import find_material
from geometries.section import WindingSection
from geometries.winding_capacitance import COVERING_PERMITTIVITY, ELECTRIC_CONSTANT, winding_capacitance
from geometries.wire import Wire

COPPER = find_material("copper")
COVERED = Wire(COPPER, diameter=0.25e-3, overall_diameter=0.30e-3)


def section(build: float, length: float = 3e-3, mean_radius: float = 22e-3) -> WindingSection:
    return WindingSection(mean_radius - 0.5 * build, mean_radius + 0.5 * build, 0.0, length)


@pytest.mark.parametrize("layers", [2, 3, 10])
def test_the_layers_hold_the_energy_of_their_rising_voltage(layers: int) -> None:
    """½CV² equals the energy of the fields between the layers, summed strip by strip.

    Independent of the closed form: turns run to and fro, so at a share x of the length the two layers beside a gap
    differ by 2xV/n (or 2(1 − x)V/n in the next gap).
    """
    winding = section(layers * 0.30e-3 + 1e-9)
    gap = 0.30e-3 - 0.25 * pi * 0.25e-3
    strips = 2000
    energy = 0.0
    for strip in range(strips):
        voltage = 2.0 * (strip + 0.5) / strips / layers
        capacitance = ELECTRIC_CONSTANT * COVERING_PERMITTIVITY * winding.mean_turn_length * 3e-3 / strips / gap
        energy += 0.5 * capacitance * voltage**2
    assert winding_capacitance(winding, COVERED) == pytest.approx(2.0 * energy * (layers - 1), rel=1e-6, abs=0.0)


def test_the_gap_stands_for_two_thin_cylinders() -> None:
    """The flat gap of the estimate against the cylinder capacitor 2πεl/ln(b/a) it stands for: 1 % at this radius."""
    winding = section(2 * 0.30e-3 + 1e-9)
    gap = 0.30e-3 - 0.25 * pi * 0.25e-3
    middle = winding.mean_radius
    cylinder = 2.0 * pi * ELECTRIC_CONSTANT * COVERING_PERMITTIVITY * 3e-3
    cylinder /= log((middle + 0.5 * gap) / (middle - 0.5 * gap))
    assert winding_capacitance(winding, COVERED) == pytest.approx(cylinder / 3.0, rel=1e-2, abs=0.0)


def test_thicker_covering_longer_winding_and_more_layers_act_the_right_way() -> None:
    usual = winding_capacitance(section(3e-3), COVERED)
    thick = Wire(COPPER, diameter=0.25e-3, overall_diameter=0.40e-3)
    assert winding_capacitance(section(3e-3), thick) < usual
    assert winding_capacitance(section(3e-3, length=6e-3), COVERED) == pytest.approx(2.0 * usual, rel=1e-12, abs=0.0)
    assert winding_capacitance(section(6e-3), COVERED) < usual


def test_a_single_layer_has_less_than_two() -> None:
    one, two = winding_capacitance(section(0.31e-3), COVERED), winding_capacitance(section(0.61e-3), COVERED)
    assert 0.0 < one < two
