"""The resolved conductors against what is known of them: one ring of round wire, and two that share a current."""

from math import pi, sqrt

import pytest
from scipy.special import jv

from fem.closed_forms import loop_mutual_inductance
from tests.reference.resolved_conductors import MU0, Conductors, resolved, round_wire
from tests.reference.wire_by_wire import DEPTH, FREQUENCY, SIGMA

OMEGA = 2.0 * pi * FREQUENCY


@pytest.mark.parametrize("x", [1.0, 3.0])
def test_lone_ring_by_bessel_functions(x: float) -> None:
    # At a radius of 200 diameters the ring's own field across it, MU0 I ln(8R/a)/4πR, adds under 1e-4 to R.
    diameter = sqrt(2.0) * DEPTH * x
    ring = (round_wire(200.0 * diameter, 0.0, diameter),)
    solved = resolved(Conductors(ring, SIGMA, FREQUENCY, min(diameter / 4.0, 0.7 * DEPTH)))
    ka = (1.0 - 1.0j) * 0.5 * diameter / DEPTH
    expected = (0.5 * ka * jv(0, ka) / jv(1, ka)).real
    assert solved.impedance().real / solved.direct_current_resistance() == pytest.approx(expected, rel=3e-4, abs=0.0)


def test_direct_current_resistance_is_that_of_the_length() -> None:
    wire, radius = 0.2e-3, 0.01
    solved = resolved(Conductors((round_wire(radius, 0.0, wire),), SIGMA, FREQUENCY, wire / 4.0))
    assert solved.direct_current_resistance() == pytest.approx(
        2.0 * pi * radius / (SIGMA * pi * wire**2 / 4.0), rel=1e-4, abs=0.0
    )


def test_reactance_of_two_rings_in_series_holds_their_mutual_inductance() -> None:
    wire, radius, apart = 0.1e-3, 0.01, 0.004
    single = resolved(Conductors((round_wire(radius, 0.0, wire),), SIGMA, FREQUENCY, wire / 3.0)).impedance().imag
    rings = tuple(round_wire(radius, z, wire) for z in (0.0, apart))
    both = resolved(Conductors(rings, SIGMA, FREQUENCY, wire / 3.0)).impedance().imag
    mutual = (both - 2.0 * single) / (2.0 * OMEGA)
    # The wires are thick against nothing here but their distance: (d/4 apart)² = 4e-5 for the mean over the sections.
    assert mutual == pytest.approx(loop_mutual_inductance(radius, radius, apart), rel=5e-4, abs=0.0)
    assert single / OMEGA > MU0 * radius
