"""Two stations side by side against mesh equations of both circuits, and against 1/(k Q)."""

from math import inf, log10, pi

import numpy as np
import pytest

from links.circuits import BaseCircuit
from links.drive import Tuning
from links.errors import LinkError
from links.neighbours import neighbour_link

FREQUENCY = 134.2e3


def base(tuning: Tuning = "series", resistance: float = 7.0, source: float = 6.0) -> BaseCircuit:
    return BaseCircuit(390e-6, resistance, 6.4, source, tuning)


@pytest.mark.parametrize("tuning", ["series", "parallel"])
@pytest.mark.parametrize("coupling", [1e-4, 5e-3, 0.1])
def test_against_mesh_equations_of_both_circuits(tuning: Tuning, coupling: float) -> None:
    """Two stations with unknown currents in coil and, tuned in parallel, in the stage too."""
    one = base(tuning, source=6.0 if tuning == "series" else 900.0)
    w, m = 2.0 * pi * FREQUENCY, coupling * 390e-6
    c, rs = float(one.tuning_capacitance(FREQUENCY)), one.source_resistance
    coil, zc = 7.0 + 1j * w * 390e-6, 1.0 / (1j * w * c)
    if tuning == "series":
        matrix = np.array([[coil + rs + zc, 1j * w * m], [1j * w * m, coil + rs + zc]])
        i1, i2 = np.linalg.solve(matrix, [6.4, 0.0])
    else:  # coil, stage, coil, stage; the capacitor takes the difference
        matrix = np.array(
            [
                [coil + zc, -zc, 1j * w * m, 0.0],
                [-zc, rs + zc, 0.0, 0.0],
                [1j * w * m, 0.0, coil + zc, -zc],
                [0.0, 0.0, -zc, rs + zc],
            ]
        )
        i1, _, i2, _ = np.linalg.solve(matrix, [0.0, 6.4, 0.0, 0.0])
    v1, v2 = abs(coil * i1 + 1j * w * m * i2), abs(coil * i2 + 1j * w * m * i1)
    link = neighbour_link(FREQUENCY, one, m, abs(i1))
    assert link.voltage == pytest.approx(v2, rel=1e-9, abs=0.0)
    assert link.isolation == pytest.approx(20.0 * log10(v1 / v2), rel=1e-9, abs=1e-9)
    assert link.coupling_coefficient == pytest.approx(coupling, rel=1e-12, abs=0.0)
    assert link.coupling_times_quality == pytest.approx(
        coupling * float(one.loaded_quality_factor(FREQUENCY)), rel=1e-12, abs=0.0
    )


def test_loosely_coupled_the_isolation_is_one_over_k_times_q() -> None:
    link = neighbour_link(FREQUENCY, base(), -1e-3 * 390e-6, 0.1)
    assert link.isolation == pytest.approx(-20.0 * log10(link.coupling_times_quality), rel=0.0, abs=0.05)
    assert link.voltage == pytest.approx(
        0.1 * 2.0 * pi * FREQUENCY * 390e-6 * link.coupling_times_quality, rel=2e-3, abs=0.0
    )


def test_nothing_comes_over_where_nothing_couples_or_the_stage_shorts_the_coil() -> None:
    assert neighbour_link(FREQUENCY, base(), 0.0, 0.1).isolation == inf
    held = neighbour_link(FREQUENCY, base("parallel", source=0.0), 1e-6, 0.1)
    assert (held.voltage, held.isolation) == (0.0, inf)


def test_what_no_pair_of_coils_can_be() -> None:
    with pytest.raises(LinkError, match="as large as their inductance"):
        neighbour_link(FREQUENCY, base(), 390e-6, 0.1)
    with pytest.raises(LinkError, match="current of the driven coil"):
        neighbour_link(FREQUENCY, base(), 1e-6, -0.1)
