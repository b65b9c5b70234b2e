"""H. B. Brooks, "Design of standards of inductance ...", J. Res. NBS 7, 1931, 289: the coil of greatest inductance.

Square section of side c, mean radius 1.5 c: L = 1.6994e-6 a N² (a in m). Value from memory, before it was recomputed.
"""

import pytest

from fem.closed_forms import winding_self_inductance
from geometries.section import WindingSection


def test_inductance() -> None:
    side = 0.01
    coil = WindingSection(side, 2.0 * side, 0.0, side)
    assert winding_self_inductance(coil, 100) == pytest.approx(
        1.6994e-6 * 1.5 * side * 100**2, rel=0.00005 / 1.6994, abs=0.0
    )


def test_no_other_proportion_does_better_for_the_same_wire() -> None:
    def inductance(mean_radius: float, shape: float) -> float:
        # The same turns and area of section, and the same wire length, fix turns × radius: one turn area a turn.
        side = (1.0 / mean_radius) ** 0.5
        build, length = side * shape, side / shape
        coil = WindingSection(mean_radius - 0.5 * build, mean_radius + 0.5 * build, 0.0, length)
        return winding_self_inductance(coil, 1.0 / mean_radius)

    # The wire's volume, 2πa × section, is 2π throughout; Brooks: a = 1.5 c with c² = 1/a.
    best = 1.5 ** (2.0 / 3.0)
    there = inductance(best, 1.0)
    # The optimum is flat (Brooks calls 1.5 a round value near it), so the neighbours stand well apart.
    assert all(inductance(best * factor, 1.0) < there for factor in (0.85, 1.2))
    assert all(inductance(best, shape) < there for shape in (0.8, 1.25))
