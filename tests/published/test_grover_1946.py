"""F. W. Grover, 1946, on coaxial and on displaced circles.

Values from memory, before they were recomputed; the displaced pair as re-evaluated in later papers.
"""

from math import pi

import numpy as np

from fem.closed_forms import displaced_loops_mutual_inductance, loop_mutual_inductance
from fem.elements import Elements
from fem.model import Model
from fem.system import System
from geometries.meshing import section_mesh
from geometries.plan import BASE_WINDING, TAG_WINDING, MeshPlan, Region
from geometries.section import WindingSection
from tests.published.records import Means, Record, Source, Status

SOURCE = Source("Grover 1946", "F. W. Grover, *Inductance Calculations: Working Formulas and Tables*, 1946.", "book")
RECORD = Record(SOURCE, Status.MEMORY, Means.INTEGRAL, "half a unit of the last place printed")
COAXIAL = "M, coaxial circles of 20 and 25 cm radius, 10 cm apart [nH]"


def test_coaxial_circles() -> None:
    RECORD.compare(COAXIAL, 248.79, float(loop_mutual_inductance(0.20, 0.25, 0.10)) * 1e9, absolute=0.005)


def test_coaxial_circles_through_the_elements() -> None:
    record = RECORD.but(
        means=Means.ELEMENTS,
        why="half a unit of the last place, and 5e-5 of it for sections of 4 mm and the outer boundary",
    )
    half = 0.002
    first = WindingSection(0.20 - half, 0.20 + half, -half, half)
    second = WindingSection(0.25 - half, 0.25 + half, 0.10 - half, 0.10 + half)
    regions = tuple(Region(n, s.corners, half, half) for n, s in ((BASE_WINDING, first), (TAG_WINDING, second)))
    system = System(Elements(section_mesh(MeshPlan(regions, (), 0.05, 3.0)), 3), Model(2.0 * pi))
    potential = system.solve(system.winding_load(BASE_WINDING, first.area)[:, None])[:, 0]
    found = system.flux_linkage(potential, TAG_WINDING, second.area).real
    record.compare(COAXIAL[:-5] + ", elements [nH]", 248.79, found * 1e9, absolute=0.005 + 5e-5 * 248.79)


def test_displaced_circles() -> None:
    found = float(np.asarray(displaced_loops_mutual_inductance(0.15, 0.15, 0.16, 0.12, 0.0))) * 1e9
    RECORD.compare("M, circles of 15 cm radius, axes 12 cm and planes 16 cm apart [nH]", 45.3342, found, absolute=5e-5)
