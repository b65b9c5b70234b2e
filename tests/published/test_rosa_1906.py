"""E. B. Rosa, "Calculation of the self-inductance of single-layer coils", Bull. NBS 2, 1906, 161: the correction A + B.

L = L_sheet − µ0 a N (A + B) for N turns of round wire d at pitch D. Values of A(d/D) and B(N) from memory, before they
were recomputed; four decimals, some cut off, not rounded: one unit of the last place is allowed. (B from 20 turns up is
doubtful and left out.) Here A + B is extracted from a coil of N rings, each with Kirchhoff's self-inductance, against a
thin winding of length N D, so wide that curvature drops out.
"""

from math import log, pi

import numpy as np
import pytest

from fem.closed_forms import loop_mutual_inductance, winding_self_inductance
from geometries.section import WindingSection
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Rosa 1906",
    'E. B. Rosa, "Calculation of the self-inductance of single-layer coils", Bull. NBS 2, 1906, 161.',
    "paper",
    family="Rosa",
)
RECORD = Record(
    SOURCE,
    Status.MEMORY,
    Means.INTEGRAL,
    "one unit of the last place: some of the four decimals are cut off, not rounded",
)
RADIUS, PITCH = 1.0, 1e-4


def correction(turns: int, diameter_over_pitch: float) -> float:
    heights = PITCH * np.arange(turns)
    apart = np.abs(np.subtract.outer(heights, heights))
    mutual = loop_mutual_inductance(RADIUS, RADIUS, apart[apart > 0.0]).sum()
    ring = 4e-7 * pi * RADIUS * (log(16.0 * RADIUS / (diameter_over_pitch * PITCH)) - 1.75)
    thin = 1e-6 * PITCH  # a sheet of thickness t lacks π t/(3 N D) of A + B
    sheet = WindingSection(RADIUS - 0.5 * thin, RADIUS + 0.5 * thin, 0.0, turns * PITCH)
    lacking = winding_self_inductance(sheet, turns) - (mutual + turns * ring)
    return lacking / (4e-7 * pi * RADIUS * turns)


@pytest.mark.parametrize(("ratio", "a"), [(1.0, 0.5568), (0.9, 0.4515), (0.8, 0.3337), (0.5, -0.1363), (0.1, -1.7457)])
def test_correction_for_the_wire(ratio: float, a: float) -> None:
    RECORD.compare(f"A at wire/pitch {ratio:g} [1]", a, correction(1, ratio), absolute=1e-4)


@pytest.mark.parametrize(
    ("turns", "b"), [(2, 0.1137), (3, 0.1663), (4, 0.1973), (5, 0.2180), (10, 0.2664), (15, 0.2857)]
)
def test_correction_for_the_number_of_turns(turns: int, b: float) -> None:
    RECORD.compare(f"B for {turns} turns [1]", b, correction(turns, 1.0) - correction(1, 1.0), absolute=1e-4)
