"""The base coil's wire beside its ratings: columns, what a designer is told, and the report's table."""

from collections.abc import Callable
from dataclasses import replace
from math import pi, sqrt
from typing import Any

import pytest

from fem.turn_linkage import greatest_turn_share
from studies.evaluation import Evaluation
from studies.findings import findings
from studies.report_wire import wire_lines
from studies.rows import Row
from studies.specification import Candidate, Limit, Requirement
from studies.study import Study
from studies.texts import row_lines
from studies.verdict import verdict
from studies.wire_limits import wire_columns, wire_remarks
from tests.studies.conftest import Evaluator
from tests.studies.made_runs import bench, done, run_of
from tests.studies.small import SMALL

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]

AREA = 0.25 * pi * 0.25e-3**2


def columns(evaluation: Evaluation, voltage: float = 80.0, current: float = 0.4) -> Row:
    return wire_columns(evaluation.candidate, evaluation.coils, voltage, current)


def wired(candidate: Candidate, **changes: Any) -> Candidate:
    return replace(candidate, coil=replace(candidate.coil, wire=replace(candidate.coil.wire, **changes)))


def _ratio(evaluation: Evaluation) -> float:
    base = evaluation.coils.base
    return greatest_turn_share(base.section, base.inductance / base.turns**2)


def told(evaluation: Evaluation, voltage: float, current: float = 0.1, **changes: Any) -> list[str]:
    """What is told of the small study's wire with ratings set over it, at a coil voltage and a current."""
    rated = {"rated_temperature": 200.0, "rated_voltage": 1e4, "rated_current_density": 1e9} | changes
    candidate = wired(evaluation.candidate, **rated)
    return wire_remarks(candidate, voltage, wire_columns(candidate, evaluation.coils, voltage, current))


@pytest.fixture(scope="module")
def small(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of()


def test_columns_by_hand(small: Evaluation) -> None:
    """40 turns in 3 mm of length, ten a layer: 20 turns between neighbours; 80 V are 2 V a turn."""
    row = columns(small)
    assert row["volts_per_turn_V"] == 2.0
    assert row["neighbour_turns"] == 20
    most = row["most_volts_per_turn_V"]
    assert isinstance(most, float)
    assert 2.0 < most < 2.6
    assert row["worst_neighbour_voltage_V"] == pytest.approx(20.0 * most, rel=1e-12, abs=0.0)
    assert row["current_density_rms_A_per_m2"] == pytest.approx(0.4 / sqrt(2.0) / AREA, rel=1e-12, abs=0.0)
    assert row["bend_radius_m"] == pytest.approx(18.5e-3, rel=1e-12, abs=0.0)
    assert row["least_bend_radius_m"] == pytest.approx(1.5e-3, rel=1e-12, abs=0.0)
    assert row["wire_temperature_degC"] == 20.0
    assert [row[f"wire_rated_{name}"] for name in ("voltage_V", "temperature_degC")] == [None, None]


@pytest.mark.parametrize(("laying", "turns"), [("layers", 20), ("layers with return", 11), ("random", 40)])
def test_laying_says_how_many_turns_lie_between(evaluation_of: Evaluator, laying: str, turns: int) -> None:
    row = columns(evaluation_of(f"base_coil.laying={laying}"))
    assert row["neighbour_turns"] == turns
    if laying == "random":
        assert row["worst_neighbour_voltage_V"] == 80.0


def test_duty_lowers_the_current_density_alone(evaluation_of: Evaluator, small: Evaluation) -> None:
    half, full = evaluation_of("drive.duty=0.25"), small
    assert half.candidate.drive.duty == 0.25
    changed = {name: value for name, value in columns(half).items() if value != columns(full)[name]}
    (value,) = changed.values()
    assert value == pytest.approx(0.5 * 0.4 / sqrt(2.0) / AREA, rel=1e-12, abs=0.0)


def test_nothing_is_told_of_a_wire_within_its_ratings(small: Evaluation) -> None:
    assert told(small, 80.0) == []


@pytest.mark.parametrize(
    ("voltage", "current", "changes", "text"),
    [
        (
            80.0, 0.1, {"rated_voltage": 40.0},
            "base_coil.wire.rated_voltage: up to {voltage} V peak stands between turns that touch (20 turns apart, "
            "laid in layers to and fro), 40 V is what the covering stands",
        ),
        (
            80.0, 0.1, {"rated_voltage": 60.0},
            "base_coil.wire.rated_voltage: 80 V peak stands across the coil, 60 V is what the covering stands: turns "
            "that touch see less, but the coil's two ends must be kept apart, or sleeved where they cross",
        ),
        (
            160.0, 0.1, {"rated_voltage": None},
            "base_coil.wire.rated_voltage: none is given, and up to {voltage} V peak stands between turns that touch "
            "(20 turns apart, laid in layers to and fro)",
        ),
        (
            10.0, 0.5, {"rated_current_density": 5e6},
            "base_coil.wire.rated_current_density: the wire carries 7.2 A/mm² rms at a duty of 1, 5 A/mm² is what it "
            "is rated for",
        ),
        (
            10.0, 0.5, {"rated_current_density": None},
            "base_coil.wire.rated_current_density: none is given, and the wire carries 7.2 A/mm² rms at a duty of 1",
        ),
        (
            10.0, 0.1, {"minimum_bend_radius": 25e-3},
            "base_coil.wire.minimum_bend_radius: the innermost turn is bent to 18.5 mm, 25 mm is the least its "
            "covering stands (as given)",
        ),
        (
            10.0, 0.1, {"overall_diameter": 4e-3},
            "base_coil.wire.minimum_bend_radius: the innermost turn is bent to 18.5 mm, 20 mm is the least its "
            "covering stands (5 times the covered wire, for resin: common practice, no source)",
        ),
        (
            10.0, 0.1, {"rated_temperature": None, "temperature": 150.0},
            "base_coil.wire.rated_temperature: none is given, and the wire is at 150 degC",
        ),
    ],
)  # fmt: skip
def test_a_rating_that_is_passed_or_lacking_is_told_with_its_number(
    small: Evaluation, voltage: float, current: float, changes: dict[str, Any], text: str
) -> None:
    between = 0.5 * voltage * _ratio(small)  # 20 of 40 turns
    assert told(small, voltage, current, **changes) == [text.format(voltage=f"{between:.3g}")]


@pytest.mark.parametrize(
    ("voltage", "current", "changes"),
    [
        (80.0, 0.1, {"rated_voltage": None}),
        (10.0, 0.1, {"rated_current_density": None}),
        (10.0, 0.1, {"rated_temperature": None, "temperature": 100.0}),
    ],
)
def test_a_rating_that_does_not_matter_is_not_asked_for(
    small: Evaluation, voltage: float, current: float, changes: dict[str, Any]
) -> None:
    assert told(small, voltage, current, **changes) == []


def test_every_evaluation_tells_of_its_wire(evaluation_of: Evaluator) -> None:
    rated = evaluation_of("base_coil.wire.rated_voltage=1 V")
    assert any(text.startswith("base_coil.wire.rated_voltage: up to") for text in rated.warnings)


def test_keys_are_read_and_what_is_left_open_is_noted(read: Reader) -> None:
    base = read(SMALL).base
    assert (base.coil.laying, base.drive.duty) == ("layers", 1.0)
    noted = {one.key: (one.value, one.reason) for one in base.assumptions}
    assert noted["base_coil.laying"] == ("layers", "wound by machine, to and fro")
    assert noted["drive.duty"] == ("1", "always on, which heats the wire the most")
    given = (
        "base_coil.laying=random", "drive.duty=0.5", "base_coil.wire.rated_current_density=6 A/mm2",
        "base_coil.wire.minimum_bend_radius=20 mm",
    )  # fmt: skip
    base = read(SMALL, *given).base
    assert (base.coil.laying, base.drive.duty) == ("random", 0.5)
    assert (base.coil.wire.rated_current_density, base.coil.wire.minimum_bend_radius) == (6e6, 20e-3)
    assert not {"base_coil.laying", "drive.duty"} & {one.key for one in base.assumptions}


def test_keys_can_be_swept(read: Reader) -> None:
    study = read(
        f'{SMALL.replace(", 60, 300]", "]")}"base_coil.laying" = ["layers", "random"]\n"drive.duty" = [0.1, 1]\n'
    )
    found = {(candidate.coil.laying, candidate.drive.duty) for candidate in study.candidates()}
    assert found == {("layers", 0.1), ("layers", 1.0), ("random", 0.1), ("random", 1.0)}


@pytest.mark.parametrize(
    ("override", "text"),
    [
        (
            "base_coil.laying=layer",
            '"layer" is not known here; one of layers, layers with return, random; did you mean',
        ),
        ("drive.duty=0", "0 is out of bounds; a number (share of the time that the drive is on) of 1e-06 to 1"),
        ("drive.duty=1.5", "1.5 is out of bounds"),
        ("base_coil.wire.rated_current_density=6", 'did you mean "6 A/mm2"'),
        ("base_coil.wire.minimum_bend_radius=-1 mm", '"-1 mm" is negative; a length of'),
    ],
)
def test_faults(faults: FaultLister, override: str, text: str) -> None:
    (line,) = faults(SMALL, override)
    assert line.startswith(f"--set: {override.partition('=')[0]}: ")
    assert text in line


def test_limits_are_read_and_held(read: Reader) -> None:
    limits = ("require.at_most.neighbour_voltage=20 V", "require.at_most.volts_per_turn=3 V")
    at_most = read(SMALL, *limits).base.require.at_most
    assert {Limit("neighbour_voltage", 20.0), Limit("volts_per_turn", 3.0)} < set(at_most)
    got = {"neighbour_voltage": 25.0, "volts_per_turn": 2.5}
    found = verdict(Requirement(at_most=(Limit("neighbour_voltage", 20.0), Limit("volts_per_turn", 3.0))), got, {})
    (missed,) = found.failures
    assert missed.sentence == "voltage between neighbouring turns 25 V, at most 20 V required, 5 V too much"


def test_the_terminal_shows_them_under_a_heading_of_their_own(small: Evaluation) -> None:
    lines = row_lines({"design": "base", **small.row, **columns(small)})
    begin = lines.index("The base coil's wire and what it stands")
    block = lines[begin : lines.index("", begin)]
    assert any(line.split()[:3] == ["worst", "neighbour", "voltage"] and line.endswith(" V") for line in block)
    assert any(line.split() == ["neighbour", "turns", "20"] for line in block)
    assert any(line.split() == ["bend", "radius", "18.5", "mm"] for line in block)
    assert any(line.split() == ["current", "density", "rms", "5.762", "A/mm²"] for line in block)


def test_the_reports_table_sets_each_beside_its_rating() -> None:
    study = bench()
    stored = done(study, 20)
    lines = {line.name: line for line in wire_lines(study.candidate(20), stored)}
    between = lines["voltage between neighbouring turns, peak"]
    assert (between.value, between.rating, between.used) == ("34 V", "150 V", "22.7 %")
    assert between.remark == "an upper bound: 20 turns apart, laid in layers to and fro"
    assert lines["voltage of one turn, peak"].value == "1.55 V"
    density = lines["current density, rms"]
    assert (density.value, density.rating, density.used) == ("4 A/mm²", "none given", "")
    bend = lines["bend radius, innermost turn"]
    assert (bend.value, bend.rating, bend.used) == ("20.5 mm", "at least 1.5 mm", "7.32 %")
    assert (lines["wire temperature"].rating, lines["wire temperature"].used) == ("500 °C", "250 K left")
    hot = wired(study.candidate(20), temperature=510.0, rated_current_density=8e6)
    lines = {line.name: line for line in wire_lines(hot, stored)}
    assert lines["wire temperature"].used == "10 K too hot"
    assert lines["current density, rms"].used == "50 %"


def test_results_of_before_have_no_such_table() -> None:
    study = bench()
    assert wire_lines(study.candidate(20), done(study, 20, worst_neighbour_voltage_V=None)) == ()


def test_the_page_holds_the_table() -> None:
    from studies.figures import Shown, Subject
    from studies.report import _context
    from studies.templating import page_template
    from tests.studies.made_runs import arrays_for

    study = bench()
    run = run_of(study, done(study, 20))
    subject = Subject(run.designs[0], study.candidate(20), arrays_for(study.candidate(20)))
    page = page_template("report.html.j2").render(_context(run, findings(run), subject, Shown((), ())))
    assert "voltage between neighbouring turns, peak" in page
    assert page.count('href="#wire"') == page.count('id="wire"') == 1
