"""What goes in is what is lost."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from links.budget import link_budget
from links.circuits import BaseCircuit, TagCircuit
from links.power import power_balance

FREQUENCY = 134.2e3


@pytest.mark.parametrize("limit", [None, 0.05])
@pytest.mark.parametrize("tuning", ["series", "parallel"])
@settings(max_examples=60, deadline=None)
@given(
    base_resistance=st.floats(0.5, 60.0),
    source_resistance=st.floats(0.1, 500.0),
    tag_resistance=st.floats(1.0, 300.0),
    load=st.floats(500.0, 1e6),
    coupling=st.floats(-0.6, 0.6),
    lossy=st.floats(0.0, 0.05),
    capacitance=st.one_of(st.none(), st.floats(2e-9, 6e-9)),
)
def test_input_power_is_the_sum_of_its_parts(
    tuning: str,
    limit: float | None,
    base_resistance: float,
    source_resistance: float,
    tag_resistance: float,
    load: float,
    coupling: float,
    lossy: float,
    capacitance: float | None,
) -> None:
    base = BaseCircuit(390e-6, base_resistance, 6.0, source_resistance, tuning, capacitance, limit)
    tag = TagCircuit(2e-3, tag_resistance, load)
    budget = link_budget(FREQUENCY, base, tag, coupling * (1.0 - 1j * lossy) * np.sqrt(390e-6 * 2e-3))
    balance = power_balance(budget, reflected_resistance=0.3 * base_resistance)
    # Rounding is relative to the apparent power that passes back and forth in the source.
    apparent = 0.5 * float(budget.source_voltage) * abs(complex(budget.source_current))
    assert float(balance.total) == pytest.approx(float(budget.input_power), rel=1e-12, abs=1e-12 * apparent)


def test_parts_are_where_they_belong() -> None:
    budget = link_budget(FREQUENCY, BaseCircuit(390e-6, 9.0, 6.0, 6.0), TagCircuit(2e-3, 30.0, 25e3), 10e-6)
    balance = power_balance(budget, reflected_resistance=2.0)
    square = abs(complex(budget.base_current)) ** 2
    assert float(balance.source) == pytest.approx(3.0 * square, rel=1e-12, abs=0.0)
    assert float(balance.winding) == pytest.approx(3.5 * square, rel=1e-12, abs=0.0)
    assert float(balance.surroundings) == pytest.approx(1.0 * square, rel=1e-12, abs=0.0)
    reflected = 0.5 * square * float(budget.reflected_impedance.real)
    assert float(balance.tag_coil + balance.chip) == pytest.approx(reflected, rel=1e-12, abs=0.0)
    assert float(balance.crossed) == 0.0


def test_an_open_chip_takes_nothing() -> None:
    tag = replace(TagCircuit(2e-3, 30.0, 25e3), load_resistance=float("inf"))
    budget = link_budget(FREQUENCY, BaseCircuit(390e-6, 9.0, 6.0, 6.0), tag, np.array([0.0, 10e-6]))
    balance = power_balance(budget)
    assert np.all(balance.chip == 0.0)
    assert balance.total == pytest.approx(budget.input_power, rel=1e-12, abs=0.0)
