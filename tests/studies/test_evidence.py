"""The evidence on a run's own base design: computed, kept, warned of, shown, and never in a run's way."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from fem.errors import AccuracyError
from fem.reaction_field import reaction_solution
from geometries.errors import GeometryError
from studies import evidence as module
from studies.command import main
from studies.evidence import Evidence, evidence, evidence_warnings
from studies.info_records import from_info
from studies.report_evidence import evidence_shown, warnings_of
from studies.running import base_evidence, run_study
from studies.store import read_info
from studies.study import Study, read_study
from studies.surroundings import surroundings
from tests.studies.small import SMALL

FOIL = """
[[layers]]
name = "foil"
kind = "foil"
material = "aluminium"
thickness = "0.02 mm"
outer_diameter = "90 mm"

[base_coil]
"""
ONE = SMALL[: SMALL.index("[sweep]")].replace("[base_coil]", FOIL, 1).replace('"plate"\nclear', '"foil"\nclear')


def study(folder: Path, text: str = ONE) -> Study:
    path = folder / "small.toml"
    path.write_text(text, encoding="utf-8")
    return read_study(path)


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Evidence:
    return evidence(study(tmp_path_factory.mktemp("study")).base)


def test_both_formulations_agree_within_the_accuracy_and_what_they_state(found: Evidence) -> None:
    both = found.accuracy_evidence
    difference = both.reaction_inductance_H / both.total_inductance_H - 1.0
    assert both.inductance_rel_difference == pytest.approx(difference, rel=1e-9, abs=0.0)
    assert 0.0 < abs(difference) <= min(both.accuracy, both.stated_inductance_rel_error)
    field = both.reaction_axial_field_T_per_A / both.total_axial_field_T_per_A - 1.0
    assert 0.0 < abs(field) <= 1.001 * both.field_rel_difference
    assert both.field_rel_difference <= min(both.accuracy, both.stated_field_rel_error)
    assert both.height_m == 0.015
    apart = abs(both.total_reflected_resistance_ohm - both.reaction_reflected_resistance_ohm)
    assert 0.0 < apart <= both.stated_reflected_resistance_error_ohm < 0.1 * both.total_reflected_resistance_ohm
    assert found.warnings == ()


def test_the_code_keeps_its_identities(found: Evidence) -> None:
    tests = found.code_tests
    assert tests.mutual_inductance_base_to_tag_H == pytest.approx(
        tests.mutual_inductance_tag_to_base_H, rel=1e-9, abs=0.0
    )
    assert tests.inductance_by_energy_H == pytest.approx(tests.inductance_by_flux_linkage_H, rel=1e-9, abs=0.0)
    assert tests.resistance_by_losses_ohm == pytest.approx(tests.resistance_by_input_power_ohm, rel=1e-9, abs=0.0)
    assert tests.resistance_by_losses_ohm > 0.0
    assert tests.height_m == 0.015


def test_the_identities_are_of_the_design_itself(found: Evidence) -> None:
    # One turn, a coarse mesh: the two agree to a part in a hundred, or the windings are not the design's.
    both, turns = found.accuracy_evidence, 40
    assert turns**2 * found.code_tests.inductance_by_energy_H == pytest.approx(
        both.total_inductance_H, rel=1e-2, abs=0.0
    )
    loss = turns**2 * found.code_tests.resistance_by_losses_ohm
    assert loss == pytest.approx(both.total_reflected_resistance_ohm, rel=1e-2, abs=0.0)


def test_a_record_reads_back(found: Evidence) -> None:
    assert from_info(Evidence, json.loads(json.dumps(found.record())), "evidence") == found


def test_where_the_tight_solve_ends_short_the_loose_one_serves(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def limited(problem):  # type: ignore[no-untyped-def]
        asked.append(problem.accuracy)
        if problem.accuracy < 0.005:
            raise AccuracyError("too tight")
        return reaction_solution(problem)

    monkeypatch.setattr(module, "reaction_solution", limited)
    assert evidence(study(tmp_path).base).warnings == ()
    assert asked == pytest.approx([0.05 * 0.02, 0.5 * 0.02])


# --- what is warned of ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "change", "words"),
    [
        ("accuracy_evidence", {"inductance_rel_difference": -0.021}, "inductance differs by 2.1 % between total and"),
        ("accuracy_evidence", {"field_rel_difference": 0.021}, "field on the axis differs by 2.1 % between total and"),
        ("accuracy_evidence", {"reaction_reflected_resistance_ohm": 9.0}, "resistance differs by 6.4 Ω between"),
        ("code_tests", {"reciprocity_rel_difference": 2e-9}, "reciprocity is off by 2.0e-09"),
        ("code_tests", {"energy_rel_difference": 2e-9}, "inductance by energy is off by 2.0e-09"),
        ("code_tests", {"loss_rel_difference": 2e-9}, "loss by fields is off by 2.0e-09"),
    ],
    ids=["L", "B", "R", "reciprocity", "energy", "loss"],
)
def test_what_is_too_far_apart_is_warned_of(found: Evidence, part: str, change: dict[str, float], words: str) -> None:
    spoilt = replace(found, **{part: replace(getattr(found, part), **change)})
    warnings = evidence_warnings(spoilt.accuracy_evidence, spoilt.code_tests)
    assert len(warnings) == 1
    assert words in warnings[0]


# --- what is shown -------------------------------------------------------------------------------------------------


def test_the_page_calls_each_row_what_it_is(found: Evidence) -> None:
    shown = evidence_shown({"evidence": {"found": found.record()}})
    assert shown is not None
    assert [row.meaning.split(":")[0] for row in shown.rows] == ["Accuracy evidence"] * 3 + ["Test of the code"] * 3
    assert ": within the wanted accuracy of 2 %" in shown.finding
    spoilt = replace(found.accuracy_evidence, inductance_rel_difference=0.03)
    shown = evidence_shown({"evidence": {"found": replace(found, accuracy_evidence=spoilt).record()}})
    assert shown is not None
    assert "to 3 %: NOT within the wanted accuracy" in shown.finding


def test_a_run_without_evidence_says_so_or_nothing(found: Evidence) -> None:
    assert evidence_shown({}) is None
    assert warnings_of({}) == ()
    without = {"evidence": {"key": "k", "fault": "no room for the winding"}}
    shown = evidence_shown(without)
    assert shown is not None
    assert "could not be computed (no room for the winding)" in shown.finding
    assert shown.rows == ()
    assert warnings_of(without) == ()
    assert warnings_of({"evidence": {"found": replace(found, warnings=("far off",)).record()}}) == ("far off",)


# --- in a run ------------------------------------------------------------------------------------------------------


def again(*_: object) -> Evidence:
    raise AssertionError("computed again")


@pytest.mark.slow
def test_a_run_keeps_its_evidence_and_shows_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, found: Evidence
) -> None:
    run_study(study(tmp_path), tmp_path / "out", 1, fresh=False)
    kept = read_info(tmp_path / "out")["evidence"]
    assert from_info(Evidence, kept["found"], "evidence") == found
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "How far to trust these numbers" in page
    assert "Accuracy evidence: " in page
    monkeypatch.setattr("studies.evidence.evidence", again)
    run_study(study(tmp_path), tmp_path / "out", 1, fresh=False)
    assert read_info(tmp_path / "out")["evidence"] == kept


@pytest.mark.slow
def test_a_fault_ends_no_run_and_is_tried_again_and_a_warning_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, found: Evidence
) -> None:
    def broken(_: object) -> Evidence:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr("studies.evidence.evidence", broken)
    run_study(study(tmp_path), tmp_path / "out", 1, fresh=False)
    info = read_info(tmp_path / "out")
    assert info["status"] == "complete"
    assert "a fault of its own (ZeroDivisionError" in info["evidence"]["fault"]
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "Nothing to show: the base design of the file could not be computed" in page
    monkeypatch.setattr("studies.evidence.evidence", lambda _: replace(found, warnings=("formulations differ",)))
    arguments = ["run", str(study(tmp_path).path), "--out", str(tmp_path / "out"), "--workers", "1"]
    said = CliRunner().invoke(main, arguments)
    assert said.exit_code == 0
    assert "Warning: formulations differ\n" in said.stderr
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "<li>formulations differ</li>" in page


@pytest.mark.parametrize("fault", [AccuracyError("still 1e-3 after 9 meshes"), GeometryError("tag", "no room")])
def test_a_fault_of_the_design_is_told_in_its_own_words(
    fault: Exception, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: object) -> Evidence:
        raise fault

    monkeypatch.setattr("studies.evidence.evidence", broken)
    assert base_evidence(study(tmp_path), None)["fault"] == str(fault)


def test_the_surroundings_share_the_base_solve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Both look at the base design; its field is solved once.
    base = study(tmp_path).base
    surroundings(base)

    def solved_again(*_: object, **__: object) -> None:
        raise AssertionError("the base coil is solved a second time")

    monkeypatch.setattr("fem.base_solution.solved_to_accuracy", solved_again)
    evidence(base)
