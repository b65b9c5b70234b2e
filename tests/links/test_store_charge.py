"""The quick charge against every cycle stepped, up to moderate coupling, and its limiting cases."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from links.budget import LinkBudget, link_budget
from links.charging import charge
from links.circuits import BaseCircuit, TagCircuit
from links.rectified_tag import Store
from links.rectifier_current import steady_conduction
from links.store_charge import quasi_steady_charge

FREQUENCY = 134.2e3


def circuits(quality: float, detuning: float, *, tuning: str = "series", loss: float = 6.0) -> LinkBudget:
    """Six places from far to over-coupled, a tag of the given Q, off tune by the given share."""
    inductance = 2e-3
    resistance = 2.0 * pi * FREQUENCY * inductance / quality
    exact = inductance / (resistance**2 + (2.0 * pi * FREQUENCY * inductance) ** 2)
    tag = TagCircuit(inductance, resistance, 25e3, exact / (1.0 + detuning) ** 2)
    base = BaseCircuit(390e-6, loss, 4.2, 6.0, tuning)  # type: ignore[arg-type]
    return link_budget(FREQUENCY, base, tag, np.geomspace(0.3e-6, 20e-6, 6).astype(np.complex128))


@pytest.mark.parametrize("detuning", [0.0, 0.003, -0.003, 0.01, -0.01, 0.03])
@pytest.mark.parametrize("quality", [12.0, 37.0, 95.0])
@pytest.mark.parametrize(
    ("store", "time"),
    [
        (Store(150e-9, 0.3, 0.0, 50e3), 35e-3),
        (Store(1e-6, 0.3, 5e-6), 50e-3),
        (Store(22e-9, 0.0, 0.0, 1e6), 20e-3),
    ],
)
def test_it_is_what_every_cycle_stepped_gives(quality: float, detuning: float, store: Store, time: float) -> None:
    budget = circuits(quality, detuning)
    stepped, quick = charge(budget, store, time), quasi_steady_charge(budget, store, time)
    # Base and tag take some 2L/R each to settle, which is counted but roughly: no more than that may be missing.
    settling = 2.0 * 390e-6 / 12.0 + quality / (pi * FREQUENCY)
    np.testing.assert_allclose(quick.unclamped_voltage, stepped.unclamped_voltage, rtol=1e-3 + settling / time)


def test_a_parallel_base_charges_it_too() -> None:
    store = Store(150e-9, 0.3, 0.0, 50e3)
    budget = circuits(37.0, 0.01, tuning="parallel")
    budget = link_budget(FREQUENCY, replace(budget.base, source_resistance=900.0), budget.tag, budget.mutual_inductance)
    stepped, quick = charge(budget, store, 35e-3), quasi_steady_charge(budget, store, 35e-3)
    np.testing.assert_allclose(quick.unclamped_voltage, stepped.unclamped_voltage, rtol=4e-3, atol=1e-3)


def test_a_short_charge_shows_how_fast_the_store_still_rises() -> None:
    budget, store = circuits(37.0, 0.0), Store(10e-6, 0.3)
    stepped, quick = charge(budget, store, 20e-3), quasi_steady_charge(budget, store, 20e-3)
    np.testing.assert_allclose(quick.unclamped_voltage, stepped.unclamped_voltage, rtol=6e-3)
    np.testing.assert_allclose(quick.final_rate, stepped.final_rate, rtol=0.03)


def test_a_full_store_stands_at_the_open_voltage_less_the_drop() -> None:
    budget, store = circuits(37.0, 0.0), Store(1e-9, 0.4)
    found = quasi_steady_charge(budget, store, 1.0)
    current = abs(budget.base.source_voltage / (6.0 + 6.0))
    tag = replace(budget.tag, load_resistance=float("inf"))
    emf = 2.0 * pi * FREQUENCY * abs(budget.mutual_inductance[0]) * current
    gain = abs(complex(tag.chip_impedance(FREQUENCY) / tag.loop_impedance(FREQUENCY)))
    assert found.unclamped_voltage[0] == pytest.approx(emf * gain - 0.4, rel=2e-3, abs=0.0)


def test_no_coupling_and_too_little_leave_it_empty() -> None:
    budget = circuits(37.0, 0.0)
    budget = link_budget(FREQUENCY, budget.base, budget.tag, np.array([0.0, 1e-9, 1e-6], dtype=np.complex128))
    found = quasi_steady_charge(budget, Store(150e-9, 0.4, 1e-6), 35e-3)
    assert found.unclamped_voltage[:2].tolist() == [0.0, 0.0]
    assert found.unclamped_voltage[2] > 1.0


def test_the_limiter_holds_it() -> None:
    found = quasi_steady_charge(circuits(37.0, 0.0), Store(150e-9, 0.3, clamp_voltage=8.0), 35e-3)
    assert found.clamped_voltage.max() == 8.0 < found.unclamped_voltage.max()


def test_its_steady_states_end_where_no_current_is_left() -> None:
    tag = circuits(37.0, 0.0).tag
    found = steady_conduction(FREQUENCY, tag)
    assert found.store_voltage[0] < found.store_voltage[-1] == pytest.approx(37.0, rel=0.01, abs=0.0)
    assert abs(found.direct_drop[-1]) < 1e-4
    # The tank's fundamental loses to the diode just what the store takes, and its own losses.
    power = 0.5 * (found.emf * np.conj(found.coil_drop)).real
    lost = found.store_voltage * found.direct_drop
    own = 0.5 * np.abs(found.coil_drop) ** 2 / 37.0
    middle = slice(10, 38)
    assert np.all(power[middle] >= (lost + own)[middle] * (1.0 - 1e-9))
    np.testing.assert_allclose(power[middle], (lost + own)[middle], rtol=0.05)
