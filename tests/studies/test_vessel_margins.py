"""The link in each vessel, against the same places asked for as required places of a study."""

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from studies.asked_places import ceiling_for
from studies.evaluation import Evaluation, evaluated
from studies.pieces import piece_key, read_arrays, write_piece
from studies.report_vessels import vessels_shown
from studies.rows import number
from studies.running import run_study
from studies.specification import Place, Requirement
from studies.store import arrays_of
from studies.stored import StoredDesign
from studies.study import read_study, study_of
from studies.vessel_margins import vessel_columns
from studies.vessel_places import in_vessels
from tests.studies.small import SMALL

HEAD = SMALL.partition("[sweep]")[0]
VESSELS = """
[[vessels]]
name = "beaker"
standard = "ISO 3819 low form"
size = "250 ml"
[[vessels]]
name = "wide dish"
outer_diameter = "190 mm"
height = "40 mm"
[[vessels]]
name = "flask"
standard = "ISO 1773 round-bottom"
size = "500 ml"
[[vessels]]
name = "tight"
standard = "ISO 4797 round-bottom"
size = "500 ml"
neck = "19/26"
"""
DISC = '[puck]\nshape = "disc"\ndiameter = "20 mm"\nheight = "8 mm"\n'
OFF_THE_SPINDLE = DISC + 'tag_place = { along = "4 mm", tilt = "12 deg" }\nspindle_offset = "7 mm"\n'
WARM = '[temperatures.warm]\n"base_coil.wire" = "200 degC"\n'


def evaluation(text: str) -> Evaluation:
    return evaluated(study_of(text, Path("small.toml")).base)


@pytest.fixture(scope="module")
def plain() -> Evaluation:
    return evaluation(HEAD + VESSELS + DISC)


@pytest.fixture(scope="module")
def turning() -> Evaluation:
    return evaluation(HEAD + VESSELS + OFF_THE_SPINDLE)


def as_required(found: Evaluation, places: tuple[Place, ...]) -> list[float]:
    """Margins at places that are required of the same candidate, which has no vessels then [dB]."""
    candidate = replace(found.candidate, vessels=(), puck=None, require=Requirement(places))
    return [place.margin for place in evaluated(candidate).places]


@pytest.mark.parametrize("name", ["plain", "turning"])
def test_margins_are_those_of_the_same_places_asked_for_by_the_study(name: str, request: pytest.FixtureRequest) -> None:
    """The series of the air round the tag differ in their reach: to 0.02 dB, the study's accuracy being 2 %."""
    found: Evaluation = request.getfixturevalue(name)
    inside = {one.vessel.name: one for one in in_vessels(found.candidate)}
    for row in found.vessels[:3]:
        one = inside[str(row["vessel"])]
        assert row["held_margin_dB"] == pytest.approx(min(as_required(found, one.held)), abs=0.02)
        if one.wall:
            strongest = max(as_required(found, one.wall))  # of the weakest leans; upright there is no other
            if name == "plain":
                assert row["wall_margin_dB"] == pytest.approx(strongest, abs=0.02)
            else:
                assert row["wall_margin_dB"] > strongest + 0.1  # type: ignore[operator]


def test_off_the_spindle_the_worst_of_the_revolution_counts(plain: Evaluation, turning: Evaluation) -> None:
    row = turning.vessels[0]
    assert (row["least_offset_m"], row["greatest_offset_m"]) == pytest.approx((3e-3, 11e-3))
    assert row["held_margin_dB"] < plain.vessels[0]["held_margin_dB"]  # type: ignore[operator]


def test_verdicts_and_their_reasons(plain: Evaluation) -> None:
    beaker, dish, flask, tight = plain.vessels
    assert [row["vessel_verdict"] for row in plain.vessels] == ["fail", "pass", "pass", "fail"]
    assert str(beaker["why"]).startswith("thrown to the wall the tag still reads, margin ")
    assert dish["wall_margin_dB"] < 0.0  # type: ignore[operator]
    assert "comes back" not in str(flask["why"])
    assert "brings the puck back to the middle" in str(flask["remark"])
    assert "wall_margin_dB" not in flask
    assert tight["why"] == "the puck does not pass the neck: flat it is 20 mm across, the bore 16.2 mm"
    assert plain.row["vessels"] == 4
    assert plain.row["vessels_passed"] == 2
    assert plain.row["vessels_failed"] == "beaker, tight"


def test_a_vessel_wider_than_the_map_says_so_and_is_computed(plain: Evaluation) -> None:
    dish = plain.vessels[1]
    assert "wider than the map, which ends 8 mm off the axis" in str(dish["remark"])
    assert isinstance(dish["wall_margin_dB"], float)


def test_it_reads_out_to_where_the_margin_is_gone(plain: Evaluation) -> None:
    dish = plain.vessels[1]
    edge, height = dish["read_out_to_m"], dish["tag_height_m"]
    assert isinstance(edge, float)
    assert isinstance(height, float)
    near, far = as_required(plain, (Place(height, edge - 1.5e-3, 0.0), Place(height, edge + 1.5e-3, 0.0)))
    assert near > 0.0 > far


def test_the_required_margin_is_the_studys() -> None:
    strict = HEAD.replace("at_most =", 'at_least = { margin = "40 dB" }\nat_most =')
    flask = evaluation(strict + VESSELS + DISC).vessels[2]
    assert flask["vessel_verdict"] == "fail"
    assert "40.0 dB required" in str(flask["why"])


def test_the_worst_of_all_states_counts() -> None:
    both = evaluation(HEAD + VESSELS + DISC + WARM)
    margins = [evaluation(HEAD + VESSELS + DISC).vessels[2]["held_margin_dB"]]
    hot = both.vessels[2]
    assert hot["held_state"] == "warm"
    assert hot["held_margin_dB"] < margins[0]  # type: ignore[operator]
    assert both.vessels[0]["wall_state"] != "warm", "at the wall the strongest state is the worst"


def test_a_study_without_a_puck_has_no_such_columns() -> None:
    found = evaluation(HEAD + VESSELS)
    assert found.vessels == ()
    assert not [name for name in found.row if name.startswith("vessel")]
    assert vessel_columns(()) == {}


def test_vessels_are_part_of_what_a_result_was_computed_from_once_there_is_a_puck(plain: Evaluation) -> None:
    with_puck, without = plain.candidate, replace(plain.candidate, puck=None)
    fewer = {"vessels": with_puck.vessels[:1]}
    assert piece_key(with_puck, "") != piece_key(replace(with_puck, **fewer), "")  # type: ignore[arg-type]
    assert piece_key(without, "") == piece_key(replace(without, **fewer), "")  # type: ignore[arg-type]


def test_rows_come_back_from_a_piece(plain: Evaluation, tmp_path: Path) -> None:
    stored = StoredDesign(0, "c0001", "done", "", {"design": "c0001", **plain.row})
    write_piece(tmp_path / "c0001.npz", "k", stored, plain)
    assert read_arrays(tmp_path / "c0001.npz").vessels == plain.vessels


def test_a_vessel_that_stands_higher_than_all_that_is_looked_at_else() -> None:
    stand = '[[vessels]]\nname = "stand"\nouter_diameter = "80 mm"\nheight = "200 mm"\nbottom_thickness = "150 mm"\n'
    found = evaluation(HEAD + stand + DISC)
    row, place = found.vessels[0], in_vessels(found.candidate)[0].held[0]
    assert place.height == pytest.approx(154e-3)
    assert row["held_margin_dB"] == pytest.approx(as_required(found, (place,))[0], abs=0.02)
    assert ceiling_for(found.candidate, found.candidate.coil.mean_diameter) == pytest.approx(154e-3)


def test_a_block_with_a_well_holds_the_vessel_up(tmp_path: Path) -> None:
    block = """
[[solids]]
name = "block"
shape = "heat block"
material = "glass"
outer_diameter = "130 mm"
height = "25 mm"
well_diameter = "40 mm"
well_depth = "20 mm"
[[vessels]]
name = "flask"
standard = "ISO 1773 round-bottom"
size = "500 ml"
stands = "in block"
"""
    row = evaluation(HEAD.replace("[base_coil]", block + "[base_coil]", 1) + DISC).vessels[0]
    rim = 25e-3 - (52.5e-3 - (52.5e-3**2 - 20e-3**2) ** 0.5)
    assert row["standing_height_m"] == pytest.approx(rim, abs=2e-5)
    lift = 50.5e-3 - (50.5e-3**2 - 10e-3**2) ** 0.5
    assert row["tag_height_m"] == pytest.approx(rim + 2e-3 + lift + 4e-3, abs=2e-5)
    assert isinstance(row["held_margin_dB"], float)


def test_a_run_writes_the_table_and_the_report_shows_it(tmp_path: Path) -> None:
    file = tmp_path / "small.toml"
    file.write_text(HEAD + VESSELS + DISC, encoding="utf-8")
    outcome = run_study(read_study(file), tmp_path / "run", workers=1, fresh=False)
    with (tmp_path / "run" / "vessels.csv").open(encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table))
    assert [(row["design"], row["vessel"]) for row in rows] == [
        ("c0001", name) for name in ("beaker", "wide dish", "flask", "tight")
    ]
    run = outcome.run
    shown = vessels_shown(run.study.base, arrays_of(run, run.designs[0]).vessels)
    assert shown is not None
    assert "in 2 of 4 vessels: wide dish, flask. Not in beaker: thrown to the wall" in shown.finding
    assert [row.passed for row in shown.rows] == [False, True, True, False]
    assert shown.rows[2].cells[-1] == "slides back"
    assert shown.rows[3].cells == ("none",) * 6
    page = (tmp_path / "run" / "report.html").read_text(encoding="utf-8")
    assert '<section id="vessels">' in page
    assert "Rings: the tag in each vessel" in page


def test_at_the_wall_the_best_tuned_unit_has_to_lose_it_and_held_the_worst_has_to_read() -> None:
    """Against every corner and middle of both capacitors' ranges given by itself."""
    pair = "choose = 'pair'\ntolerance = 0.05\n"
    spread = f"[base_coil.capacitor]\n{pair}[tag.capacitor]\n{pair}"
    found = evaluation(HEAD + VESSELS + DISC + spread)
    tuned = evaluation(HEAD + VESSELS + DISC)
    beaker, exact = found.vessels[0], tuned.vessels[0]
    assert number(beaker, "wall_margin_dB") > number(exact, "wall_margin_dB") - 0.05
    row, held, wall = found.row, [], []
    for base in ("least", "greatest"):
        for tag in ("least", "greatest"):
            ends = (number(row, f"{side}tuning_capacitance_{end}_F") for side, end in (("", base), ("tag_", tag)))
            given = "[base_coil.capacitor]\ncapacitance = '{!r} F'\n[tag.capacitor]\ncapacitance = '{!r} F'\n".format(
                *ends
            )
            one = evaluation(HEAD + VESSELS + DISC + given).vessels[0]
            held.append(number(one, "held_margin_dB"))
            wall.append(number(one, "wall_margin_dB"))
    assert number(beaker, "held_margin_dB") == pytest.approx(min(held), abs=1e-6)
    assert number(beaker, "wall_margin_dB") >= max(wall) - 1e-6
