"""L. D. Landau, E. M. Lifshitz, 1960, section 59: a conducting sphere.

From memory; exact: m = 4πR³ K1 H0, K1 = −½ [1 − 3/x² + (3/x) cot x], x = (1 − j) R/δ for phasors e^(+jωt). At low
frequency the mean loss is πσω²B²R⁵/15 (peak B). Polygons of 32 and 64 sides, and the value without sides from the two.
"""

from math import pi

import numpy as np
import pytest

from fem.elements import Elements
from fem.model import Body, Model
from fem.regular_fields import uniform_field
from fem.sources import induced_rings
from fem.system import System
from geometries.constants import skin_depth
from geometries.meshing import section_mesh
from geometries.plan import TAG_CORE
from tests.fem.discs import interpolated, sphere_plan
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Landau & Lifshitz 1960",
    "L. D. Landau, E. M. Lifshitz, *Electrodynamics of Continuous Media*, 1960, section 59.",
    "book",
)
RECORD = Record(
    SOURCE,
    Status.FORMULA,
    Means.ELEMENTS,
    "polygons of 32 and 64 sides made round by their h² law: the next term, h⁴, is 5e-5",
)
RADIUS, FREQUENCY, MU0 = 0.004, 1e4, 4e-7 * pi


def induced_moment(conductivity: float, sides: int) -> complex:
    """Moment of the eddy currents in a field of 1 T [A m²]."""
    size = min(RADIUS * pi / sides, 0.5 * skin_depth(FREQUENCY, conductivity))
    mesh = section_mesh(sphere_plan(RADIUS, sides, size))
    system = System(Elements(mesh, 3), Model(2.0 * pi * FREQUENCY, {TAG_CORE: Body(1.0, conductivity)}))
    answer = system.solve(system.reaction_load(uniform_field)[:, None])[:, 0]
    given = interpolated(system.elements, lambda r, z: 0.5 * r + 0.0 * z)  # A = r/2 lies in the space
    return induced_rings(system, answer + given)[0].moment


@pytest.mark.parametrize("conductivity", [pytest.param(1e5, marks=pytest.mark.slow), 5e6, 3.5e7])
def test_moment_of_a_conducting_sphere(conductivity: float) -> None:
    # R/δ = 0.25, 1.8 and 4.7.
    found = (4.0 * induced_moment(conductivity, 64) - induced_moment(conductivity, 32)) / 3.0
    x = (1.0 - 1.0j) * RADIUS / skin_depth(FREQUENCY, conductivity)
    expected = complex(-2.0 * pi * RADIUS**3 * (1.0 - 3.0 / x**2 + 3.0 / x / np.tan(x)) / MU0)
    quantity = f"moment in 1 T, R/δ = {RADIUS / skin_depth(FREQUENCY, conductivity):.2f} [A m²]"
    RECORD.compare(f"real {quantity}", expected.real, found.real, relative=5e-5)
    RECORD.compare(f"imaginary {quantity}", expected.imag, found.imag, relative=5e-5)


def test_loss_at_low_frequency() -> None:
    conductivity, omega = 1e3, 2.0 * pi * FREQUENCY
    found = (4.0 * induced_moment(conductivity, 64) - induced_moment(conductivity, 32)) / 3.0
    loss = -0.5 * omega * found.imag  # ½ Re(−jω m* · B) with B = 1 T
    expected = pi * conductivity * omega**2 * RADIUS**5 / 15.0
    RECORD.compare("loss in 1 T at R/δ = 0.025, πσω²B²R⁵/15 [W]", expected, loss, relative=5e-5)
