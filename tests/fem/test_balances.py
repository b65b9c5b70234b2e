"""Energy and loss by fields against flux linkage and input: identities of the code, for every term of the form."""

from functools import cache
from math import pi

import pytest

from fem.balances import linkage_by_energy
from fem.elements import Elements
from fem.model import joined, stack_model, tag_model
from fem.system import System
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, COARSE_CORNER, axis_plan
from geometries.stack import Layer, Stack
from tests.fem.cases import (
    ALUMINIUM,
    COIL,
    DRUM_TAG,
    FREQUENCY,
    NICKEL_CHROMIUM,
    lossy,
    plate_stack,
    ribbon_stack,
    sheet_stack,
)


def heater(kind: str) -> Stack:
    return Stack((Layer("heater", kind, NICKEL_CHROMIUM, -0.003, 2e-4, 0.06, 0.01, ribbon_width=2.5e-3, pitch=4e-3),))


CASES = {
    "air": Stack(),
    "plate": plate_stack(ALUMINIUM, -0.012, 1e-3, 0.05),
    "foil": sheet_stack(200.0, -0.003, 0.06),
    "ribbon": ribbon_stack(-0.003, 0.06, 2e-4),
    "rings": heater("rings"),
    "joined spiral": heater("shorted spiral"),
}


@cache
def by_flux_and_by_energy(name: str) -> tuple[complex, complex]:
    tag = lossy(DRUM_TAG)
    mesh = section_mesh(axis_plan(CASES[name], COIL, tag, 0.012, FREQUENCY, COARSE_CORNER))
    model = joined(stack_model(CASES[name], FREQUENCY), tag_model(tag, FREQUENCY))
    system = System(Elements(mesh, 2), model)
    potential = system.solve(system.winding_load(BASE_WINDING, COIL.area)[:, None])[:, 0]
    return system.flux_linkage(potential, BASE_WINDING, COIL.area), linkage_by_energy(system, potential)


@pytest.mark.parametrize("name", CASES)
def test_inductance_by_flux_linkage_is_that_by_energy(name):
    flux, energy = by_flux_and_by_energy(name)
    assert energy.real == pytest.approx(flux.real, rel=1e-9, abs=0.0)


@pytest.mark.parametrize("name", CASES)
def test_loss_by_fields_is_what_the_coil_takes_in(name):
    flux, energy = by_flux_and_by_energy(name)
    assert flux.imag < 0.0  # the lossy core at the least
    assert energy.imag == pytest.approx(flux.imag, rel=1e-9, abs=0.0)


def test_every_kind_of_surroundings_makes_a_difference():
    alone = by_flux_and_by_energy("air")[0]
    for name in CASES:
        if name != "air":
            assert abs(by_flux_and_by_energy(name)[0] - alone) > 1e-5 * abs(alone)
    assert 2.0 * pi * FREQUENCY * -by_flux_and_by_energy("foil")[0].imag > 1e-4
