"""What a circuit may be, and its own quality factors."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from links.circuits import BaseCircuit, TagCircuit, tuned_at
from links.errors import LinkError

FREQUENCY = 125e3
BASE = BaseCircuit(400e-6, 5.0, source_voltage=6.0, source_resistance=10.0)
TAG = TagCircuit(2e-3, 30.0, 25e3)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"inductance": 0.0}, "inductance of the base coil: 0.0 given; it must be greater than 0"),
        ({"resistance": -1.0}, "resistance of the base coil: -1.0 given; it must be greater than 0"),
        ({"resistance": float("nan")}, "resistance of the base coil: nan given; it must be greater than 0"),
        ({"source_voltage": 0.0}, "source voltage: 0.0 given; it must be greater than 0"),
        ({"source_resistance": -2.0}, "source resistance: -2.0 given; it must be finite and at least 0"),
        ({"source_resistance": float("inf")}, "source resistance: inf given; it must be finite and at least 0"),
        ({"capacitance": 0.0}, "tuning capacitance of the base coil: 0.0 given; it must be greater than 0"),
        ({"current_limit": 0.0}, "current limit: 0.0 given; it must be greater than 0"),
        ({"tuning": "both"}, "tuning: 'both' given; one of series, parallel is allowed"),
    ],
)
def test_a_base_circuit_that_cannot_be(changes: dict[str, object], text: str) -> None:
    with pytest.raises(LinkError) as caught:
        replace(BASE, **changes)
    assert str(caught.value) == text


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"inductance": -1e-3}, "inductance of the tag coil: -0.001 given; it must be greater than 0"),
        ({"resistance": np.array([1.0, 0.0])}, "resistance of the tag coil: [1. 0.] given; it must be greater than 0"),
        ({"load_resistance": 0.0}, "load resistance of the chip: 0.0 given; it must be greater than 0"),
        ({"capacitance": -1e-12}, "tuning capacitance of the tag: -1e-12 given; it must be greater than 0"),
    ],
)
def test_a_tag_circuit_that_cannot_be(changes: dict[str, object], text: str) -> None:
    with pytest.raises(LinkError) as caught:
        replace(TAG, **changes)
    assert str(caught.value) == text


@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_the_default_capacitor_leaves_no_reactance(tuning: str) -> None:
    base = replace(BASE, tuning=tuning)
    capacitor = 1.0 / (2j * pi * FREQUENCY * base.tuning_capacitance(FREQUENCY))
    coil = base.coil_impedance(FREQUENCY)
    total = coil + capacitor if tuning == "series" else coil * capacitor / (coil + capacitor)
    assert abs(total.imag) < 1e-10 * abs(coil)


def test_a_given_capacitor_is_kept() -> None:
    assert float(replace(BASE, capacitance=4.7e-9).tuning_capacitance(FREQUENCY)) == 4.7e-9
    assert float(replace(TAG, capacitance=680e-12).tuning_capacitance(FREQUENCY)) == 680e-12


def test_loaded_quality_factor_of_a_parallel_coil_is_its_bandwidth() -> None:
    # Half-power points of the coil current, found on a fine grid, not from the formula.
    base = replace(BASE, tuning="parallel", source_resistance=20e3)
    fixed = replace(base, capacitance=base.tuning_capacitance(FREQUENCY))
    frequencies = np.linspace(0.9 * FREQUENCY, 1.1 * FREQUENCY, 4001)
    current = np.array(
        [
            abs(fixed.open_circuit_voltage(f) / (fixed.source_impedance(f) + fixed.coil_impedance(f)))
            for f in frequencies
        ]
    )
    passed = frequencies[current >= current.max() / np.sqrt(2.0)]
    assert float(base.loaded_quality_factor(FREQUENCY)) == pytest.approx(FREQUENCY / np.ptp(passed), rel=5e-3, abs=0.0)


def test_loaded_quality_factor_of_the_tag() -> None:
    reactance = 2.0 * pi * FREQUENCY * 2e-3
    assert float(TAG.loaded_quality_factor(FREQUENCY)) == pytest.approx(1.0 / (30.0 / reactance + reactance / 25e3))
    unloaded = replace(TAG, load_resistance=float("inf"))
    assert float(unloaded.loaded_quality_factor(FREQUENCY)) == pytest.approx(reactance / 30.0, rel=1e-14, abs=0.0)


def test_tuned_at_fixes_one_capacitor() -> None:
    moved = TagCircuit(np.array([1.8e-3, 2.0e-3]), np.array([40.0, 30.0]), 25e3)
    fixed = tuned_at(moved, FREQUENCY, 2.0e-3, 30.0)
    assert np.asarray(fixed.capacitance).shape == ()
    assert float(fixed.tuning_capacitance(FREQUENCY)) == float(TAG.tuning_capacitance(FREQUENCY))
