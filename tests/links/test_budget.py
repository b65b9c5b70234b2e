"""What the budget adds to the network: the drive's limit, magnitudes, couplings."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from links.budget import clamped, link_budget
from links.circuits import BaseCircuit, TagCircuit, tuned_at

FREQUENCY = 134.2e3
OMEGA = 2.0 * pi * FREQUENCY
BASE = BaseCircuit(390e-6, 9.0, source_voltage=6.366, source_resistance=6.0)
TAG = TagCircuit(2.0e-3, 30.0, load_resistance=25e3)


def test_without_coupling_nothing_reaches_the_tag() -> None:
    budget = link_budget(FREQUENCY, BASE, TAG, np.zeros((2, 3)))
    assert budget.chip_voltage.shape == (2, 3)
    assert np.all(budget.chip_voltage == 0.0)
    assert np.all(budget.tag_current == 0.0)
    assert np.all(budget.reflected_impedance == 0.0)
    assert budget.base_current == pytest.approx(6.366 / 15.0, rel=1e-12, abs=0.0)  # resonant: the resistances alone
    assert budget.input_power == pytest.approx(0.5 * 6.366**2 / 15.0, rel=1e-12, abs=0.0)


def test_a_resonant_series_coil_stands_at_its_quality_factor() -> None:
    budget = link_budget(FREQUENCY, BASE, TAG, 0.0)
    assert float(budget.base_quality_factor) == pytest.approx(OMEGA * 390e-6 / 15.0, rel=1e-12, abs=0.0)
    assert float(budget.capacitor_voltage) == pytest.approx(6.366 * OMEGA * 390e-6 / 15.0, rel=1e-12, abs=0.0)
    assert float(budget.coil_voltage) == pytest.approx(
        6.366 / 15.0 * sqrt(81.0 + (OMEGA * 390e-6) ** 2), rel=1e-12, abs=0.0
    )


def test_a_parallel_capacitor_shares_the_coil_voltage() -> None:
    budget = link_budget(FREQUENCY, replace(BASE, tuning="parallel"), TAG, 4e-6)
    assert budget.capacitor_voltage == budget.coil_voltage


def test_weak_coupling_follows_the_induced_voltage_and_the_quality_factor() -> None:
    budget = link_budget(FREQUENCY, BASE, TAG, 1e-9)
    assert float(budget.induced_voltage) == pytest.approx(OMEGA * 1e-9 * 6.366 / 15.0, rel=1e-6, abs=0.0)
    # Q2 times the induced voltage, but for the coil's resistance beside its reactance: 1 part in 2 Q_coil².
    gain = float(budget.chip_voltage / budget.induced_voltage)
    assert gain == pytest.approx(float(budget.tag_quality_factor), rel=1e-3, abs=0.0)


@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_the_current_limit_holds_where_it_must_and_only_there(tuning: str) -> None:
    mutual = np.geomspace(1e-8, 2e-4, 200)
    free = link_budget(FREQUENCY, replace(BASE, tuning=tuning), TAG, mutual)
    limit = float(np.median(np.abs(free.source_current)))
    held = link_budget(FREQUENCY, replace(BASE, tuning=tuning, current_limit=limit), TAG, mutual)
    over = np.abs(free.source_current) > limit
    assert 0 < np.count_nonzero(over) < over.size
    assert np.array_equal(held.drive_limited, over)
    assert np.abs(held.source_current)[over] == pytest.approx(limit, rel=1e-12, abs=0.0)
    assert np.array_equal(held.chip_voltage[~over], free.chip_voltage[~over])
    # The scaled state is the solution for the lowered source voltage, not only a scaled picture of it.
    place = int(np.flatnonzero(over)[0])
    lowered = replace(BASE, tuning=tuning, source_voltage=float(held.source_voltage[place]))
    again = link_budget(FREQUENCY, lowered, TAG, mutual[place])
    for name in ("chip_voltage", "coil_voltage", "capacitor_voltage", "induced_voltage", "input_power"):
        assert getattr(held, name)[place] == pytest.approx(float(getattr(again, name)), rel=1e-12, abs=0.0), name


@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_chip_voltage_falls_past_the_peak_coupling(tuning: str) -> None:
    base = replace(BASE, tuning=tuning, source_resistance=6.0 if tuning == "series" else 900.0)
    coupling = np.geomspace(1e-3, 0.8, 20001)
    budget = link_budget(FREQUENCY, base, TAG, coupling * sqrt(390e-6 * 2.0e-3))
    assert budget.coupling_coefficient == pytest.approx(coupling, rel=1e-12, abs=0.0)
    top = int(np.argmax(budget.chip_voltage))
    assert coupling[top] == pytest.approx(float(budget.peak_coupling[0]), rel=1e-3, abs=0.0)
    assert np.all(np.diff(budget.chip_voltage[: top - 1]) > 0.0)
    assert np.all(np.diff(budget.chip_voltage[top + 1 :]) < 0.0)
    assert budget.chip_voltage[-1] < 0.5 * budget.chip_voltage[top]


def test_critical_coupling_of_tuned_circuits_is_where_the_chip_voltage_peaks() -> None:
    budget = link_budget(FREQUENCY, BASE, TAG, 0.0)
    inverse_tag_quality = 30.0 / (OMEGA * 2e-3) + OMEGA * 2e-3 / 25e3
    expected = sqrt(inverse_tag_quality * 15.0 / (OMEGA * 390e-6))
    assert float(budget.critical_coupling) == pytest.approx(expected, rel=1e-12, abs=0.0)
    # 1/sqrt(Q1 Q2) takes the tag's loop for resistive; it is so but for terms of 1/Q2.
    assert float(budget.critical_coupling) == pytest.approx(float(budget.peak_coupling), rel=5e-3, abs=0.0)


def test_a_stiff_parallel_source_has_no_critical_coupling() -> None:
    base = replace(BASE, tuning="parallel", source_resistance=0.0)
    budget = link_budget(FREQUENCY, base, TAG, 1e-6)
    assert budget.base_quality_factor == 0.0
    assert budget.critical_coupling == np.inf


@settings(max_examples=100, deadline=None)
@given(
    inductance=st.floats(0.5e-3, 10e-3),
    resistance=st.floats(1.0, 400.0),
    load=st.one_of(st.floats(500.0, 1e6), st.just(float("inf"))),
    factor=st.floats(0.5, 2.0).filter(lambda x: abs(x - 1.0) > 1e-4),
)
def test_the_tag_capacitor_gives_the_greatest_chip_voltage_for_any_load(
    inductance: float, resistance: float, load: float, factor: float
) -> None:
    best = TagCircuit(inductance, resistance, load)
    other = replace(best, capacitance=factor * float(best.tuning_capacitance(FREQUENCY)))
    # So weakly coupled that the tag leaves the base current alone.
    tuned, detuned = (link_budget(FREQUENCY, BASE, tag, 1e-12).chip_voltage for tag in (best, other))
    assert float(tuned) > float(detuned)


def test_a_fixed_capacitor_detunes_where_the_inductance_follows_the_height() -> None:
    inductances = np.array([1.9e-3, 2.0e-3, 2.1e-3])
    floating = TagCircuit(inductances, 30.0, 25e3)
    fixed = tuned_at(floating, FREQUENCY, 2.0e-3, 30.0)
    ideal, real = (link_budget(FREQUENCY, BASE, tag, 1e-9).chip_voltage for tag in (floating, fixed))
    assert real[1] == pytest.approx(ideal[1], rel=1e-12, abs=0.0)
    assert real[0] < 0.9 * ideal[0]
    assert real[2] < 0.9 * ideal[2]


def test_loads_may_be_an_array() -> None:
    loads = np.array([5e3, 25e3, np.inf])
    budget = link_budget(FREQUENCY, BASE, replace(TAG, load_resistance=loads), 1e-9)
    assert budget.chip_voltage.shape == budget.coil_voltage.shape == (3,)
    assert np.all(np.diff(budget.chip_voltage) > 0.0)


def test_clamped_cuts_only_what_is_above() -> None:
    assert clamped(np.array([1.0, 8.0, 9.0]), 8.0).tolist() == [1.0, 8.0, 8.0]
    assert clamped(np.array([1.0, 9.0]), None).tolist() == [1.0, 9.0]
