"""Solid conductors with their skin depth resolved, magnetic ones too, against integrals over plane layers.

C. V. Dodd, W. E. Deeds, J. Appl. Phys. 39, 1968, 2829-2838: coils beside conducting half spaces and plates.
"""

from math import pi

import numpy as np
import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.closed_forms import winding_mutual_inductance, winding_self_inductance
from fem.plane_layers import layered_coil_impedance_change, layers_factors, reflected_mutual_inductance
from fem.tag_map import axis_mutual_inductance
from fem.tag_solution import tag_solution
from geometries.materials import Material
from geometries.section import WindingSection
from geometries.shapes import Well, block_outline, disc_outline
from geometries.stack import Solid, Stack
from tests.fem.cases import AIR_TAG, ALUMINIUM, COIL, FREQUENCY

STEEL = Material("a steel", resistivity_20=2e-7, relative_permeability=100.0, relative_permeability_loss=40.0)
FERROUS = Material("a lossy iron", resistivity_20=1e-6, relative_permeability=20.0, relative_permeability_loss=5.0)
SMALL_COIL = WindingSection(0.008, 0.010, -0.001, 0.001)


@pytest.mark.slow
@pytest.mark.parametrize("material", [ALUMINIUM, STEEL, FERROUS], ids=["aluminium", "steel", "iron"])
def test_thick_wide_disc_under_a_coil_is_a_half_space(material):
    # Small signal: μ = μ0 (μ' − jμ''), skin depth √(2/(ωμσ)) of 0.23 to 0.05 mm; the disc is 15 coil diameters wide.
    disc = Solid("disc", material, disc_outline(0.27, 0.03, -0.004))
    problem = BaseProblem(Stack((), (disc,)), SMALL_COIL, FREQUENCY, 1e-4, ())
    found = base_solution(problem).flux_linkage - winding_self_inductance(SMALL_COIL, 1.0)
    layers = [(material.conductivity(20.0), material.permeability, None)]
    impedance = layered_coil_impedance_change(SMALL_COIL.raised(0.004), 1.0, FREQUENCY, layers)
    expected = impedance / (2j * pi * FREQUENCY)
    assert found.real == pytest.approx(expected.real, rel=5e-3, abs=0.0)
    assert found.imag == pytest.approx(expected.imag, rel=5e-3, abs=0.0)


@pytest.mark.slow
@pytest.mark.parametrize(("bottom", "height"), [(-0.055, 0.025), (0.04, 0.025)], ids=["under the coil", "over the tag"])
def test_what_a_wide_aluminium_block_takes_from_the_coupling(bottom, height):
    """Share of M lost to a block 40 mm thick and five coil diameters across, against plane layers, within 1 %."""
    block = Solid("block", ALUMINIUM, block_outline(0.24, 0.04, bottom))
    moments = tag_solution(AIR_TAG, FREQUENCY, 1e-4).moments
    shares = []
    for stack in (Stack(), Stack((), (block,))):
        base = base_solution(BaseProblem(stack, COIL, FREQUENCY, 2e-4, (height,)))
        shares.append(axis_mutual_inductance(base.sources, moments, np.array([height]))[0])
    lost = 1.0 - shares[1] / shares[0]

    layers = [(ALUMINIUM.conductivity(20.0), 1.0, 0.04)]
    surface = bottom + 0.04 if bottom < 0.0 else bottom
    coil, tag = COIL.raised(-surface), AIR_TAG.section.raised(height - surface)
    change = reflected_mutual_inductance(coil, 1.0, tag, 1.0, lambda a: layers_factors(a, FREQUENCY, layers)[0])
    expected = -change / winding_mutual_inductance(coil, 1.0, tag, 1.0)
    assert 0.1 < expected.real < 0.9
    assert abs(lost / expected - 1.0) < 1e-2


@pytest.mark.slow
def test_chords_of_a_well_are_fine_enough():
    """M inside a well from chords against the same from half as many: what is left is far below the accuracy."""
    from geometries import shapes

    def inside(chords):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(shapes, "CHORDS", chords)
            outline = block_outline(0.08, 0.04, 0.0, Well(0.05, 0.036), 0.036)
        stack = Stack((), (Solid("block", ALUMINIUM, outline),))
        base = base_solution(BaseProblem(stack, COIL, FREQUENCY, 5e-4, (0.02,)))
        return axis_mutual_inductance(base.sources, tag_solution(AIR_TAG, FREQUENCY, 1e-3).moments, np.array([0.02]))[0]

    fine, coarse = inside(24), inside(12)
    assert abs(coarse / fine - 1.0) < 1e-3
