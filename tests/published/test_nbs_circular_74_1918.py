"""NBS Circular 74, 1918: skin effect in a round wire, against x = √2 a/δ.

R/R0 and internal L/L0; values from memory, before they were recomputed. The elements see the wire as a wide ring.
"""

from math import sqrt

import pytest

from fem.wire_losses import internal_inductance_ratio, skin_depth, skin_effect_ratio
from tests.published.records import Means, Record, Source, Status
from tests.reference.resolved_conductors import Conductors, resolved, round_wire

SOURCE = Source(
    "NBS Circular 74, 1918",
    "National Bureau of Standards Circular 74, *Radio Instruments and Measurements*, 1918.",
    "book",
)
RECORD = Record(
    SOURCE,
    Status.MEMORY,
    Means.FORMULA,
    "one unit of the last place: some of the printed digits are cut off, not rounded",
)
FREQUENCY, CONDUCTIVITY = 134.2e3, 5.8e7
RESISTANCES = {
    1: 1.00519, 2: 1.07816, 3: 1.31809, 4: 1.67787, 5: 2.04272, 7: 2.74319, 10: 3.79857, 15: 5.56208, 20: 7.32767,
}  # fmt: skip


def diameter(x: float) -> float:
    return sqrt(2.0) * skin_depth(FREQUENCY, CONDUCTIVITY) * x


@pytest.mark.parametrize(("x", "ratio"), RESISTANCES.items())
def test_resistance(x: float, ratio: float) -> None:
    found = float(skin_effect_ratio(diameter(x), FREQUENCY, CONDUCTIVITY))
    RECORD.compare(f"R/R0 at x = {x} [1]", ratio, found, absolute=1e-5)


@pytest.mark.parametrize(
    ("x", "ratio"), [(1, 0.99741), (2, 0.96113), (3, 0.84517), (4, 0.68632), (5, 0.55597), (10, 0.28162)]
)
def test_internal_inductance(x: float, ratio: float) -> None:
    found = float(internal_inductance_ratio(diameter(x), FREQUENCY, CONDUCTIVITY))
    RECORD.compare(f"internal L/L0 at x = {x} [1]", ratio, found, absolute=1e-5)


@pytest.mark.parametrize("x", [1, 2, 3, 5])
def test_resistance_of_a_meshed_wire(x: float) -> None:
    record = RECORD.but(
        means=Means.ELEMENTS,
        why="3e-4 for the 24 sides that stand for the circle and for the ring's own field across itself at 200 "
        "diameters",
    )
    wire = round_wire(200.0 * diameter(x), 0.0, diameter(x))
    depth = skin_depth(FREQUENCY, CONDUCTIVITY)
    solved = resolved(Conductors((wire,), CONDUCTIVITY, FREQUENCY, min(diameter(x) / 4.0, 0.6 * depth)))
    found = solved.impedance().real / solved.direct_current_resistance()
    record.compare(f"R/R0 at x = {x} [1], elements", RESISTANCES[int(x)], found, relative=3e-4)
