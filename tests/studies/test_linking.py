"""The link over the heights: margins, windows and error bands that agree with one another."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from studies.coupling import Coupling, coupling_of
from studies.evaluation import Evaluation
from studies.linking import Profile, exchange_table, profiles
from studies.specification import Candidate
from tests.studies.conftest import Evaluator

TIGHT = (
    "base_coil.mean_diameter=20 mm",
    "drive.resistance=0.5 ohm",
    "tag.series_resistance=2 ohm",
    "tag.chip.load_resistance=1 Mohm",
    "tag.chip.minimum_voltage=500 V",
)
"""Two coils of high Q, close together: past critical coupling the chip voltage falls as the tag comes closer."""


@pytest.fixture(scope="session")
def tight(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of(*TIGHT)


@pytest.fixture(scope="session")
def usual(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of("tag.chip.minimum_voltage=15 V")


def lines_of(candidate: Candidate, coupling: Coupling) -> tuple[Profile, ...]:
    """The lines of margins as a candidate's evaluation makes them."""
    return profiles(candidate, coupling, exchange_table(candidate, coupling))


def crossings(profile: Profile) -> list[float]:
    """Heights at which the margin goes through 0 dB, found apart from the reading window."""
    found = []
    for (low, before), (high, after) in pairwise(zip(profile.heights, profile.margin, strict=True)):
        if (before >= 0.0) != (after >= 0.0):
            found.append(low + (high - low) * before / (before - after))
    return found


def test_an_over_coupled_tag_has_a_lower_edge(tight: Evaluation) -> None:
    axis = tight.profiles[0]
    assert not axis.window.starts_at_begin
    assert axis.margin[0] < 0.0 < axis.margin.max()
    assert tight.row["read_height_lower_edge_m"] == axis.window.lower
    assert tight.row["coupling_coefficient"] is not None
    assert any("so tightly" in text for text in tight.warnings)


def test_a_loose_tag_has_none(usual: Evaluation) -> None:
    axis = usual.profiles[0]
    assert axis.window.starts_at_begin
    assert usual.row["read_height_lower_edge_m"] is None
    assert np.all(np.diff(axis.margin) < 0.0)


@pytest.mark.parametrize("which", ["tight", "usual"])
def test_the_window_is_where_the_margin_is_not_negative(which: str, request: pytest.FixtureRequest) -> None:
    found: Evaluation = request.getfixturevalue(which)
    for line in found.profiles:
        ends = [edge for interval in line.window.intervals for edge in interval]
        inside = [edge for edge in ends if edge not in (line.heights[0], line.heights[-1])]
        np.testing.assert_allclose(inside, crossings(line), rtol=1e-9)
    assert found.row["read_height_m"] == found.profiles[0].window.upper
    assert found.row["required_read_height_m"] == found.profiles[-1].window.upper


def test_the_line_begins_at_the_lowest_place_and_ends_at_the_ceiling(usual: Evaluation) -> None:
    for line in usual.profiles:
        assert line.heights[0] == 6e-3
        assert line.heights[-1] == pytest.approx(2.5 * 40e-3, rel=1e-12, abs=0.0)
        assert np.all(np.diff(line.heights) > 0.0)


def test_a_larger_error_widens_the_band_and_never_moves_the_line(usual: Evaluation, evaluation_of: Evaluator) -> None:
    coils = usual.coils
    doubtful = replace(coils, tag=replace(coils.tag, spread=0.3))
    (sure,), (unsure,) = (
        lines_of(replace(usual.candidate, require=replace(usual.candidate.require, places=())), coupling)[:1]
        for coupling in (coupling_of(usual.candidate, coils), coupling_of(usual.candidate, doubtful))
    )
    np.testing.assert_array_equal(sure.margin, unsure.margin)
    assert np.all(unsure.margin_low < sure.margin_low)
    assert np.all(unsure.margin_high > sure.margin_high)
    # Far up the coupling is loose and the chip voltage goes with M: 30 % less is 3.1 dB.
    assert sure.margin[-1] - unsure.margin_low[-1] == pytest.approx(-20.0 * np.log10(0.7), rel=3e-2, abs=0.0)


def test_an_error_beyond_the_whole_leaves_no_lower_bound(usual: Evaluation) -> None:
    hopeless = replace(usual.coils, tag=replace(usual.coils.tag, spread=1.5))
    line = lines_of(usual.candidate, coupling_of(usual.candidate, hopeless))[0]
    assert np.all(np.isneginf(line.margin_low))


@pytest.mark.parametrize("which", ["tight", "usual"])
def test_the_worst_lean_never_has_more_margin_than_the_outward_one(which: str, request: pytest.FixtureRequest) -> None:
    kept = request.getfixturevalue(which).map
    assert np.all(kept.worst_margin <= kept.margin + 1e-9)
    assert np.all(np.abs(kept.worst_mutual_inductance) <= np.abs(kept.mutual_inductance) * (1.0 + 1e-9))


def test_over_coupled_the_strongest_lean_is_the_worst(tight: Evaluation) -> None:
    """At the lowest place off the axis, leaning outward raises M, and past critical coupling that costs margin."""
    tilt = 1
    assert tight.map.margin[0, 1, tilt] < tight.map.margin[0, 1, 0]
    assert tight.map.worst_margin[0, 1, tilt] == pytest.approx(tight.map.margin[0, 1, tilt], rel=1e-9, abs=0.0)


def test_full_duplex_margin_is_the_least_of_power_and_reply(evaluation_of: Evaluator) -> None:
    power = evaluation_of()
    both = evaluation_of("link.mode=full-duplex")
    assert both.row["power_margin_dB"] == power.row["power_margin_dB"]
    assert both.row["margin_dB"] == min(both.row["power_margin_dB"], both.row["reply_margin_dB"])
    deaf = evaluation_of("link.mode=full-duplex", "link.receiver.minimum_voltage=1 kV")
    assert np.all(deaf.map.margin < both.map.margin)
    assert np.all(deaf.map.chip_voltage == both.map.chip_voltage)


def test_the_clamp_is_shown_and_does_not_cut_the_margin(evaluation_of: Evaluator) -> None:
    free, held = evaluation_of(), evaluation_of("tag.chip.clamp_voltage=8 V")
    assert free.row["clamped_chip_voltage_V"] == free.row["chip_voltage_V"]
    assert held.row["clamped_chip_voltage_V"] == 8.0
    assert held.row["margin_dB"] == free.row["margin_dB"]


def test_a_current_limit_holds_the_current_and_says_so(evaluation_of: Evaluator) -> None:
    free = evaluation_of()
    assert not free.row["drive_limited"]
    held = evaluation_of("drive.current_limit=100 mA")
    assert held.row["drive_limited"]
    assert held.row["base_current_A"] == pytest.approx(0.1, rel=1e-9, abs=0.0)
    assert any("drive.current_limit" in text for text in held.warnings)
    lost = 20.0 * np.log10(free.row["base_current_A"] / held.row["base_current_A"])
    assert 0.0 < free.row["power_margin_dB"] - held.row["power_margin_dB"] <= lost * 1.01
    assert free.row["reply_margin_dB"] == held.row["reply_margin_dB"]
