"""A changed study: what still holds is taken over from its other runs, and nothing else is."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from studies import pieces
from studies.engine import plan
from studies.errors import NewerRunError
from studies.evaluation import Evaluation
from studies.pieces import Content, read_record, sealed_key, write_piece
from studies.reuse import take_over
from studies.store import layout, piece_path, prepare, read_info, read_run, write_info
from studies.stored import StoredDesign
from studies.study import Study, read_study
from studies.work import first_columns, key_of, origin
from tests.studies.conftest import Evaluator
from tests.studies.small import SMALL


def run_of(text: str, folder: Path) -> tuple[Study, Path]:
    source = folder.with_suffix(".toml")
    source.write_text(text, encoding="utf-8")
    folder.mkdir(parents=True, exist_ok=True)
    study = read_study(source)
    prepare(folder, study, fresh=False)
    return study, folder


def filled(study: Study, folder: Path, evaluation: Evaluation) -> None:
    """Results of one candidate for all, but for a column that tells whose they are."""
    for index in range(study.count):
        name = study.design_name(index)
        row = first_columns(study, index) | {"told": 100.0 + index, "status": "done", "message": ""}
        key, candidate = key_of(study, index)
        status = "done" if candidate is not None else "failed"
        stored = StoredDesign(index, name, status, "", row, seconds=2.5, origin=origin(study))
        own = None if candidate is None else replace(evaluation, candidate=candidate)
        write_piece(piece_path(folder, name), key, stored, own)


@pytest.fixture
def before(tmp_path: Path, evaluation_of: Evaluator) -> tuple[Study, Path]:
    study, folder = run_of(SMALL, tmp_path / "before")
    filled(study, folder, evaluation_of())
    return study, folder


def test_a_value_added_to_a_sweep_computes_that_value_alone(before: tuple[Study, Path], tmp_path: Path) -> None:
    """Names shift: c0003 of before, 60 turns at 30 mm, is c0005 now."""
    study, folder = run_of(SMALL.replace("[40, 60, 300]", "[40, 50, 60, 300]"), tmp_path / "after")
    assert take_over(study, folder) == 4
    found = plan(study, folder)
    left = sorted(index for group in found.groups for index in group)
    assert (found.stored, left) == (4, [2, 3, 6, 7])
    told = [(stored.design, stored.index, stored.row["told"], stored.seconds) for stored in read_run(folder).designs]
    assert told == [
        ("c0001", 0, 100.0, 2.5),
        ("c0002", 1, 101.0, 2.5),
        ("c0005", 4, 102.0, 2.5),
        ("c0006", 5, 103.0, 2.5),
    ]
    for stored in read_run(folder).designs:
        head = first_columns(study, stored.index)
        assert {name: stored.row[name] for name in head} == head


def test_a_key_no_longer_swept_leaves_the_row(before: tuple[Study, Path], tmp_path: Path) -> None:
    text = SMALL.replace('"base_coil.turns" = [40, 60, 300]\n', "")
    study, folder = run_of(text, tmp_path / "after")
    assert take_over(study, folder) == 2
    assert "base_coil.turns" not in read_run(folder).designs[0].row


@pytest.mark.parametrize(
    "change",
    [('supply = "5 V"', 'supply = "5.1 V"'), ("accuracy = 0.02", "accuracy = 0.01"), ('"8 mm"]', '"9 mm"]'),
     ('coil_voltage = "200 V"', 'coil_voltage = "190 V"'), ('name = "small"', 'name = "other"')],
)  # fmt: skip
def test_what_no_longer_holds_is_never_reused(
    change: tuple[str, str], before: tuple[Study, Path], tmp_path: Path
) -> None:
    assert SMALL.count(change[0]) == 1
    study, folder = run_of(SMALL.replace(*change), tmp_path / "after")
    assert take_over(study, folder) == 0
    assert plan(study, folder).count == study.count


def test_a_large_sweep_of_which_nothing_holds_is_not_built_whole(
    before: tuple[Study, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    built: list[int] = []

    def counted(study: Study, index: int) -> tuple[str, object]:
        built.append(index)
        return key_of(study, index)

    monkeypatch.setattr("studies.reuse.key_of", counted)
    monkeypatch.setattr("studies.reuse.TRIED_FIRST", 3)
    turns = ("[40, 60, 300]", "{ from = 30, to = 60, count = 31 }")
    study, folder = run_of(SMALL.replace(*turns).replace("accuracy = 0.02", "accuracy = 0.01"), tmp_path / "nothing")
    assert take_over(study, folder) == 0
    assert len(built) == 3
    built.clear()
    study, folder = run_of(SMALL.replace("[40, 60, 300]", "[40, 50, 60, 300]"), tmp_path / "much")
    assert take_over(study, folder) == 4  # what the first ones do not meet, the others do
    assert sorted(built) == list(range(8))


@pytest.mark.parametrize("change", [{"physics_version": -1}, {"versions": {"scipy": "0.1"}}])
def test_a_run_of_other_physics_or_libraries_is_passed_over(
    change: dict[str, object], before: tuple[Study, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No candidate is built to see that it holds nothing of ours."""
    write_info(before[1], read_info(before[1]) | change)
    monkeypatch.setattr("studies.reuse.key_of", lambda *_: pytest.fail("built"))
    study, folder = run_of(SMALL.replace("[40, 60, 300]", "[40, 50]"), tmp_path / "after")
    assert take_over(study, folder) == 0


def test_a_damaged_piece_beside_is_not_taken_over(before: tuple[Study, Path], tmp_path: Path) -> None:
    path = piece_path(before[1], "c0001")
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    study, folder = run_of(SMALL.replace("[40, 60, 300]", "[40, 50]"), tmp_path / "after")
    assert take_over(study, folder) == 1
    assert not piece_path(folder, "c0001").exists()


def test_another_library_computes_again_and_says_so(
    before: tuple[Study, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    study, folder = before
    assert plan(study, folder).count == 0
    versions = dict(pieces.library_versions())
    newer = tuple((versions | {"scipy": "99.1"}).items())
    monkeypatch.setattr(pieces, "library_versions", lambda: newer)
    found = plan(study, folder)
    assert found.count == 6
    assert found.outdated == (f"6 stored before scipy went from {versions['scipy']} to 99.1",)


def test_the_code_that_made_a_piece_is_asked_only_where_the_key_does_not_tell(
    before: tuple[Study, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the same study, code and libraries no candidate is built to see that its piece holds."""
    study, folder = before
    monkeypatch.setattr("studies.engine.key_of", lambda *_: pytest.fail("built"))
    assert plan(study, folder).stored == 6
    monkeypatch.undo()
    monkeypatch.setattr("studies.work.code_digest", lambda: "changed")
    assert plan(study, folder).stored == 6
    monkeypatch.setattr("studies.engine.key_of", lambda *_: ("another key", None))
    assert plan(study, folder).stored == 0


@pytest.mark.parametrize("name", ["store_version", "physics_version"])
def test_a_newer_store_is_left_as_it_is(name: str, before: tuple[Study, Path]) -> None:
    study, folder = before
    write_info(folder, read_info(folder) | {name: layout()[name] + 1})
    kept = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    for fresh in (False, True):
        with pytest.raises(NewerRunError, match="written by a newer trivet"):
            prepare(folder, study, fresh)
    with pytest.raises(NewerRunError, match=f"{name.replace('_', ' ')} {layout()[name] + 1}"):
        read_run(folder)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == kept
    json.loads((folder / "run.json").read_text(encoding="utf-8"))


def test_the_key_at_the_end_is_the_key_inside(before: tuple[Study, Path]) -> None:
    path = piece_path(before[1], "c0004")
    assert sealed_key(path) == Content.read(path).key == read_record(path)[0]
    assert sealed_key(before[1] / "run.json") is None
    assert sealed_key(before[1] / "nothing") is None
