"""E. B. Rosa, F. W. Grover, 1912. Values from memory, before they were recomputed, in "cm of inductance" (nH)."""

from math import exp, log, pi

import pytest

from fem.base_solution import BaseProblem, base_solution
from fem.closed_forms import loop_mutual_inductance, winding_self_inductance
from geometries.section import WindingSection
from geometries.stack import Stack
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Rosa & Grover 1912",
    'E. B. Rosa, F. W. Grover, "Formulas and tables for the calculation of mutual and self-inductance", Bull. '
    "NBS 8, 1912.",
    "paper",
    family="Rosa",
)
RECORD = Record(SOURCE, Status.MEMORY, Means.INTEGRAL, "half a unit of the last place printed")
RADIUS, WIRE_RADIUS = 0.25, 0.0005


def test_circles_of_25_cm_10_cm_apart() -> None:
    nanohenries = float(loop_mutual_inductance(0.25, 0.25, 0.10)) * 1e9 / pi
    # The series is a hand computation of its time; the exact value is 1.2 units of its last place less.
    series = RECORD.but(why="one and a half units of the last place of a series summed by hand")
    series.compare("M, circles of 25 cm radius, 10 cm apart, by series [π nH]", 107.4885, nanohenries, absolute=1.5e-4)
    RECORD.compare("M, the same by elliptic integrals [π nH]", 107.48838, nanohenries, absolute=5e-6)


def square_wire() -> WindingSection:
    """A square with the geometric mean distance of the round wire."""
    side = WIRE_RADIUS * exp(-0.25) / exp(log(2.0) / 3.0 + pi / 3.0 - 25.0 / 12.0)
    half = 0.5 * side
    return WindingSection(RADIUS - half, RADIUS + half, -half, half)


RING = "L of a ring of 25 cm radius, wire of 0.05 cm radius (Kirchhoff)"
LEFT_OUT = RECORD.but(why="Kirchhoff leaves out terms in (ρ/a)², 4e-6; so does the square wire of one mean distance")


def test_ring_of_round_wire() -> None:
    found = winding_self_inductance(square_wire(), 1) * 1e9 / pi
    LEFT_OUT.compare(f"{RING} [π nH]", 654.40496, found, relative=4e-6)


@pytest.mark.slow
def test_ring_of_round_wire_through_the_elements() -> None:
    record = LEFT_OUT.but(means=Means.ELEMENTS, why="2e-5 asked of the elements, and (ρ/a)², 4e-6")
    found = base_solution(BaseProblem(Stack(), square_wire(), 134.2e3, 2e-5, ())).flux_linkage.real * 1e9 / pi
    record.compare(f"{RING} [π nH], elements", 654.40496, found, relative=2.4e-5)
