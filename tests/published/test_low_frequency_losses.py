"""Eddy-current loss of thin conductors at low frequency, in a uniform axial field of peak B: elementary, derived here.

Disc of radius a and height h: πσω²B²ha⁴/16. Long strip of width w and height h whose current cannot close round the
axis: σω²B²hw³/24 per length. Through the elements' own fields: a disc as a body, a foil as a thin layer, a strip as a
wide ring without net current, and ribbon as the layer that stands for it.
"""

from math import pi

import numpy as np
import pytest

from fem.elements import Elements
from fem.model import Body, Model, SheetTerms, sheet_terms
from fem.regular_fields import uniform_field
from fem.system import System
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import TAG_CORE, MeshPlan, Region, Sheet
from geometries.stack import Layer
from tests.fem.discs import interpolated
from tests.published.records import Means, Record, Source, Status
from tests.reference.resolved_conductors import MU0, Conductors, rectangle, resolved

SOURCE = Source("Low-frequency losses", "Disc and strip in a uniform axial field, by Faraday's law.", "none")
RECORD = Record(
    SOURCE,
    Status.DERIVED,
    Means.ELEMENTS,
    "the field that the currents themselves make: ωµ0σ × size × thickness, below 1e-4",
)
OMEGA, FREQUENCY, RADIUS = 2.0 * pi * 1e3, 1e3, 0.02


def loss(system: System) -> float:
    """Mean power [W] in a uniform field of 1 T: ½ ω Im of the answer's energy, by what the given field does on it."""
    given = interpolated(system.elements, lambda r, z: 0.5 * r + 0.0 * z)
    whole = system.solve(system.reaction_load(uniform_field)[:, None])[:, 0] + given
    lossy = System(system.elements, system.model).matrix - System(system.elements, Model(OMEGA)).matrix
    return float(0.5 * OMEGA * 2.0 * pi / MU0 * np.vdot(whole, lossy @ whole).imag)


def test_disc_as_a_body() -> None:
    height, conductivity = 1e-3, 1e3
    outline = rectangle(0.0, RADIUS, -0.5 * height, 0.5 * height)
    mesh = section_mesh(MeshPlan((Region(TAG_CORE, outline, height, height),), (), 0.0, 5.0 * RADIUS))
    found = loss(System(Elements(mesh, 3), Model(OMEGA, {TAG_CORE: Body(1.0, conductivity)})))
    expected = pi * conductivity * OMEGA**2 * height * RADIUS**4 / 16.0
    RECORD.compare("loss of a meshed disc in 1 T, πσω²B²ha⁴/16 [W]", expected, found, relative=1e-4)


def test_disc_as_a_foil() -> None:
    conductance = 1.0
    mesh = section_mesh(MeshPlan((), (Sheet("foil", 0.0, RADIUS, 0.0, 1e-3),), 0.0, 5.0 * RADIUS))
    found = loss(System(Elements(mesh, 3), Model(OMEGA, {}, {"foil": SheetTerms(conductance)})))
    expected = pi * conductance * OMEGA**2 * RADIUS**4 / 16.0
    RECORD.compare("loss of a foil disc in 1 T, πσtω²B²a⁴/16 [W]", expected, found, relative=1e-4)


def test_strip_as_a_ring_without_net_current() -> None:
    width, height, conductivity, radius = 1e-3, 0.2e-3, 1e4, 0.1
    outline = rectangle(radius - 0.5 * width, radius + 0.5 * width, -0.5 * height, 0.5 * height)
    given = Conductors((outline,), conductivity, FREQUENCY, height)
    found = resolved(given).open_loss(uniform_field) / (2.0 * pi * radius)
    expected = conductivity * OMEGA**2 * height * width**3 / 24.0
    RECORD.compare("loss of a meshed strip in 1 T, σω²B²hw³/24 [W/m]", expected, found, relative=1e-4)


@pytest.mark.parametrize("pitch", [1.5e-3, 4e-3])
def test_ribbon_as_a_layer(pitch: float) -> None:
    width, thickness = 1e-3, 5e-5
    ribbon = Material("ribbon", resistivity_20=1e-5)
    layer = Layer("heater", "meander", ribbon, 0.0, thickness, RADIUS, ribbon_width=width, pitch=pitch)
    mesh = section_mesh(MeshPlan((), (Sheet("heater", 0.0, RADIUS, 0.0, 1e-3),), 0.0, 5.0 * RADIUS))
    found = loss(System(Elements(mesh, 3), Model(OMEGA, {}, {"heater": sheet_terms(layer, FREQUENCY)})))
    expected = 1e5 * OMEGA**2 * thickness * width**3 / 24.0 * pi * RADIUS**2 / pitch
    quantity = f"loss of ribbon 1 mm wide at {pitch * 1e3:g} mm in 1 T, σω²B²tw³/24 per length [W]"
    RECORD.compare(quantity, expected, found, relative=1e-4)
