"""Which requirement binds a whole study: where none passes, where some do, where all do."""

from dataclasses import replace

import pytest

from studies.binding import binding, binding_line
from studies.findings import findings, headlines
from studies.study import Study
from studies.verdict import Check
from tests.studies.made_runs import bench, done, margin_check, run_of, voltage_check


@pytest.fixture(scope="module")
def study() -> Study:
    return bench()


def test_a_requirement_that_none_meets_binds_and_says_how_far_off_the_nearest_is(study: Study) -> None:
    far = done(study, 0, (margin_check(2.0, 60.0), voltage_check(312.0)))
    near = done(study, 1, (margin_check(7.0, 60.0), voltage_check(99.0)))
    found = binding([near, far])
    assert found is not None
    assert (found.kind, found.check.quantity, found.nearest, found.freed) == ("met by none", "margin", near, 1)
    assert binding_line(found, 2) == (
        "Binding requirement of the study: margin at least 60 dB is met by none of 2; c0002 comes nearest, 7 dB, "
        "53 dB short (42 mm up, 8 mm off, 15° tilt)."
    )
    assert binding_line(found, 2) in headlines(findings(run_of(study, near, far)))


def test_of_several_that_none_meets_that_binds_which_is_farthest_off_and_the_rest_are_named(study: Study) -> None:
    # The voltage is twice the limit at best (half missed), the margin 3 dB short at best (0.29 missed).
    designs = [done(study, i, (margin_check(0.0 - i), voltage_check(250.0 + i))) for i in range(2)]
    found = binding(designs)
    assert found is not None
    assert found.check == voltage_check(250.0)
    assert found.others == ("margin at least 3 dB",)
    assert binding_line(found, 2).endswith(
        "coil voltage at most 125 V is met by none of 2; c0001 comes nearest, 250 V, 125 V too much. "
        "Met by none either: margin at least 3 dB."
    )


def test_where_some_pass_that_binds_without_which_most_more_would(study: Study) -> None:
    # The margin is missed most often, but never alone; two would pass without the limit of the coil's voltage.
    passing = done(study, 0, (margin_check(9.0), voltage_check(99.0)))
    reach = Check("read_height", "at_least", 0.048, 0.03, False, 0.375)
    both = [done(study, i, (margin_check(-9.0), voltage_check(99.0), reach)) for i in range(1, 4)]
    volts = [done(study, 4, (margin_check(4.0), voltage_check(150.0)))]
    volts.append(done(study, 5, (margin_check(4.0), voltage_check(135.0))))
    found = binding([passing, *volts, *both])
    assert found is not None
    assert (found.kind, found.freed, found.stopped, found.nearest) == ("met by some", 2, 2, volts[1])
    assert binding_line(found, 6) == (
        "Binding requirement of the study: coil voltage at most 125 V; without it 2 more would pass, first of them "
        "c0006, 135 V, 10 V too much."
    )


def test_where_none_passes_though_each_is_met_by_some_one_still_binds(study: Study) -> None:
    weak = done(study, 0, (margin_check(-3.0), voltage_check(99.0)))
    strong = done(study, 1, (margin_check(9.0), voltage_check(130.0)))
    found = binding([strong, weak])
    assert found is not None
    # Each would let one pass: the margin's candidate has to be helped more.
    assert (found.kind, found.check.quantity, found.freed) == ("met by some", "margin", 1)
    assert binding_line(found, 2).endswith(
        "without it 1 more would pass, first of them c0001, -3 dB, 6 dB short (42 mm up, 8 mm off, 15° tilt)."
    )


def test_where_no_single_one_would_let_another_pass_that_is_said(study: Study) -> None:
    one = (margin_check(-3.0), voltage_check(130.0), replace(voltage_check(99.0), quantity="capacitor_voltage"))
    two = (margin_check(9.0), voltage_check(130.0), replace(voltage_check(140.0), quantity="capacitor_voltage"))
    three = (margin_check(1.0), voltage_check(99.0), replace(voltage_check(140.0), quantity="capacitor_voltage"))
    found = binding([done(study, i, checks) for i, checks in enumerate((one, two, three))])
    assert found is not None
    assert "2 of 3 miss it, each of them another one too" in binding_line(found, 3)


def test_where_all_pass_the_closest_of_the_best_binds(study: Study) -> None:
    best = done(study, 0, (margin_check(9.0), voltage_check(120.0)))
    found = binding([best, done(study, 1, (margin_check(3.0), voltage_check(1.0)))])
    assert found is not None
    assert binding_line(found, 2) == (
        "Binding requirement of the best, c0001: coil voltage at most 125 V, met with the least to spare, 120 V, "
        "5 V to spare."
    )


def test_nothing_binds_where_nothing_is_computed() -> None:
    assert binding([]) is None


@pytest.mark.parametrize(
    ("check", "spare"),
    [
        (Check("margin", "at_least", 0.0, 20.0, True, 0.0), 0.9),
        (Check("read_height", "at_least", 0.0, 0.05, True, 0.0), 1.0),
        (Check("read_height", "at_least", 0.0, None, False, 1.0), -1.0),
        (Check("wire_temperature", "at_most", 26.85, -3.15, True, 0.0), 0.1),
        (Check("current", "at_most", 0.4, 0.3, True, 0.0), 0.25),
    ],
)
def test_what_is_to_spare_is_relative_as_what_is_missed(check: Check, spare: float) -> None:
    assert check.spare == pytest.approx(spare, rel=1e-12, abs=0.0)
