"""S. Butterworth, 1925; F. E. Terman, 1943: the function G(x), eddy-current loss of a round wire in a transverse field.

Values from memory, before they were recomputed. The elements see the wire as a wide ring without net current in an
axial field: the loss per length is (8π/σ) H² G(x).
"""

from math import pi, sqrt

import pytest

from fem.regular_fields import uniform_field
from fem.wire_losses import skin_depth, transverse_field_factor
from tests.published.records import Means, Record, Source, Status
from tests.reference.resolved_conductors import MU0, Conductors, resolved, round_wire

SOURCE = Source(
    "Butterworth 1925",
    'S. Butterworth, "On the alternating current resistance of solenoidal coils", Proc. Roy. Soc. A 107, 1925, 693; '
    "tabulated in F. E. Terman, *Radio Engineers' Handbook*, 1943.",
    "paper",
)
RECORD = Record(
    SOURCE,
    Status.MEMORY,
    Means.FORMULA,
    "one unit of the last place: some of the printed digits are cut off, not rounded",
)
TABLE = [(1.0, 0.01519, 1e-5), (3.0, 0.4049, 1e-4), (4.0, 0.584, 1e-3), (5.0, 0.755, 1e-3), (10.0, 1.641, 1e-3)]
FREQUENCY, CONDUCTIVITY = 134.2e3, 5.8e7


@pytest.mark.parametrize(("x", "factor", "unit"), TABLE)
def test_factor(x: float, factor: float, unit: float) -> None:
    RECORD.compare(f"G at x = {x:g} [1]", factor, float(transverse_field_factor(x)), absolute=unit)


@pytest.mark.parametrize(("x", "factor", "unit"), TABLE[:4])
def test_loss_in_a_meshed_wire(x: float, factor: float, unit: float) -> None:
    record = RECORD.but(
        means=Means.ELEMENTS,
        why="one unit of the last place, and 4e-4 of it for the 24 sides that stand for the circle",
    )
    depth = skin_depth(FREQUENCY, CONDUCTIVITY)
    diameter = sqrt(2.0) * depth * x
    radius = 60.0 * diameter
    ring = (round_wire(radius, 0.0, diameter),)
    wire = Conductors(ring, CONDUCTIVITY, FREQUENCY, min(diameter / 4.0, 0.6 * depth), outer_radius=3.0 * radius)
    loss = resolved(wire).open_loss(uniform_field) / (2.0 * pi * radius)
    found = loss * CONDUCTIVITY / (8.0 * pi) * MU0**2
    record.compare(f"G at x = {x:g} [1], elements", factor, found, absolute=unit + 4e-4 * factor)
