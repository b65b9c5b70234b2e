"""The run folder: what may be written where, and what is never touched."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from studies.errors import FolderTakenError, NotARunError
from studies.evidence import Evidence
from studies.info_records import from_info
from studies.pieces import write_piece
from studies.store import claimed as held
from studies.store import default_folder, ours_in, prepare, read_info, read_run, study_hash, write_info
from studies.stored import StoredDesign
from studies.study import Study, read_study
from tests.studies.small import SMALL

ROOT = Path(__file__).parents[2]


@pytest.fixture
def study(tmp_path: Path) -> Study:
    return written(tmp_path, SMALL)


def written(folder: Path, text: str) -> Study:
    folder.mkdir(exist_ok=True)
    (folder / "small.toml").write_text(text, encoding="utf-8")
    return read_study(folder / "small.toml")


def everything(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_comments_and_spacing_do_not_make_another_study(tmp_path: Path, study: Study) -> None:
    other = written(tmp_path / "b", "# a remark\n\n" + SMALL.replace(" = ", "   =  "))
    assert study_hash(other) == study_hash(study)
    assert default_folder(other) == default_folder(study)
    changed = written(tmp_path / "c", SMALL.replace('"5 V"', '"5.1 V"'))
    assert study_hash(changed) != study_hash(study)
    swept = written(tmp_path / "d", SMALL.replace("[40, 60, 300]", "[40, 61, 300]"))
    assert study_hash(swept) != study_hash(study)


def test_a_folder_is_made_ready_and_found_again(tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
        before = everything(folder)
        prepare(folder, study, fresh=False)
    assert everything(folder) == before
    assert (folder / "study.toml").read_text(encoding="utf-8") == SMALL
    assert read_info(folder)["status"] == "running"
    assert read_run(folder).designs == ()


@pytest.mark.parametrize("fresh", [False, True])
@pytest.mark.parametrize("name", ["holiday.jpg", "study.toml", "report.html", "designs.csv"])
def test_a_folder_with_other_things_is_refused_and_left_alone(
    name: str, fresh: bool, tmp_path: Path, study: Study
) -> None:
    """A study file or a report of somebody's own is an other thing too, --fresh or not."""
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / name).write_text("mine", encoding="utf-8")
    with pytest.raises(FolderTakenError, match=f"holds other things \\({name}\\)"), held(folder, ours_in(folder)):
        prepare(folder, study, fresh)
    assert (folder / name).read_text(encoding="utf-8") == "mine"
    assert [path.name for path in folder.iterdir()] == [name]


def test_strangers_in_a_run_folder_are_refused_even_fresh(tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
        (folder / "notes.txt").write_text("mine", encoding="utf-8")
        with pytest.raises(FolderTakenError, match=r"notes\.txt"):
            prepare(folder, study, fresh=True)
    assert (folder / "notes.txt").exists()


def test_another_study_needs_fresh_and_then_replaces_everything(tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    other = written(tmp_path / "other", SMALL.replace('"5 V"', '"4 V"'))
    with held(folder):
        prepare(folder, study, fresh=False)
        (folder / "designs" / "c0001.npz").write_bytes(b"old")
        (folder / "designs.csv").write_bytes(b"old")
        (folder / "figures").mkdir()
        (folder / "figures" / "a.svg").write_bytes(b"old")
        before = everything(folder)
        with pytest.raises(FolderTakenError, match="another study"):
            prepare(folder, other, fresh=False)
        assert everything(folder) == before
        prepare(folder, other, fresh=True)
    assert b"old" not in everything(folder).values()
    assert read_info(folder)["study_hash"] == study_hash(other)


@pytest.mark.parametrize("gone", range(6))
def test_a_fresh_start_killed_at_any_step_can_be_carried_on(gone: int, tmp_path: Path, study: Study) -> None:
    """What is left after any number of steps of clearing is a run folder still, never a stranger's."""
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
        for name in ("designs.csv", "maps.nc", "report.html"):
            (folder / name).write_bytes(b"old")
        order = ["study.toml", "designs", "designs.csv", "maps.nc", "report.html", "run.json"]
        for name in order[:gone]:
            path = folder / name
            path.rmdir() if path.is_dir() else path.unlink()
        prepare(folder, study, fresh=True)
    assert read_run(folder).designs == ()


def test_leftovers_of_a_killed_run_are_cleared(tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
        (folder / ".run.json.77.partial").write_bytes(b"half")
        (folder / "designs" / ".c0001.npz.77.partial").write_bytes(b"half")
        prepare(folder, study, fresh=False)
    assert not list(folder.rglob("*.partial"))


def test_two_processes_exclude_each_other(tmp_path: Path) -> None:
    code = (
        "import sys, time; from pathlib import Path; from studies.store import claimed\n"
        "with claimed(Path(sys.argv[1])):\n    print('held', flush=True); time.sleep(60)"
    )
    folder = tmp_path / "run"
    other = subprocess.Popen(
        [sys.executable, "-c", code, str(folder)],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(FolderTakenError, match="another run is at work in"), held(folder):
            pass
    finally:
        other.kill()
        other.communicate()
    with held(folder):  # a killed holder leaves nothing behind that would have to be cleared by hand
        pass


def test_a_file_in_the_way_of_the_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "run").write_bytes(b"a file")
    for folder in (tmp_path / "run", tmp_path / "run" / "deeper"):
        with pytest.raises(FolderTakenError, match="cannot be written"), held(folder):
            pass


@pytest.mark.parametrize("content", ["", "{", "[1, 2]", "\x00"])
def test_a_broken_run_json_is_told_and_fresh_mends_it(content: str, tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
        (folder / "run.json").write_text(content, encoding="utf-8")
        with pytest.raises(NotARunError, match=r"run\.json"):
            prepare(folder, study, fresh=False)
        with pytest.raises(NotARunError, match=r"run\.json"):
            read_run(folder)
        prepare(folder, study, fresh=True)
    assert read_info(folder)["study_hash"] == study_hash(study)


def test_a_broken_piece_is_named_when_the_run_is_read(tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
    (folder / "designs" / "c0002.npz").write_bytes(b"PK")
    with pytest.raises(NotARunError, match=r"c0002\.npz.*computes it again"):
        read_run(folder)


def test_run_json_is_written_whole(tmp_path: Path) -> None:
    write_info(tmp_path, {"study": "µ"})
    assert read_info(tmp_path) == {"study": "µ"}
    with pytest.raises(TypeError):
        write_info(tmp_path, {"study": object()})
    assert read_info(tmp_path) == {"study": "µ"}


def test_what_compare_and_bench_leave_in_a_run_is_no_stranger(tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder, ours_in(folder)):
        prepare(folder, study, fresh=False)
    for name in ("compare", "bench-c0001"):
        (folder / name).mkdir()
        (folder / name / "page.html").write_text("", encoding="utf-8")
    with held(folder, ours_in(folder)):
        prepare(folder, study, fresh=False)
        prepare(folder, study, fresh=True)
    assert (folder / "bench-c0001" / "page.html").is_file()  # readings are not the run's to discard


def test_a_study_that_was_changed_since_is_told_and_not_believed(tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
    text = (folder / "study.toml").read_text(encoding="utf-8")
    (folder / "study.toml").write_text(f"# a comment changes nothing\n{text}", encoding="utf-8")
    assert read_run(folder).study.count == study.count
    for changed in (text.replace("134.2 kHz", "125 kHz"), text[: text.index("[sweep]")]):
        assert changed != text
        (folder / "study.toml").write_text(changed, encoding="utf-8")
        with pytest.raises(NotARunError, match=r"study\.toml is not the study that was run here"):
            read_run(folder)


def test_a_candidate_under_anothers_name_is_told(tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
    stored = StoredDesign(0, "c0001", "failed", "cannot be built", {"design": "c0001"})
    for name in ("c0001", "c0002"):
        write_piece(folder / "designs" / f"{name}.npz", "key", stored, None)
    with pytest.raises(NotARunError, match=r"c0002\.npz: it holds c0001"):
        read_run(folder)
    (folder / "designs" / "c0002.npz").unlink()
    run = read_run(folder)
    assert run.state == "running"
    write_info(folder, run.info | {"status": "complete"})
    assert read_run(folder).state.startswith("incomplete: stored designs are gone")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("versions", 3), ("surroundings", "x"), ("evidence", [1]), ("seconds", {"c0001": "long"}), ("seconds", 1.0),
        ("warnings", []), ("errors", "none"), ("status", 7), ("finished", {}), ("study_hash", None),
    ],
)  # fmt: skip
def test_run_json_of_another_shape_is_told(name: str, value: object, tmp_path: Path, study: Study) -> None:
    folder = tmp_path / "run"
    with held(folder):
        prepare(folder, study, fresh=False)
    info = read_info(folder)
    assert read_run(folder).info == info
    write_info(folder, info | {name: value})
    with pytest.raises(NotARunError):
        read_run(folder)


def test_a_record_of_another_shape_says_which() -> None:
    for record in (None, 3, {}, {"warnings": ["x"]}, {"accuracy_evidence": {"accuracy": "fine"}}):
        with pytest.raises(NotARunError, match=r'^run\.json: "evidence" holds something of another shape'):
            from_info(Evidence, record, "evidence")
