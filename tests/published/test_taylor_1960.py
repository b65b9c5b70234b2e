"""T. T. Taylor, 1960: polarisability of a conducting cylinder in a static electric field.

That is a core of endless permeability in a magnetic one: axial polarisability over volume 3.8614 for a cylinder as
long as wide (from memory, before it was recomputed).
"""

from math import pi

import pytest

from fem.tag_solution import tag_solution
from geometries.materials import Material
from geometries.section import WindingSection
from geometries.tag import RodCore, Tag
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Taylor 1960",
    'T. T. Taylor, "Electric polarizability of a short right circular conducting cylinder", J. Res. NBS 64B, '
    "1960, 135.",
    "paper",
)
RECORD = Record(SOURCE, Status.MEMORY, Means.ELEMENTS, "half a unit of the last place printed")


@pytest.mark.slow
def test_axial_polarisability_of_a_cylinder_as_long_as_wide() -> None:
    core = RodCore(Material("endless permeability", relative_permeability=1e7), 0.004, 0.004)
    tag = Tag(WindingSection(0.0025, 0.0030, -0.0005, 0.0005), 1, core)
    found = tag_solution(tag, 134.2e3, 1e-5).polarisability.real
    RECORD.compare("axial polarisability/volume [1]", 3.8614, found / (0.25 * pi * 0.004**3), absolute=5e-5)
