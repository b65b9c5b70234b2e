"""The decision in words: who passes, who is nearest, what stops the others."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from studies.findings import findings, headlines, margin_error
from studies.specification import Requirement
from studies.study import Study
from tests.studies.made_runs import bench, done, failed, first_look, margin_check, run_of, voltage_check

REPOSITORY = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def study() -> Study:
    return bench()


def test_passing_candidates_stand_by_margin_and_equal_ones_by_input_power(study: Study) -> None:
    low = done(study, 0, margin_dB=4.0, input_power_W=0.1)
    hungry = done(study, 1, margin_dB=6.04, input_power_W=0.9)
    frugal = done(study, 2, margin_dB=6.01, input_power_W=0.3)
    assert findings(run_of(study, low, hungry, frugal)).passing == (frugal, hungry, low)


def test_failing_candidates_stand_by_what_they_miss_most(study: Study) -> None:
    far = done(study, 0, (margin_check(-3.0),))
    near = done(study, 1, (voltage_check(129.0), margin_check(5.0)))
    two = done(study, 2, (voltage_check(129.0), margin_check(2.9)))
    found = findings(run_of(study, far, near, two))
    assert found.failing == (near, two, far)
    assert found.best is near
    assert found.best_other is near


def test_the_best_passes_where_any_does(study: Study) -> None:
    passes, misses = done(study, 0, (margin_check(3.1),)), done(study, 1, (voltage_check(126.0),), margin_dB=9.0)
    found = findings(run_of(study, misses, passes))
    assert found.best is passes
    assert found.best_other is misses


def test_each_requirement_is_counted_where_missed_and_where_missed_most(study: Study) -> None:
    designs = [
        done(study, 0, (voltage_check(250.0), margin_check(2.0))),
        done(study, 1, (voltage_check(130.0), margin_check(-9.0))),
        done(study, 2, (voltage_check(130.0),)),
        done(study, 3, (voltage_check(250.0), margin_check(2.0))),
        done(study, 4, (voltage_check(100.0), margin_check(9.0))),
    ]
    reasons = findings(run_of(study, *designs)).reasons
    assert [(r.quantity, r.missed, r.stopped) for r in reasons] == [("coil_voltage", 4, 3), ("margin", 3, 1)]
    assert reasons[0].label == "coil voltage at most 125 V"


def test_margin_within_its_error_is_named_as_doubtful(study: Study) -> None:
    close = done(study, 0, (margin_check(3.4),), margin_dB=3.4, mutual_inductance_rel_error=0.1)
    clear = done(study, 1, (margin_check(4.1),), margin_dB=4.1, mutual_inductance_rel_error=0.1)
    found = findings(run_of(study, close, clear))
    assert found.doubtful == (close,)
    assert "Within the estimated error of the margin and so not sure to pass: c0001." in headlines(found)


def test_margin_error_is_that_of_a_chip_voltage_in_proportion_to_m(study: Study) -> None:
    # 20 log10(0.9) = −0.915 dB, from any table of logarithms.
    # The spread of a stock part is within the error of M (`studies.evaluation.error_columns`) and not added again.
    for spread in (0.0, 0.1):
        stored = done(study, 0, mutual_inductance_rel_error=0.1, tag_spread=spread)
        assert margin_error(stored) == pytest.approx(0.915, abs=5e-4)


def test_headline_says_how_many_which_and_what_stops_the_next(study: Study) -> None:
    best = done(study, 22, (margin_check(10.3), voltage_check(99.0)), margin_dB=10.3)
    other = done(study, 23, (margin_check(11.0), voltage_check(312.0)))
    worse = done(study, 24, (margin_check(1.0), voltage_check(312.0)))
    first, stop, binds, counts, state = headlines(findings(run_of(study, best, other, worse)))
    assert first.startswith(
        "1 of 3 candidates meets the requirements; best: c0023 (mean diameter 54 mm, 90 turns, under "
    )
    assert "margin 10.3 dB at 42 mm up, 8 mm off, 15° tilt" in first
    assert stop == (
        "What stops the best of the others, c0024 (mean diameter 54 mm, 90 turns, under heater): "
        "coil voltage 312 V, at most 125 V required, 187 V too much."
    )
    assert binds.startswith(
        "Binding requirement of the study: coil voltage at most 125 V; without it 1 more would pass"
    )
    assert counts == "Of the 2 that do not: coil voltage at most 125 V stops 2."
    assert state == "3 of 36 candidates are stored so far; the run can be carried on."


def test_where_none_passes_the_nearest_is_named_with_all_it_misses_counted(study: Study) -> None:
    first, stop, *_ = headlines(findings(run_of(study, done(study, 0, (voltage_check(312.0), margin_check(2.0))))))
    assert first == "None of 1 candidate meets the requirements."
    assert stop.startswith("What stops the nearest to them, c0001 (")
    assert stop.endswith("coil voltage 312 V, at most 125 V required, 187 V too much, and 1 more requirement missed.")


def test_candidates_that_could_not_be_computed_are_told_with_their_reason(study: Study) -> None:
    designs = [failed(study, i, "no room") for i in range(5)]
    lines = headlines(findings(run_of(study, *designs)))
    assert lines[0] == "No candidate could be computed."
    assert "Not computed: c0001 (no room); c0002 (no room); c0003 (no room); and 2 more." in lines


def test_an_empty_run_says_so(study: Study) -> None:
    assert headlines(findings(run_of(study)))[0] == "No candidate is computed yet."


def test_one_design_reads_naturally() -> None:
    study = first_look()
    met, binds = headlines(findings(run_of(study, done(study, 0, (margin_check(4.0),)))))
    assert met == (
        "The design meets the requirements: margin 5.0 dB at 42 mm up, 8 mm off, 15° tilt, "
        "read up to 55 mm (8 mm off the axis, leaning 15° the worst way)."
    )
    assert binds == (
        "Binding requirement: margin at least 3 dB, met with the least to spare, 4 dB, 1 dB to spare "
        "(42 mm up, 8 mm off, 15° tilt)."
    )
    missed, which = headlines(findings(run_of(study, done(study, 0, (voltage_check(312.0),)))))
    assert missed == (
        "The design does not meet the requirements: coil voltage 312 V, at most 125 V required, 187 V too much."
    )
    assert which == "Binding requirement: coil voltage at most 125 V, missed the most, 312 V, 187 V too much."
    (broken,) = headlines(findings(run_of(study, failed(study, 0, "the mesh has no elements"))))
    assert broken == "The design could not be computed: the mesh has no elements."


def test_a_study_that_requires_nothing_is_not_said_to_be_met() -> None:
    study = first_look()
    study = replace(study, base=replace(study.base, require=Requirement()))
    (line,) = headlines(findings(run_of(study, done(study, 0))))
    assert line.startswith("The design reads the tag: margin 5.0 dB")
    assert "requirements" not in line


def test_findings_need_no_drawing_library() -> None:
    code = "import sys, studies.findings; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=REPOSITORY, check=False).returncode == 0
