"""J. D. Jackson, 1975, section 5.11: a permeable sphere in a uniform field.

From memory; the formulas are exact: B inside = 3μ/(μ + 2) B0, moment 4πR³ (μ − 1)/(μ + 2) H0. The solver knows polygons
only; 32 and 64 sides are 2.4e-3 and 6e-4 short of the sphere (their volume is short by as much), with the square of the
side, and the value without sides follows from the two.
"""

from math import pi

import numpy as np
import pytest

from fem.elements import Elements
from fem.model import Body, Model
from fem.regular_fields import uniform_field
from fem.system import System
from fem.tag_solution import polarisability
from geometries.meshing import section_mesh
from geometries.plan import TAG_CORE
from tests.fem.discs import sphere_plan
from tests.published.records import Means, Record, Source, Status

SOURCE = Source("Jackson 1975", "J. D. Jackson, *Classical Electrodynamics*, 2nd edition 1975, section 5.11.", "book")
RECORD = Record(
    SOURCE,
    Status.FORMULA,
    Means.ELEMENTS,
    "polygons of 32 and 64 sides made round by their h² law: the next term, h⁴, is 5e-5",
)
RADIUS = 0.004


def solved(relative_permeability: float, sides: int) -> tuple[complex, np.ndarray]:
    """Polarisability [m³] and B_z/B0 well inside the sphere."""
    mesh = section_mesh(sphere_plan(RADIUS, sides, RADIUS * pi / sides))
    system = System(Elements(mesh, 3), Model(1.0, {TAG_CORE: Body(1.0 / relative_permeability)}))
    answer = system.solve(system.reaction_load(uniform_field)[:, None])[:, 0]
    elements, members = system.elements, mesh.regions[TAG_CORE]
    axial = 1.0 + np.einsum("bep,be->ep", elements.curls[1][:, members], answer[elements.dofs[:, members]]).real
    within = np.hypot(*elements.positions[:, members]) < 0.5 * RADIUS
    return polarisability(system, answer), axial[within]


@pytest.mark.parametrize("mu", [pytest.param(2.0, marks=pytest.mark.slow), 10.0, 900.0])
def test_sphere_in_a_uniform_field(mu: float) -> None:
    coarse, fine = solved(mu, 32), solved(mu, 64)
    expected = 3.0 * (mu - 1.0) / (mu + 2.0)
    volume = 4.0 / 3.0 * pi * RADIUS**3
    # The sides' own part, so that the value without sides is no accident.
    assert coarse[0].real / volume == pytest.approx(expected, rel=3e-3, abs=0.0)
    without_sides = (4.0 * fine[0] - coarse[0]).real / 3.0
    RECORD.compare(f"moment/(volume · H0), µ = {mu:g} [1]", expected, without_sides / volume, relative=5e-5)
    inside = 3.0 * mu / (mu + 2.0)
    farthest = fine[1][np.argmax(np.abs(fine[1] - inside))]
    record = RECORD.but(
        why="in the inner half a polygon of 64 sides is felt by less than 2e-5; the farthest place counts"
    )
    record.compare(f"B inside/B0, µ = {mu:g} [1]", inside, float(farthest), relative=2e-5)
