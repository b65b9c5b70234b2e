"""D.-X. Chen, J. A. Brug, R. B. Goldfarb, 1991: demagnetising factors of a cylinder as its susceptibility goes to zero.

Their table gives four digits, at length/diameter 1 N_m 0.3116 and N_f 0.2322 (from memory, before they were
recomputed).
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
from geometries.plan import TAG_CORE, MeshPlan, Region
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Chen, Brug & Goldfarb 1991",
    'D.-X. Chen, J. A. Brug, R. B. Goldfarb, "Demagnetizing factors for cylinders", IEEE Trans. Magn. 27, 1991, '
    "3601: at "
    "susceptibility 0, where the factors are exact by inductance formulas (R. I. Joseph 1966 for N_f); N_m = 1 "
    "− K(D/L) "
    "with Nagaoka's coefficient K.",
    "paper",
)
RECORD = Record(
    SOURCE, Status.MEMORY, Means.ELEMENTS, "half a unit of the last place, and 5e-5 for the elements at the sharp rim"
)
NAGAOKA = RECORD.but(
    status=Status.FORMULA, why="1e-4 for the susceptibility of 1e-3, 1e-4 for the elements at the sharp rim"
)
RADIUS, CHI = 0.002, 1e-3


def factors(slenderness: float) -> tuple[float, float]:
    """N_m and N_f of a rod of susceptibility CHI in a uniform field, from its moment and its mid-plane flux."""
    half = slenderness * RADIUS
    outline = ((0.0, -half), (RADIUS, -half), (RADIUS, 0.0), (RADIUS, half), (0.0, half))
    size = min(RADIUS, half)
    plan = MeshPlan((Region(TAG_CORE, outline, size / 6.0, size / 60.0),), (), 0.0, 6.0 * max(RADIUS, half))
    system = System(Elements(section_mesh(plan), 3), Model(1.0, {TAG_CORE: Body(1.0 / (1.0 + CHI))}))
    answer = system.solve(system.reaction_load(uniform_field)[:, None])[:, 0]
    volume = 2.0 * pi * RADIUS**2 * half
    magnetometric = (CHI * volume / polarisability(system, answer).real - 1.0) / CHI
    # Mid-plane: 2πR A(R, 0) is the flux of µ0 (M + H_d) = µ0 (1 − N) M through the rod, M = χ H0/(1 + χN).
    points = system.elements.mesh.points
    corner = int(np.argmin(np.hypot(points[0] - RADIUS, points[1])))
    added = 2.0 * answer[corner].real / RADIUS
    return magnetometric, (1.0 - added / CHI) / (1.0 + added)


def test_cylinder_as_long_as_wide() -> None:
    magnetometric, fluxmetric = factors(1.0)
    RECORD.compare("N_m at length/diameter 1 [1]", 0.3116, magnetometric, absolute=1e-4)
    RECORD.compare("N_f at length/diameter 1 [1]", 0.2322, fluxmetric, absolute=1e-4)


@pytest.mark.parametrize(("slenderness", "nagaoka"), [(0.5, 0.525510), (2.0, 0.818136), (4.0, 0.901649)])
def test_rods_of_weak_susceptibility(slenderness: float, nagaoka: float) -> None:
    quantity = f"N_m = 1 − K at length/diameter {slenderness:g} [1]"
    NAGAOKA.compare(quantity, 1.0 - nagaoka, factors(slenderness)[0], absolute=2e-4)
