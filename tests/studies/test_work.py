"""What a worker does with one candidate, whatever happens to it."""

from pathlib import Path

import pytest

from fem.errors import AccuracyError
from geometries.errors import GeometryError
from studies import work
from studies.evaluation import Evaluation
from studies.pieces import read_record
from studies.specification import Candidate
from studies.store import piece_path
from studies.study import Study, read_study
from studies.work import compute, compute_one, first_columns, key_of, store_death
from tests.studies.conftest import Evaluator
from tests.studies.small import SMALL


@pytest.fixture
def study(tmp_path: Path) -> Study:
    (tmp_path / "study.toml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "designs").mkdir()
    return read_study(tmp_path / "study.toml")


def test_a_candidate_is_stored_under_the_key_by_which_it_is_found(tmp_path: Path, study: Study) -> None:
    index, status, seconds = compute_one(study, tmp_path, 0)
    assert (index, status) == (0, "done")
    assert seconds > 0.0
    key, found = read_record(piece_path(tmp_path, "c0001"))
    assert key == key_of(study, 0)[0]
    assert key != key_of(study, 1)[0]
    assert found.row["base_coil.turns"] == 40
    assert found.row["base_coil.mean_diameter"] == 0.03
    assert found.row["verdict"] == ("pass" if found.passed else "fail")


def test_one_that_cannot_be_built_is_stored_with_its_reason(tmp_path: Path, study: Study) -> None:
    assert compute(tmp_path, (4,))[0][:2] == (4, "failed")
    key, found = read_record(piece_path(tmp_path, "c0005"))
    assert key == key_of(study, 4)[0]
    assert "300 turns" in found.message
    assert "do not fit" in found.message
    assert found.row == first_columns(study, 4) | {"status": "failed", "message": found.message}


@pytest.mark.parametrize(
    ("fault", "message"),
    [
        (GeometryError("tag.turns", "too many\nof them"), "tag.turns: too many of them"),
        (AccuracyError("asked for\ntoo much"), "asked for too much"),
        (MemoryError(), "out of memory"),
        (ZeroDivisionError("division by zero"), "fault of its own (ZeroDivisionError: division by zero)"),
        (AssertionError(""), "fault of its own (AssertionError: )"),
        (RuntimeError("Factor is exactly singular"), "fault of its own (RuntimeError: Factor is exactly singular)"),
        (RecursionError("too deep"), "please report it with the study file"),
    ],
)
def test_whatever_befalls_it_the_sweep_goes_on(
    fault: Exception, message: str, tmp_path: Path, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(candidate: Candidate) -> Evaluation:
        raise fault

    monkeypatch.setattr(work, "evaluated", failing)
    assert compute_one(study, tmp_path, 1)[1] == "failed"
    found = read_record(piece_path(tmp_path, "c0002"))[1]
    assert message in found.message
    assert "\n" not in found.message


def test_an_interrupt_is_not_a_failed_candidate(tmp_path: Path, study: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(candidate: Candidate) -> Evaluation:
        raise KeyboardInterrupt

    monkeypatch.setattr(work, "evaluated", interrupted)
    with pytest.raises(KeyboardInterrupt):
        compute_one(study, tmp_path, 0)
    assert not piece_path(tmp_path, "c0001").exists()


def test_a_death_is_stored_but_tried_again_by_the_next_run(tmp_path: Path, study: Study) -> None:
    store_death(study, tmp_path, 2, "its worker process died three times")
    key, found = read_record(piece_path(tmp_path, "c0003"))
    assert found.status == "failed"
    assert found.row["base_coil.turns"] == 60
    assert key != key_of(study, 2)[0]


def test_a_stored_row_equals_the_solved_base_design(tmp_path: Path, study: Study, evaluation_of: Evaluator) -> None:
    compute_one(study, tmp_path, 1)
    found = read_record(piece_path(tmp_path, "c0002"))[1].row
    base = evaluation_of("base_coil.turns=40", "base_coil.mean_diameter=44 mm").row
    assert {name: found[name] for name in base} == base
