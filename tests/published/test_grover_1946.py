"""F. W. Grover, *Inductance Calculations: Working Formulas and Tables*, 1946, on coaxial and on displaced circles.

Values from memory, before they were recomputed; the displaced pair as re-evaluated in later papers. Tolerances are half
a unit of the last place printed.
"""

import pytest

from fem.closed_forms import displaced_loops_mutual_inductance, loop_mutual_inductance


def test_coaxial_circles_of_20_and_25_cm_10_cm_apart() -> None:
    assert loop_mutual_inductance(0.20, 0.25, 0.10) * 1e9 == pytest.approx(248.79, abs=0.005)


def test_circles_of_15_cm_with_parallel_axes_12_cm_apart_and_planes_16_cm_apart() -> None:
    assert displaced_loops_mutual_inductance(0.15, 0.15, 0.16, 0.12, 0.0) * 1e9 == pytest.approx(45.3342, abs=5e-5)
