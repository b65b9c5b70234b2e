"""Resonance formulas against impedances and response curves worked out on their own."""

from math import pi

import numpy as np
import pytest

from links.resonance import (
    off_tune_loss,
    parallel_loaded_quality_factor,
    parallel_tuning_capacitance,
    quality_factor,
    relative_detuning,
    resonant_frequency,
    self_resonance_ratio,
    series_tuning_capacitance,
    stray_capacitance,
)

FREQUENCY = 125e3
OMEGA = 2.0 * pi * FREQUENCY


def test_tuning_capacitances_leave_no_reactance() -> None:
    coil = 20.0 + 1j * OMEGA * 500e-6
    series = coil + 1.0 / (1j * OMEGA * series_tuning_capacitance(500e-6, FREQUENCY))
    parallel = 1.0 / coil + 1j * OMEGA * parallel_tuning_capacitance(500e-6, 20.0, FREQUENCY)
    assert abs(series.imag) < 1e-12 * abs(coil)
    assert abs(parallel.imag) < 1e-12 / abs(coil)


def test_resonant_frequency_is_the_way_back() -> None:
    capacitance = series_tuning_capacitance(500e-6, FREQUENCY)
    assert float(resonant_frequency(500e-6, capacitance)) == pytest.approx(FREQUENCY, rel=1e-14, abs=0.0)


def test_quality_factors() -> None:
    assert quality_factor(500e-6, 20.0, FREQUENCY) == pytest.approx(OMEGA * 500e-6 / 20.0, rel=1e-14, abs=0.0)
    loads = np.array([0.0, 1e4, np.inf])
    found = parallel_loaded_quality_factor(500e-6, 20.0, loads, FREQUENCY)
    assert found[0] == 0.0
    assert found[1] == pytest.approx(1.0 / (20.0 / (OMEGA * 500e-6) + OMEGA * 500e-6 / 1e4), rel=1e-14, abs=0.0)
    assert found[2] == pytest.approx(OMEGA * 500e-6 / 20.0, rel=1e-14, abs=0.0)


@pytest.mark.parametrize("quality", [20.0, 50.0, 100.0])
def test_off_tune_loss_follows_the_response_of_a_real_series_circuit(quality: float) -> None:
    inductance = 500e-6
    resistance = OMEGA * inductance / quality
    capacitance = series_tuning_capacitance(inductance, FREQUENCY)
    off = 1.01 * OMEGA
    current = abs(1.0 / (resistance + 1j * off * inductance + 1.0 / (1j * off * capacitance)))
    exact = -20.0 * np.log10(current * resistance)
    assert float(off_tune_loss(quality, 0.01)) == pytest.approx(exact, rel=0.011, abs=0.0)  # a single pole: δ of itself


def test_self_resonance() -> None:
    assert self_resonance_ratio(1e6, 125e3) == 8.0
    stray = stray_capacitance(2e-3, 1e6)
    assert float(resonant_frequency(2e-3, stray)) == pytest.approx(1e6, rel=1e-14, abs=0.0)


def test_relative_detuning_is_that_of_the_resonant_frequency() -> None:
    exact = series_tuning_capacitance(500e-6, FREQUENCY)
    for factor in (0.9, 1.0, 1.2):
        resonance = float(resonant_frequency(500e-6, factor * exact))
        assert relative_detuning(exact, factor * exact) == pytest.approx(
            resonance / FREQUENCY - 1.0, rel=1e-9, abs=1e-15
        )
