"""E. B. Rosa, F. W. Grover, "Formulas and tables for the calculation of mutual and self-inductance", Bull. NBS 8, 1912.

Values from memory, before they were recomputed, in "cm of inductance" (nH).
"""

from math import exp, log, pi

import pytest

from fem.closed_forms import loop_mutual_inductance, winding_self_inductance
from geometries.section import WindingSection


def test_circles_of_25_cm_10_cm_apart() -> None:
    # Printed 107.4885 π from a hand-computed series; the exact value, 107.48838 π, is 1.2 units of the last place less.
    nanohenries = loop_mutual_inductance(0.25, 0.25, 0.10) * 1e9 / pi
    assert nanohenries == pytest.approx(107.4885, abs=1.5e-4)
    assert nanohenries == pytest.approx(107.48838, abs=5e-6)


def test_ring_of_round_wire_by_kirchhoff_s_formula() -> None:
    # a = 25 cm, wire radius 0.05 cm: 654.40496 π = 4πa (ln(8a/ρ) − 7/4). A square wire with the same geometric mean
    # distance has the same inductance but for terms of the order of (ρ/a)² = 4e-6, which Kirchhoff leaves out.
    radius, wire_radius = 0.25, 0.0005
    side = wire_radius * exp(-0.25) / exp(log(2.0) / 3.0 + pi / 3.0 - 25.0 / 12.0)
    half = 0.5 * side
    square = winding_self_inductance(WindingSection(radius - half, radius + half, -half, half), 1)
    assert square * 1e9 / pi == pytest.approx(654.40496, rel=4e-6, abs=0.0)
