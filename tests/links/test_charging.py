"""Charge of the store against a general solver in time, and leaps against every cycle stepped."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from links.budget import LinkBudget, link_budget
from links.charging import charge, charge_curve
from links.circuits import BaseCircuit, TagCircuit
from links.errors import LinkError
from links.rectified_tag import Store, advanced, rectified_tag
from tests.links.time_domain import FREQUENCY, Parts, cycle_means

DRAWN = Store(20e-9, diode_drop=0.3, chip_current=20e-6)
LOADED = Store(20e-9, load_resistance=50e3)
TIMES = np.array([0.6, 1.0, 1.5, 2.5, 4.0, 6.0]) * 1e-3


def link(mutual: object = 1e-6, detuning: float = 0.0, tuning: str = "series", source: float = 6.0) -> LinkBudget:
    tag = TagCircuit(2e-3, 30.0, load_resistance=25e3)
    tag = replace(tag, capacitance=tag.tuning_capacitance(FREQUENCY) / (1.0 + detuning) ** 2)
    base = BaseCircuit(390e-6, 9.0, source_voltage=6.0, source_resistance=source, tuning=tuning)
    return link_budget(FREQUENCY, base, tag, np.asarray(mutual))


def parts(budget: LinkBudget, store: Store) -> Parts:
    base, tag = budget.base, budget.tag
    return Parts(
        first=(base.inductance, base.resistance, float(base.tuning_capacitance(FREQUENCY))),
        second=(tag.inductance, tag.resistance, float(tag.tuning_capacitance(FREQUENCY))),
        mutual=float(np.abs(budget.mutual_inductance)),
        source=(float(budget.source_voltage), base.source_resistance),
        tuning=base.tuning,
        store=store.capacitance,
        drop=store.diode_drop,
        chip_current=store.chip_current,
        load=store.load_resistance,
    )


@cache
def solved_in_time(one: Parts) -> np.ndarray:
    return cycle_means(one, TIMES)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("budget", "store"),
    [
        pytest.param(link(), DRAWN, id="tuned"),
        pytest.param(link(detuning=0.01), DRAWN, id="1 % off"),
        pytest.param(link(150e-6), DRAWN, id="far past critical coupling"),
        pytest.param(link(60e-6, tuning="parallel", source=50.0), DRAWN, id="parallel"),
        pytest.param(link(), LOADED, id="loaded, tuned"),
        pytest.param(link(detuning=0.01), LOADED, id="loaded, 1 % off"),
    ],
)
def test_charge_follows_the_circuit_solved_in_time(budget: LinkBudget, store: Store) -> None:
    truth = solved_in_time(parts(budget, store))
    found = charge_curve(budget, store, TIMES)
    # The curve runs through one phase of each cycle: early on, half a cycle's gain is a part in a thousand.
    np.testing.assert_allclose(found, truth, rtol=2e-3)
    np.testing.assert_allclose(found[-2:], truth[-2:], rtol=5e-4)


@pytest.mark.slow
def test_the_linear_steady_voltage_holds_tuned_and_not_detuned() -> None:
    # 6 ms are 12 time constants of 2 R_p C_s at 25 kΩ beside the coil's own 95 kΩ.
    tuned, off = link(), link(detuning=0.01)
    assert solved_in_time(parts(tuned, LOADED))[-1] == pytest.approx(float(tuned.chip_voltage), rel=5e-3, abs=0.0)
    truth = solved_in_time(parts(off, LOADED))[-1]
    # The rectifier's pulses pull a detuned circuit: the linear load is off by several per cent, the steps are not.
    assert abs(float(off.chip_voltage) / truth - 1.0) > 0.04
    assert float(charge(off, LOADED, 6e-3).unclamped_voltage) == pytest.approx(truth, rel=5e-3, abs=0.0)


@pytest.mark.slow
@pytest.mark.parametrize("detuning", [0.0, 0.01])
def test_leaps_are_as_good_as_every_cycle(detuning: float) -> None:
    budget = link(np.array([0.3e-6, 3e-6, 30e-6]), detuning)
    store = replace(DRAWN, capacitance=40e-9, chip_current=3e-6)
    circuits = rectified_tag(budget, store)
    moment, times, voltages = circuits.at_rest(), [0.0], [np.zeros(3)]
    while moment.time[0] < 6e-3:
        moment = advanced(circuits, moment, circuits.period)
        times.append(moment.time[0])
        voltages.append(moment.store)
    asked = np.array([0.5, 1.0, 2.0, 3.5, 5.5]) * 1e-3
    truth = np.array([np.interp(asked, times, one) for one in np.array(voltages).T]).T
    np.testing.assert_allclose(charge_curve(budget, store, asked), truth, rtol=2e-3)
    np.testing.assert_allclose(charge_curve(budget, store, asked)[-1], truth[-1], rtol=3e-4)


def test_times_and_places_keep_their_shapes_and_order() -> None:
    budget = link(np.array([[0.0, 1e-6], [2e-6, 3e-6]]))
    curve = charge_curve(budget, DRAWN, np.array([1e-3, 0.0, 0.5e-3]))
    assert curve.shape == (3, 2, 2)
    assert np.all(curve[1] == 0.0)
    assert np.all(curve[:, 0, 0] == 0.0)
    charged = charge(budget, DRAWN, 0.5e-3)
    np.testing.assert_allclose(charged.unclamped_voltage, curve[2], rtol=1e-3)
    assert np.all(np.diff(charged.unclamped_voltage.ravel()) > 0.0)
    alone = charge(link(2e-6), DRAWN, 0.5e-3)
    assert float(alone.unclamped_voltage) == pytest.approx(float(charged.unclamped_voltage[1, 0]), rel=1e-3, abs=0.0)


def test_a_limiter_leaves_the_unclamped_voltage_as_it_is() -> None:
    budget = link(np.array([0.3e-6, 3e-6]))
    free, held = charge(budget, DRAWN, 1e-3), charge(budget, replace(DRAWN, clamp_voltage=2.0), 1e-3)
    np.testing.assert_array_equal(held.unclamped_voltage, free.unclamped_voltage)
    assert held.unclamped_voltage[0] < 2.0 < held.unclamped_voltage[1]
    np.testing.assert_array_equal(held.clamped_voltage, [held.unclamped_voltage[0], 2.0])
    np.testing.assert_array_equal(free.clamped_voltage, free.unclamped_voltage)


def test_a_current_limit_lowers_the_drive() -> None:
    budget = link(1e-6)
    limited = link_budget(FREQUENCY, replace(budget.base, current_limit=0.1), budget.tag, budget.mutual_inductance)
    share = float(limited.held)
    assert share < 0.5
    # Without a drop or a constant current everything is in proportion to the drive.
    store = Store(20e-9)
    whole, part = (float(charge(one, store, 1e-3).unclamped_voltage) for one in (budget, limited))
    assert part == pytest.approx(share * whole, rel=1e-3, abs=0.0)


def test_the_final_rate_is_the_curves_slope() -> None:
    budget = link(1e-6)
    before, after = charge_curve(budget, DRAWN, np.array([0.95e-3, 1.05e-3]))
    assert float(charge(budget, DRAWN, 1e-3).final_rate) == pytest.approx(
        (float(after) - float(before)) / 0.1e-3, rel=0.02, abs=0.0
    )


@pytest.mark.slow
def test_a_large_store_behind_no_drop_follows_the_circuit_solved_in_time() -> None:
    budget, store = link(3e-6), Store(500e-9)
    # Half a cycle's gain is up to a part in a thousand here: the store is far from full to the end.
    np.testing.assert_allclose(charge_curve(budget, store, TIMES), solved_in_time(parts(budget, store)), rtol=2e-3)


@pytest.mark.parametrize("capacitance", [20e-9, 1e-6, 1.0])
def test_an_all_but_empty_store_behind_no_drop(capacitance: float) -> None:
    """Where a conduction ends at no voltage to speak of: as with the least of drops, and no endless switching.

    A store of 1 F takes up a thousandth of what rounding and leaps leave: there the two are a hundredth apart.
    """
    budget = link(np.geomspace(1e-9, 1e-4, 40))
    without, least = (charge(budget, Store(capacitance, drop), 1e-4).unclamped_voltage for drop in (0.0, 1e-9))
    assert (without > 0.0).all()
    np.testing.assert_allclose(without, least, rtol=1e-2, atol=2e-9)


def test_times_that_cannot_be() -> None:
    with pytest.raises(LinkError, match=r"^charge time: 0.0 given; it must be greater than 0$"):
        charge(link(), DRAWN, 0.0)
    with pytest.raises(LinkError, match=r"^charge time: a negative or infinite time given"):
        charge_curve(link(), DRAWN, np.array([-1e-3, 1e-3]))
    with pytest.raises(LinkError, match=r"^charge time: a negative or infinite time given"):
        charge_curve(link(), DRAWN, np.array([np.inf]))
