"""Margins, with nothing and not-a-number among the voltages."""

import numpy as np
import pytest

from links.errors import LinkError
from links.margin import margin_decibels, peak_rectifier_load


def test_margins_of_known_ratios() -> None:
    assert margin_decibels(np.array([3.0, 30.0, 0.3]), 3.0) == pytest.approx([0.0, 20.0, -20.0], abs=1e-12)
    assert float(margin_decibels(6.0, 3.0)) == pytest.approx(6.0206, abs=1e-4)


def test_no_voltage_is_infinitely_short_and_unknown_stays_unknown() -> None:
    margins = margin_decibels(np.array([0.0, np.nan, np.inf]), 3.0)
    assert margins[0] == -np.inf
    assert np.isnan(margins[1])
    assert margins[2] == np.inf
    assert float(margin_decibels(0.0, 3.0)) == -np.inf


def test_a_minimum_of_nothing_is_refused() -> None:
    with pytest.raises(LinkError, match=r"^minimum voltage: 0.0 given; it must be greater than 0$"):
        margin_decibels(1.0, 0.0)


def test_a_rectifier_takes_the_same_power_as_its_equivalent_resistor() -> None:
    peak, dc_resistance = 4.0, 50e3
    assert 0.5 * peak**2 / peak_rectifier_load(dc_resistance) == pytest.approx(
        peak**2 / dc_resistance, rel=1e-14, abs=0.0
    )
    with pytest.raises(LinkError, match="load resistance of the rectifier"):
        peak_rectifier_load(0.0)
