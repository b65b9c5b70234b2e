"""What a built unit has to stand: the greatest over all that its capacitors may be, not that of the least margin."""

from dataclasses import replace

import numpy as np
import pytest

from links.budget import link_budget
from studies.rows import number
from studies.tuning import base_circuit, tag_circuit
from tests.studies.conftest import Evaluator

PAIR = "base_coil.capacitor={{ choose = 'pair', tolerance = {0} }}"
TAG_PAIR = "tag.capacitor={{ choose = 'pair', tolerance = {0} }}"
TAKEN = (
    "base_current_A", "source_current_A", "coil_voltage_V", "capacitor_voltage_V", "input_power_W",
    "tag_capacitor_voltage_V", "greatest_chip_voltage_V", "flux_density_on_plate_rms_T", "field_at_10_m_rms_A_per_m",
)  # fmt: skip


@pytest.mark.parametrize("column", TAKEN)
def test_no_tolerance_lowers_what_has_to_be_stood(column: str, evaluation_of: Evaluator) -> None:
    exact = number(evaluation_of().row, column)
    found = [
        number(evaluation_of(PAIR.format(spread), TAG_PAIR.format(spread)).row, column) for spread in (0.02, 0.05, 0.1)
    ]
    assert min(found) > 0.9999 * exact
    assert found[0] < 1.0001 * found[1] < 1.0002 * found[2]


@pytest.mark.parametrize("tuning", ["series", "parallel"])
def test_none_of_many_capacitances_takes_more(tuning: str, evaluation_of: Evaluator) -> None:
    """Against 41 × 41 capacitances over both ranges, the link worked out anew with each."""
    found = evaluation_of(PAIR.format(0.05), TAG_PAIR.format(0.05), f"link.tuning={tuning}")
    row, candidate, coils = found.row, found.candidate, found.coils
    base, tag = (
        np.linspace(
            number(row, f"{side}tuning_capacitance_least_F"), number(row, f"{side}tuning_capacitance_greatest_F"), 41
        )
        for side in ("", "tag_")
    )
    heights = np.array([100.0, *(place.place.height for place in found.places)])
    mutual = np.array([0.0, *(place.mutual_inductance for place in found.places)])
    budget = link_budget(
        candidate.frequency,
        replace(base_circuit(candidate, coils), capacitance=base[:, None, None]),
        replace(tag_circuit(candidate, coils, heights), capacitance=tag[:, None]),
        mutual,
    )
    for column, met in (
        ("base_current_A", np.abs(budget.base_current).max()),
        ("source_current_A", np.abs(budget.source_current).max()),
        ("coil_voltage_V", budget.coil_voltage.max()),
        ("capacitor_voltage_V", budget.capacitor_voltage.max()),
        ("input_power_W", budget.input_power.max()),
    ):
        assert number(row, column) == pytest.approx(met, rel=0.005), column


def test_a_half_bridges_mean_is_part_of_the_capacitors_voltage(evaluation_of: Evaluator) -> None:
    """At twice the supply a half bridge has the fundamental of a full one, and its mean besides: the supply's half."""
    full = evaluation_of("drive.bridge=full", "drive.supply=5 V").row
    half = evaluation_of("drive.bridge=half", "drive.supply=10 V").row
    assert half["base_current_A"] == pytest.approx(number(full, "base_current_A"), rel=1e-9)
    assert half["capacitor_voltage_V"] == pytest.approx(number(full, "capacitor_voltage_V") + 5.0, rel=1e-9)


def test_a_limit_is_held_against_the_greatest(evaluation_of: Evaluator) -> None:
    """The parts that leave the least margin are off tune and would pass a limit that well tuned ones break."""
    exact = number(evaluation_of().row, "coil_voltage_V")
    spread = PAIR.format(0.1), TAG_PAIR.format(0.1)
    held = evaluation_of(*spread, f"require.at_most={{ coil_voltage = '{0.98 * exact} V' }}")
    assert any(check.quantity == "coil_voltage" for check in held.verdict.failures)
