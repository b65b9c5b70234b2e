"""A half-duplex exchange within a study: what limits, the table's interpolation, and what a designer is told."""

import numpy as np
import pytest

from studies.coupling import coupling_of
from studies.evaluation import Evaluation
from studies.linking import exchange_table, linked
from studies.rows import number
from tests.studies.conftest import Evaluator, FaultLister
from tests.studies.small import SMALL

STORE = "link.storage={ capacitance = '150 nF', charge_time = '35 ms' }"
POWER = ("tag.chip.minimum_voltage=3 V", STORE)


@pytest.fixture(scope="session")
def stored(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of(*POWER)


def test_a_table_gives_what_the_exchange_itself_gives(stored: Evaluation) -> None:
    candidate, coupling = stored.candidate, coupling_of(stored.candidate, stored.coils)
    table = exchange_table(candidate, coupling)
    assert table is not None
    heights = np.geomspace(6e-3, coupling.ceiling, 23)
    mutual = coupling.line(heights, 2e-3, 0.1)[0][0]
    exact, quick = linked(candidate, coupling, heights, mutual), linked(candidate, coupling, heights, mutual, table)
    # 0.02 dB: a quarter of a percent, the quick charge's own doubt included. The pause leaves 856 dB.
    for name, relative in (("power_margin", 0.0), ("reply_margin", 0.0), ("dead_time_margin", 1e-4)):
        read = np.asarray(getattr(exact, name)) > -20.0
        found, expected = (np.asarray(getattr(one, name))[read] for one in (quick, exact))
        np.testing.assert_allclose(found, expected, atol=0.02, rtol=relative)


def test_a_store_has_less_margin_than_the_steady_voltage(stored: Evaluation, evaluation_of: Evaluator) -> None:
    steady = evaluation_of(POWER[0])
    assert number(stored.row, "power_margin_dB") < number(steady.row, "power_margin_dB")
    ratio = number(stored.row, "store_voltage_V") / number(stored.row, "needed_store_voltage_V")
    assert number(stored.row, "power_margin_dB") == pytest.approx(20.0 * np.log10(ratio), rel=1e-9, abs=0.0)
    assert "store_voltage_V" not in steady.row


def test_a_measurement_needs_a_fuller_store(stored: Evaluation, evaluation_of: Evaluator) -> None:
    measuring = evaluation_of(POWER[0], STORE.replace("}", ", measurement_energy = '1 uJ' }"))
    before, after = (number(one.row, "needed_store_voltage_V") for one in (stored, measuring))
    assert after**2 - before**2 == pytest.approx(2.0 * 1e-6 / 150e-9, rel=1e-9, abs=0.0)
    assert number(measuring.row, "margin_dB") < number(stored.row, "margin_dB")


def test_the_limit_is_named_and_is_the_smallest(evaluation_of: Evaluator) -> None:
    cases = {
        "power": ("tag.chip.minimum_voltage=30 V", STORE),
        "reply": (*POWER, "link.receiver.minimum_voltage=1 V"),
        "dead time": (*POWER, "link.pause=0.3 ms"),
    }
    for limit, settings in cases.items():
        row = evaluation_of(*settings).row
        assert row["margin_limited_by"] == limit
        assert row["margin_dB"] == number(row, f"{limit.replace(' ', '_')}_margin_dB")


def test_a_base_that_rings_on_is_told(evaluation_of: Evaluator) -> None:
    row, warnings = (found := evaluation_of(*POWER, "link.pause=0.3 ms")).row, found.warnings
    assert number(row, "dead_time_s") > 0.3e-3
    assert number(row, "dead_time_margin_dB") < 0.0
    assert any(text.startswith("link.pause: the base coil rings on for ") for text in warnings)


def test_a_store_that_never_fills_is_told(evaluation_of: Evaluator) -> None:
    found = evaluation_of("tag.chip.minimum_voltage=300 V", STORE)
    assert number(found.row, "margin_dB") < 0.0
    assert any("has all but stopped rising" in text for text in found.warnings)


def test_a_clamp_under_what_the_telegram_needs_is_told(evaluation_of: Evaluator) -> None:
    small = "link.storage={ capacitance = '22 nF', charge_time = '35 ms' }"
    found = evaluation_of(POWER[0], small, "tag.chip.clamp_voltage=3.2 V")
    assert number(found.row, "power_margin_dB") < 0.0
    assert any("no field is strong enough" in text for text in found.warnings)


def test_a_chip_beyond_its_voltage_is_told(evaluation_of: Evaluator) -> None:
    found = evaluation_of(*POWER, "tag.chip.maximum_voltage=5 V")
    assert any(text.startswith("tag.chip.maximum_voltage: the chip would reach ") for text in found.warnings)
    assert any("nothing limits it" in text for text in found.warnings)


def test_an_open_stage_under_a_series_coil_is_a_fault(faults: FaultLister) -> None:
    (line,) = faults(SMALL.replace('supply = "5 V"', 'supply = "5 V"\nwhen_off = "open"'))
    assert "drive.when_off: open, with a series-tuned base coil: its current has no way left; shorted, or link" in line


def test_full_duplex_tells_its_bandwidth(evaluation_of: Evaluator) -> None:
    found = evaluation_of("link.mode=full-duplex", "link.keying_frequency=8 kHz", "drive.resistance=0.5 ohm")
    assert number(found.row, "needed_bandwidth_Hz") == 16e3
    assert number(found.row, "base_bandwidth_Hz") < 16e3
    assert any(text.startswith("link.keying_frequency: the base coil's circuit passes ") for text in found.warnings)
    assert "dead_time_s" not in found.row
