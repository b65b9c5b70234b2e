"""C. V. Dodd, W. E. Deeds, 1968: a coil above conducting layers without end.

The coil above a half-space and a thin sheet as the paper states them, integrated here by an adaptive routine; exact
published formulas. No measured value of the paper is used. The elements see plates and foils of 120 mm radius.
"""

from collections.abc import Callable
from math import pi

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j1

from fem.base_solution import BaseProblem, base_solution
from fem.plane_layers import layered_coil_impedance_change, reflected_impedance, sheet_reflection
from geometries.materials import Material
from geometries.section import WindingSection
from geometries.stack import Stack
from tests.fem.cases import plate_stack, sheet_stack
from tests.published.records import Means, Record, Source, Status
from tests.reference.loop_integrals import averaged_self_inductance

SOURCE = Source(
    "Dodd & Deeds 1968",
    'C. V. Dodd, W. E. Deeds, "Analytical solutions to eddy-current probe-coil problems", J. Appl. Phys. 39, '
    "1968, 2829; "
    "also ORNL-TM-1987.",
    "paper",
)
RECORD = Record(
    SOURCE, Status.FORMULA, Means.TRANSCRIPTION, "the adaptive quadrature was asked for 1e-8 and cut off at 1e-7"
)
ELEMENTS = RECORD.but(
    means=Means.ELEMENTS, why="1e-4 asked of L, of which ΔZ is 2 to 35 %, and the layer's rim at five coil radii: 5e-3"
)
COIL = WindingSection(0.0205, 0.0235, 0.001, 0.004)
WIDE, FREQUENCY = 0.12, 134.2e3
MU0 = 4e-7 * pi


def impedance_change(frequency: float, reflection: Callable[[float], complex]) -> complex:
    """ΔZ of one turn [Ω] by the paper's integral."""
    x, weights = np.polynomial.legendre.leggauss(12)
    radii = COIL.mean_radius + 0.5 * COIL.radial_build * x

    def integrand(alpha: float) -> complex:
        # P(αr1, αr2)/α² = ∫ r J1(αr) dr over the build.
        moment = 0.5 * COIL.radial_build * np.sum(weights * radii * j1(alpha * radii))
        ends = (np.exp(-alpha * COIL.bottom) - np.exp(-alpha * COIL.top)) / alpha
        return complex(moment**2 * ends**2 * reflection(alpha))

    parts = [
        quad(lambda a, part=part: getattr(integrand(a), part), 0.0, 15e3, epsabs=0.0, epsrel=1e-8, limit=500)[0]
        for part in ("real", "imag")
    ]
    return 2j * pi * frequency * MU0 * pi / COIL.area**2 * complex(*parts)


def half_space(frequency: float, conductivity: float, permeability: float) -> Callable[[float], complex]:
    def reflection(alpha: float) -> complex:
        inner = np.sqrt(alpha**2 + 2j * pi * frequency * MU0 * permeability * conductivity)
        return complex((alpha * permeability - inner) / (alpha * permeability + inner))

    return reflection


def thin_sheet(frequency: float, conductance: float) -> Callable[[float], complex]:
    def reflection(alpha: float) -> complex:
        q = 1j * pi * frequency * MU0 * conductance / alpha
        return -q / (1.0 + q)

    return reflection


def compare(record: Record, quantity: str, published: complex, computed: complex, relative: float) -> None:
    record.compare(f"ΔR {quantity} [mΩ/turn²]", published.real * 1e3, computed.real * 1e3, relative=relative)
    record.compare(f"ωΔL {quantity} [mΩ/turn²]", published.imag * 1e3, computed.imag * 1e3, relative=relative)


@pytest.mark.parametrize(
    ("frequency", "conductivity", "permeability"), [(134.2e3, 3.5e7, 1.0), (134.2e3, 1.4e6, 1.0), (1e3, 6e6, 80.0)]
)
def test_coil_above_a_half_space(frequency: float, conductivity: float, permeability: float) -> None:
    expected = impedance_change(frequency, half_space(frequency, conductivity, permeability))
    found = layered_coil_impedance_change(COIL, 1, frequency, [(conductivity, permeability, None)])
    quantity = f"over a half-space of {conductivity:.2g} S/m, µ {permeability:g}, at {frequency / 1e3:g} kHz"
    compare(RECORD, quantity, expected, found, 1e-6)


def test_coil_above_a_sheet() -> None:
    expected = impedance_change(FREQUENCY, thin_sheet(FREQUENCY, 50.0))
    found = reflected_impedance(COIL, 1, FREQUENCY, lambda alpha: sheet_reflection(alpha, FREQUENCY, 50.0))
    compare(RECORD, "over a thin sheet of 50 S", expected, found, 1e-6)


def through_elements(stack: Stack) -> complex:
    linkage = base_solution(BaseProblem(stack, COIL, FREQUENCY, 1e-4, ())).flux_linkage
    return 2j * pi * FREQUENCY * (linkage - averaged_self_inductance(COIL))


@pytest.mark.slow
@pytest.mark.parametrize(("conductivity", "depths"), [(3.5e7, 12.0), (1.4e6, 10.0)])
def test_meshed_plate(conductivity: float, depths: float) -> None:
    # So many skin depths thick that its back does not matter (e^(−2·10)).
    depth = 1.0 / np.sqrt(pi * FREQUENCY * MU0 * conductivity)
    plate = plate_stack(Material("plate", resistivity_20=1.0 / conductivity), 0.0, depths * depth, WIDE)
    expected = impedance_change(FREQUENCY, half_space(FREQUENCY, conductivity, 1.0))
    compare(ELEMENTS, f"over a meshed plate of {conductivity:.2g} S/m", expected, through_elements(plate), 5e-3)


@pytest.mark.parametrize("conductance", [50.0, 1200.0])
def test_meshed_sheet(conductance: float) -> None:
    expected = impedance_change(FREQUENCY, thin_sheet(FREQUENCY, conductance))
    found = through_elements(sheet_stack(conductance, 0.0, WIDE))
    compare(ELEMENTS, f"over a foil of {conductance:g} S", expected, found, 5e-3)
