"""Harmonics of a square-wave drive, against the same circuit at the harmonic's own frequency."""

from dataclasses import replace

import numpy as np
import pytest

from links.circuits import BaseCircuit, TagCircuit
from links.errors import LinkError
from links.harmonics import harmonic_source_currents
from links.network import coupled_network

FREQUENCY = 134.2e3
BASE = BaseCircuit(390e-6, 9.0, source_voltage=6.0, source_resistance=6.0, capacitance=3.6e-9)


@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_each_harmonic_is_a_smaller_source_at_a_higher_frequency(tuning: str) -> None:
    base, orders = replace(BASE, tuning=tuning), np.array([1, 3, 5, 15])
    found = harmonic_source_currents(FREQUENCY, base, orders)
    expected = [
        coupled_network(n * FREQUENCY, replace(base, source_voltage=6.0 / n), TagCircuit(2e-3, 30.0, 1e4), 0.0)
        for n in orders
    ]
    assert found == pytest.approx([complex(network.source_current) for network in expected], rel=1e-11, abs=0.0)


def test_a_parallel_capacitor_lets_harmonics_through_and_a_series_coil_does_not() -> None:
    orders = np.arange(3, 41, 2)
    series = np.abs(harmonic_source_currents(FREQUENCY, BASE, orders))
    parallel = np.abs(harmonic_source_currents(FREQUENCY, replace(BASE, tuning="parallel"), orders))
    # The coil lets harmonic n pass as 1/n²; past the capacitor only the source resistance stands against 1/n.
    assert series[0] / series[-1] > (39.0 / 3.0) ** 2
    assert parallel[0] / parallel[-1] < 2.0
    assert np.all(parallel > 5.0 * series)


def test_what_cannot_be_asked() -> None:
    with pytest.raises(LinkError, match="orders: \\[2\\] given; harmonics of a square wave have odd orders"):
        harmonic_source_currents(FREQUENCY, BASE, np.array([2]))
    with pytest.raises(LinkError, match="bare capacitor"):
        harmonic_source_currents(FREQUENCY, replace(BASE, tuning="parallel", source_resistance=0.0), np.array([3]))
