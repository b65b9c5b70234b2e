"""``[spread]``: what it takes, what is drawn, and what the counts and shares say, against closed forms."""

from pathlib import Path

import numpy as np
import pytest

from studies.faults import StudyFaults
from studies.spread import CUT, Spread
from studies.spread_units import units_of
from studies.study import Study, study_of
from studies.yields import variance_shares, yield_of

LIBRARY = Path(__file__).parents[2] / "studies" / "library"
DEMO = LIBRARY / "culture-bench.toml"


def with_spread(lines: str) -> Study:
    text = DEMO.read_text(encoding="utf-8")
    return study_of(f"{text[: text.index('[spread]')]}\n[spread]\n{lines}\n", DEMO)


def the(study: Study) -> Spread:
    (spread,) = study.spreads
    return spread


def test_a_uniform_spread_fills_its_width_evenly() -> None:
    spread = the(with_spread('"base_coil.mean_diameter" = { uniform = "0.5 mm" }'))
    values = spread.values("44 mm", np.array([0.0, 0.25, 0.5, 1.0]))
    assert values == ["43.5 mm", "43.75 mm", "44 mm", "44.5 mm"]


def test_a_normal_spread_has_its_deviation_and_is_cut() -> None:
    spread = the(with_spread('"base_coil.mean_diameter" = { normal = "0.2 mm" }'))
    draws = (np.arange(100_000) + 0.5) / 100_000
    found = spread.deviations(draws)
    # Standard deviation of a normal distribution cut at ± 3: sqrt(1 − 2·3·φ(3)/(2Φ(3) − 1)).
    density = np.exp(-0.5 * CUT**2) / np.sqrt(2.0 * np.pi)
    inside = 0.9973002039
    assert float(np.std(found)) == pytest.approx(0.2 * np.sqrt(1.0 - 2.0 * CUT * density / inside), rel=1e-3)
    assert float(np.max(np.abs(found))) <= 0.2 * CUT


def test_a_share_is_of_the_designs_own_value_and_units_are_converted() -> None:
    share = the(with_spread('"tag.series_resistance" = { uniform = "10 %" }'))
    assert share.values("30 ohm", np.array([0.0, 1.0])) == ["27 ohm", "33 ohm"]
    other = the(with_spread('"base_coil.mean_diameter" = { uniform = "200 um" }'))
    assert other.values("44 mm", np.array([0.0, 1.0])) == ["43.8 mm", "44.2 mm"]
    turns = the(with_spread('"drive.supply" = { uniform = "100 mV" }'))
    assert turns.values("3.3 V", np.array([1.0])) == ["3.4 V"]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('"base_coil.mean_diametre" = { normal = "0.2 mm" }', "gives no value"),
        ('"base_coil.mean_diameter" = { normal = "-0.2 mm" }', "above zero"),
        ('"base_coil.mean_diameter" = { normal = "0.2 V" }', "length"),
        ('"base_coil.mean_diameter" = { normal = 0.2 }', "length"),
        ('"base_coil.mean_diameter" = "0.2 mm"', "no distribution"),
        ('"base_coil.mean_diameter" = { normal = "0.2 mm", uniform = "0.2 mm" }', "no distribution"),
        ('"base_coil.mean_diameter" = { uniform = "120 %" }', "less than 100 %"),
        ('"base_coil.wire.temperature" = { uniform = "2 %" }', "a difference of temperatures"),
        ('"base_coil.under" = { uniform = "2 %" }', "no number"),
        ('"base_coil.capacitor" = { uniform = "2 nF" }', "a share"),
        ('"places.height" = { uniform = "2 %" }', "no size of their own"),
        ('"places.width" = { uniform = "2 mm" }', "gives no value"),
    ],
)
def test_what_is_no_spread_is_told_at_its_key(line: str, told: str) -> None:
    with pytest.raises(StudyFaults) as faults:
        with_spread(line)
    text = str(faults.value)
    assert told in text
    assert 'spread."' in text


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('"base_coil.turns" = { normal = 2 }', "as base_coil.turns: 34.0 is not a whole number"),
        ('"base_coil.clearance" = { uniform = "1 mm" }', "draws -0.5 mm as base_coil.clearance:"),
        ('"tag.series_resistance" = { normal = "40 %" }', "draws -6 ohm as tag.series_resistance:"),
        ('"places.height" = { uniform = "20 mm" }', "draws -0.008 m as require.places.0.height:"),
        ('"base_coil.mean_diameter" = { normal = "40 %" }', "in every unit drawn"),
    ],
)
def test_a_spread_of_which_some_unit_cannot_be_is_told_before_any_is_drawn(line: str, told: str) -> None:
    with pytest.raises(StudyFaults, match="culture-bench") as caught:
        with_spread(line)
    (fault,) = caught.value.faults
    assert told in str(fault)
    assert fault.line is not None
    assert fault.key.startswith("spread.")


def test_a_spread_changes_nothing_of_the_study_itself() -> None:
    from studies.store import study_hash

    spread = with_spread('"base_coil.mean_diameter" = { normal = "0.2 mm" }')
    other = with_spread('"drive.supply" = { normal = "1 %" }')
    assert study_hash(spread) == study_hash(other)
    assert spread.base == other.base


def test_units_keep_the_designs_capacitors_and_differ_as_drawn() -> None:
    study = with_spread('"base_coil.capacitor" = { uniform = "2 %" }\n"places.height" = { uniform = "1 mm" }')
    units = units_of(study, None, 6, 1)
    assert (units.fitted.count, units.retuned.count) == (6, 6)
    drawn = units.draws
    first = units.fitted.candidate(0)
    nominal = first.coil.capacitor.capacitance / (1.0 + 0.02 * (2.0 * drawn[0, 0] - 1.0))  # type: ignore[union-attr]
    for number in range(6):
        unit, retuned = units.fitted.candidate(number), units.retuned.candidate(number)
        expected = nominal * (1.0 + 0.02 * (2.0 * drawn[number, 0] - 1.0))
        # Values are drawn to six digits, this one and that which the nominal was read off: up to 5e-6 each.
        assert unit.coil.capacitor.capacitance == pytest.approx(expected, rel=1e-5, abs=0.0)  # type: ignore[union-attr]
        assert retuned.coil.capacitor is None
        assert retuned.tag.capacitor == unit.tag.capacitor is not None
        for place, own in zip(unit.require.places, study.base.require.places, strict=True):
            assert place.height - own.height == pytest.approx(1e-3 * (2.0 * drawn[number, 1] - 1.0), abs=1e-7)
    again = units_of(study, None, 6, 1)
    assert np.array_equal(again.draws, drawn)


def test_the_interval_holds_the_true_share_as_often_as_it_says() -> None:
    generator = np.random.default_rng(5)
    for share in (0.5, 0.9, 0.98):
        passed = generator.binomial(200, share, 1000)
        intervals = {int(count): yield_of(int(count), 200) for count in set(passed)}
        held = np.mean([intervals[int(count)].low <= share <= intervals[int(count)].high for count in passed])
        assert 0.94 <= held <= 0.995  # exact intervals hold at least 95 %; a binomial count of 1,000 leaves ± 1.4 %
    assert (yield_of(0, 20).low, yield_of(20, 20).high) == (0.0, 1.0)
    assert yield_of(0, 20).high == pytest.approx(1.0 - 0.025 ** (1.0 / 20.0), rel=1e-6)


def test_shares_of_variance_are_those_of_a_closed_form() -> None:
    # Ishigami function, a = 7, b = 0.1: first-order shares 0.3139, 0.4424, 0 (T. Ishigami and T. Homma 1990, from
    # memory; worked out anew: V1 = (1 + b π⁴/5)²/2, V2 = a²/8, V = a²/8 + b π⁴/5 + b² π⁸/18 + 1/2).
    draws = np.random.default_rng(2).random((4000, 3))
    x = np.pi * (2.0 * draws - 1.0)
    values = np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    whole = 49.0 / 8.0 + 0.1 * np.pi**4 / 5.0 + 0.01 * np.pi**8 / 18.0 + 0.5
    expected = np.array([0.5 * (1.0 + 0.1 * np.pi**4 / 5.0) ** 2, 49.0 / 8.0, 0.0]) / whole
    first, error = variance_shares(draws, values)
    assert np.all(np.abs(first - expected) <= np.maximum(error, 0.02))
    assert np.all(error < 0.06)
