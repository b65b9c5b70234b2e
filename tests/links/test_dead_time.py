"""Dead time against the base's circuit solved in time, and against the trade's figure."""

from dataclasses import replace
from math import log, pi

import numpy as np
import pytest

from links.budget import LinkBudget, link_budget
from links.circuits import BaseCircuit, TagCircuit
from links.dead_time import ring_down
from links.errors import LinkError
from tests.links.time_domain import FREQUENCY, Parts, last_time_above

TAG = TagCircuit(2e-3, 30.0, load_resistance=25e3)
OMEGA = 2.0 * pi * FREQUENCY
REACTANCE = OMEGA * 390e-6


def link(tuning: str, resistance: float, source: float, coil_voltage: float) -> LinkBudget:
    """A base alone, driven to the given peak voltage across its coil."""
    base = BaseCircuit(390e-6, resistance, source_voltage=1.0, source_resistance=source, tuning=tuning)
    reached = float(link_budget(FREQUENCY, base, TAG, 0.0).coil_voltage)
    return link_budget(FREQUENCY, replace(base, source_voltage=coil_voltage / reached), TAG, 0.0)


def latest(budget: LinkBudget, source: float, voltage: float, end: float) -> float:
    """Over four phases at which the drive may stop, solved in time [s]."""
    base = budget.base
    capacitance = float(base.tuning_capacitance(FREQUENCY))
    circuit = Parts((390e-6, base.resistance, capacitance), (1.0, 1.0, 1.0), 0.0, (0.0, source), base.tuning)
    current = complex(budget.base_current)
    held = current / (1j * OMEGA * capacitance)
    if base.tuning == "parallel":
        held = current * complex(base.resistance, REACTANCE)
    found = []
    for turn in np.exp(2j * pi * np.arange(4) / 8.0):
        found.append(last_time_above(circuit, ((current * turn).real, (held * turn).real), voltage, end))
    return max(found)


def test_the_trades_figure() -> None:
    # REFERENCES 7 and the formula (2Q/ω) ln(V0/Vmin): 330 V, Q 50, to 1 mV in about 1.5 ms.
    budget = link("series", 5.0, REACTANCE / 50.0 - 5.0, 330.0)
    found = float(ring_down(budget).time_to(1e-3))
    assert found == pytest.approx(1.5e-3, rel=0.02, abs=0.0)
    assert found == pytest.approx(100.0 / OMEGA * log(330e3), rel=2e-3, abs=0.0)


@pytest.mark.parametrize(
    ("tuning", "resistance", "source", "drive_off"),
    [
        ("series", 5.0, REACTANCE / 50.0 - 5.0, "shorted"),
        ("series", 9.0, 30.0, "shorted"),
        ("parallel", 9.0, 2000.0, "shorted"),
        ("parallel", 9.0, 2000.0, "open"),
    ],
)
def test_dead_time_in_time(tuning: str, resistance: float, source: float, drive_off: str) -> None:
    budget = link(tuning, resistance, source, 330.0)
    found = float(ring_down(budget, drive_off).time_to(1e-3))
    truth = latest(budget, source if drive_off == "shorted" else np.inf, 1e-3, 1.2 * found)
    # The envelope is passed at most half a cycle after the wave's last peak above it.
    assert truth <= found <= truth + 0.55 / FREQUENCY
    assert found == pytest.approx(truth, rel=0.02, abs=0.0)


@pytest.mark.parametrize(
    ("tuning", "source", "slack"),
    # The last is Q = ½ itself, where two exponentials all but cancel each other.
    [("series", 1000.0, 1.5), ("parallel", 60.0, 1.5), ("series", 2.0 * REACTANCE - 9.0, 11.0)],
)
def test_a_base_that_does_not_ring(tuning: str, source: float, slack: float) -> None:
    budget = link(tuning, 9.0, source, 20.0)
    decay = ring_down(budget)
    found = float(decay.time_to(1e-3))
    truth = latest(budget, source, 1e-3, 1.5 * found)
    slower = float(decay.decay_rates.min())
    assert truth <= found * (1.0 + 1e-6)
    assert found <= truth + slack * log(2.0) / slower + 0.02 * truth


def test_what_is_left_when_the_pause_is_over() -> None:
    budget = link("series", 5.0, 1.5, 330.0)
    decay = ring_down(budget)
    dead = float(decay.time_to(1e-3))
    assert float(decay.margin(dead, 1e-3)) == pytest.approx(0.0, abs=1e-9)
    rate = float(decay.decay_rates[0])
    # 20 dB for each ln 10 time constants more.
    assert float(decay.margin(dead + log(10.0) / rate, 1e-3)) == pytest.approx(20.0, abs=1e-9)
    assert float(decay.voltage_after(0.0)) == pytest.approx(330.0, rel=0.01, abs=0.0)
    assert float(decay.time_to(500.0)) == 0.0


def test_arrays_and_a_held_drive() -> None:
    base = BaseCircuit(390e-6, 9.0, source_voltage=6.0, source_resistance=6.0, current_limit=0.1)
    budget = link_budget(FREQUENCY, base, TAG, np.array([[0.0, 1e-6, 50e-6]]))
    decay = ring_down(budget)
    assert decay.time_to(1e-3).shape == budget.held.shape
    np.testing.assert_allclose(decay.voltage_after(0.0)[0, :2], budget.coil_voltage[0, :2], rtol=0.03)


def test_a_parallel_stage_without_resistance_holds_the_coil_still() -> None:
    decay = ring_down(link("parallel", 9.0, 0.0, 5.0))
    assert float(decay.time_to(1e-3)) == 0.0
    assert float(decay.margin(3e-3, 1e-3)) == np.inf


def test_stages_that_cannot_be() -> None:
    budget = link("series", 9.0, 6.0, 100.0)
    with pytest.raises(LinkError, match=r"^drive stage when off: 'cut' given; one of shorted, open is allowed$"):
        ring_down(budget, "cut")
    with pytest.raises(LinkError, match=r"^drive stage when off: 'open' given with a series-tuned base coil"):
        ring_down(budget, "open")
    with pytest.raises(LinkError, match=r"^minimum voltage of the receiver: 0.0 given"):
        ring_down(budget).time_to(0.0)
    with pytest.raises(LinkError, match=r"^minimum voltage of the receiver: 0.0 given"):
        ring_down(budget).margin(1e-3, 0.0)
    with pytest.raises(LinkError, match=r"^pause: -1.0 given"):
        ring_down(budget).voltage_after(-1.0)
