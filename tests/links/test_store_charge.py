"""The quick charge against every cycle stepped and against a general solver in time, and its limiting cases."""

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
from tests.links.time_domain import Parts, cycle_means

FREQUENCY = 134.2e3
OMEGA = 2.0 * pi * FREQUENCY


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
    np.testing.assert_allclose(quick.unclamped_voltage, stepped.unclamped_voltage, rtol=5e-3)


def test_a_parallel_base_charges_it_too() -> None:
    store = Store(150e-9, 0.3, 0.0, 50e3)
    budget = circuits(37.0, 0.01, tuning="parallel")
    budget = link_budget(FREQUENCY, replace(budget.base, source_resistance=900.0), budget.tag, budget.mutual_inductance)
    stepped, quick = charge(budget, store, 35e-3), quasi_steady_charge(budget, store, 35e-3)
    np.testing.assert_allclose(quick.unclamped_voltage, stepped.unclamped_voltage, rtol=4e-3, atol=1e-3)


def past_critical(random: np.random.Generator, tuning: str) -> tuple[LinkBudget, Store, float]:
    """A link at one to twelve times critical coupling, both sides off tune by up to 3 %; store and charge time."""

    def log_uniform(low: float, high: float) -> float:
        return float(np.exp(random.uniform(np.log(low), np.log(high))))

    first, second = log_uniform(50e-6, 2e-3), log_uniform(0.5e-3, 10e-3)
    base_quality, tag_quality = log_uniform(8.0, 100.0), log_uniform(8.0, 100.0)
    coupling = min(log_uniform(1.0, 12.0) / np.sqrt(base_quality * tag_quality), 0.3)
    series = OMEGA * first / base_quality
    base = BaseCircuit(
        first,
        series * 0.6,
        5.0 if tuning == "series" else 60.0,
        series * 0.4 if tuning == "series" else OMEGA * first * base_quality / 0.4,
        tuning,  # type: ignore[arg-type]
        (1.0 + random.choice([0.0, random.uniform(-0.03, 0.03)])) / (OMEGA**2 * first),
        current_limit=random.choice([None, 0.1 if tuning == "series" else 0.003]),
    )
    off = 1.0 + random.choice([0.0, random.uniform(-0.03, 0.03)])
    tag = TagCircuit(second, OMEGA * second / tag_quality, 25e3, off / (OMEGA**2 * second))
    store = Store(
        log_uniform(25e-9, 3e-6),
        random.choice([0.0, 0.3]),
        random.choice([0.0, 5e-6]),
        random.choice([50e3, 1e6]),
    )
    budget = link_budget(FREQUENCY, base, tag, np.array([coupling * np.sqrt(first * second)], dtype=np.complex128))
    return budget, store, log_uniform(5e-3, 50e-3)


@pytest.mark.slow
@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_past_critical_coupling_it_is_what_every_cycle_stepped_gives(tuning: str) -> None:
    random = np.random.default_rng(134200)
    off, limited = [], 0
    for _ in range(12):
        budget, store, time = past_critical(random, tuning)
        stepped = float(charge(budget, store, time).unclamped_voltage[0])
        off.append(float(quasi_steady_charge(budget, store, time).unclamped_voltage[0]) / stepped - 1.0)
        limited += int(budget.held[0] < 1.0)
    # Of 516 other circuits the worst was 0.63 % off: what is left is how base and tag lag behind the store.
    assert np.max(np.abs(off)) < 8e-3
    assert np.median(np.abs(off)) < 1.5e-3
    assert limited >= 3


@pytest.mark.parametrize("base_detuning", [0.02, -0.02])
def test_a_base_that_reflects_more_than_the_tags_inductance(base_detuning: float) -> None:
    first, second = 390e-6, 2e-3
    base = BaseCircuit(first, 2.0, 5.0, 2.5, capacitance=(1.0 + base_detuning) / (OMEGA**2 * first))
    tag = TagCircuit(second, 30.0, 25e3, 1.0 / (OMEGA**2 * second))
    mutual = np.array([0.1, 0.35], dtype=np.complex128) * np.sqrt(first * second)
    budget, store = link_budget(FREQUENCY, base, tag, mutual), Store(100e-9, 0.3, 1e-6)
    stepped, quick = charge(budget, store, 20e-3), quasi_steady_charge(budget, store, 20e-3)
    np.testing.assert_allclose(quick.unclamped_voltage, stepped.unclamped_voltage, rtol=5e-3)


@pytest.mark.parametrize("capacitance_share", [1.0, 30.0])
@pytest.mark.parametrize("quality", [0.15, 0.5, 3.0])
def test_a_tag_that_hardly_rings_or_does_not(quality: float, capacitance_share: float) -> None:
    inductance = 2e-3
    tag = TagCircuit(inductance, OMEGA * inductance / quality, 25e3, capacitance_share / (OMEGA**2 * inductance))
    base = BaseCircuit(390e-6, 6.0, 60.0, 6.0)
    mutual = np.array([20e-6, 200e-6], dtype=np.complex128)
    budget, store = link_budget(FREQUENCY, base, tag, mutual), Store(1e-6)
    stepped, quick = charge(budget, store, 10e-3), quasi_steady_charge(budget, store, 10e-3)
    np.testing.assert_allclose(quick.unclamped_voltage, stepped.unclamped_voltage, rtol=1e-2)


def test_of_two_states_the_store_is_in_the_one_it_comes_to_first() -> None:
    # A tag tuned to twice the frequency, so close that the voltage falls back by 11 % as conduction narrows.
    first, second = 390e-6, 2e-3
    resistance = OMEGA * first / 42.4
    base = BaseCircuit(first, 0.5 * resistance, 5.0, 0.5 * resistance, capacitance=1.0 / (1.0686 * OMEGA**2 * first))
    tag = TagCircuit(second, OMEGA * second / 11.5, 25e3, 1.0 / (4.73 * OMEGA**2 * second))
    budget = link_budget(FREQUENCY, base, tag, np.array([0.542 * np.sqrt(first * second)], dtype=np.complex128))
    store = Store(460e-9, 0.0, 0.0, 1e6)
    stepped, quick = charge(budget, store, 18e-3), quasi_steady_charge(budget, store, 18e-3)
    np.testing.assert_allclose(quick.unclamped_voltage, stepped.unclamped_voltage, rtol=1.5e-2)


def test_a_charge_as_short_as_settling_is_stepped() -> None:
    budget, store = circuits(37.0, 0.0), Store(150e-9, 0.3)
    # 2L/R is 65 µs for the base and 88 µs for the tag: a tenth of 1.5 ms.
    short, long = (quasi_steady_charge(budget, store, time).unclamped_voltage for time in (1.5e-3, 1.6e-3))
    np.testing.assert_array_equal(short, charge(budget, store, 1.5e-3).unclamped_voltage)
    assert np.all(long != charge(budget, store, 1.6e-3).unclamped_voltage)
    np.testing.assert_allclose(long, charge(budget, store, 1.6e-3).unclamped_voltage, rtol=0.03)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("mutual", "base_off", "tag_off"),
    [
        pytest.param(150e-6, 0.0, 0.0, id="far past critical coupling"),
        pytest.param(200e-6, 0.02, -0.02, id="far past critical coupling, both off tune"),
        pytest.param(3e-6, 0.0, -0.02, id="tag 1 % off"),
    ],
)
def test_it_follows_the_circuit_solved_in_time(mutual: float, base_off: float, tag_off: float) -> None:
    first, second, store = 390e-6, 2e-3, Store(47e-9, 0.3, 10e-6, 200e3)
    base = BaseCircuit(first, 4.5, 6.0, 3.0, capacitance=(1.0 + base_off) / (OMEGA**2 * first))
    tag = TagCircuit(second, 45.0, 25e3, (1.0 + tag_off) / (OMEGA**2 * second))
    parts = Parts(
        (first, 4.5, (1.0 + base_off) / (OMEGA**2 * first)),
        (second, 45.0, (1.0 + tag_off) / (OMEGA**2 * second)),
        mutual,
        (6.0, 3.0),
        store=47e-9,
        drop=0.3,
        chip_current=10e-6,
        load=200e3,
    )
    budget = link_budget(FREQUENCY, base, tag, np.asarray(mutual, dtype=np.complex128))
    times = np.array([2.0e-3, 4.0e-3])
    found = [float(quasi_steady_charge(budget, store, time).unclamped_voltage) for time in times]
    np.testing.assert_allclose(found, cycle_means(parts, times), rtol=2e-2)


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
