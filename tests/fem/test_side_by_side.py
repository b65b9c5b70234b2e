"""Neighbours in air: against dipoles far away, filaments by Neumann's integral, and both windings by it."""

from math import pi

import pytest

from fem.closed_forms_loops import displaced_loops_mutual_inductance
from fem.closed_forms_windings import displaced_windings_mutual_inductance
from fem.side_by_side import side_by_side_mutual_inductance
from geometries.constants import MAGNETIC_CONSTANT
from geometries.section import WindingSection

SQUARE = WindingSection(20e-3, 23e-3, -8e-3, -5e-3)
FLAT = WindingSection(10e-3, 34e-3, -8e-3, -7e-3)
TALL = WindingSection(20e-3, 23e-3, -38e-3, -5e-3)


@pytest.mark.parametrize("section", [SQUARE, FLAT, TALL])
@pytest.mark.parametrize(("spacing", "level"), [(0.1, 0.0), (0.1, 30e-3), (0.2, -0.1), (1.0, 0.0)])
def test_against_the_filaments_of_both(section: WindingSection, spacing: float, level: float) -> None:
    expected = float(displaced_windings_mutual_inductance(section, 1.0, section, 1.0, level, spacing, 0.0, 1e-6))
    found = side_by_side_mutual_inductance(section, spacing, level)
    assert found == pytest.approx(expected, rel=2e-4, abs=0.0)


def test_far_apart_they_are_dipoles() -> None:
    """M = μ0 m² (3 cos²θ − 1)/(4π d³), m the area of a turn: textbook form, from memory."""
    area = pi * (23e-3**3 - 20e-3**3) / (3.0 * 3e-3)
    for spacing, level in ((5.0, 0.0), (4.0, 3.0), (2.0, -9.0)):
        distance = (spacing**2 + level**2) ** 0.5
        expected = MAGNETIC_CONSTANT * area**2 * (3.0 * (level / distance) ** 2 - 1.0) / (4.0 * pi * distance**3)
        assert side_by_side_mutual_inductance(SQUARE, spacing, level) == pytest.approx(expected, rel=1e-3, abs=0.0)


def test_nearly_touching_it_is_that_of_thin_rings() -> None:
    """A winding so slim that a filament stands for it, a millimetre from the next."""
    slim = WindingSection(29.99e-3, 30.01e-3, -0.01e-3, 0.01e-3)
    expected = float(displaced_loops_mutual_inductance(30e-3, 30e-3, 0.0, 61e-3, 0.0))
    assert side_by_side_mutual_inductance(slim, 61e-3, 0.0) == pytest.approx(expected, rel=3e-4, abs=0.0)
