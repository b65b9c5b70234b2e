"""The page over all runs in a folder."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from studies.command import DONE, WRONG_INPUT, main
from studies.shelf import PAGE, standing_in

LIBRARY = Path(__file__).parents[2] / "studies" / "library"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of one design, coarse."""
    folder = tmp_path_factory.mktemp("shelf")
    text = (LIBRARY / "culture-bench.toml").read_text(encoding="utf-8")
    text = text[: text.index("[sweep]")] + text[text.index("[require]") : text.index("[spread]")]
    study = folder / "small.toml"
    study.write_text(text.replace("accuracy = 1e-3", "accuracy = 1e-2"), encoding="utf-8")
    told = CliRunner().invoke(main, ["run", str(study), "--out", str(folder / "run"), "--workers", "1"])
    assert "Report:" in told.output, told.output
    return folder / "run"


@pytest.fixture
def shelf(made: Path, tmp_path: Path) -> Path:
    shelf = tmp_path / "results"
    for name, finished in (("bench/first", "2026-01-02T10:00:00+00:00"), ("bench/it's <b>late</b>", "2026-03-01")):
        shutil.copytree(made, shelf / name)
        info = json.loads((shelf / name / "run.json").read_text(encoding="utf-8"))
        (shelf / name / "run.json").write_text(json.dumps(info | {"finished": finished}), encoding="utf-8")
    return shelf


@pytest.mark.slow
def test_runs_stand_there_with_what_they_say_the_latest_first(shelf: Path) -> None:
    found = standing_in(shelf)
    assert [one.folder for one in found] == ["bench/it's <b>late</b>", "bench/first"]
    assert found[1].designs == "1 of 1"
    assert found[1].state == "complete"
    assert found[1].answer.startswith("The design ")
    assert found[1].verdict == ("pass" if "The design meets" in found[1].answer else "fail")
    told = CliRunner().invoke(main, ["shelf", str(shelf)])
    assert told.exit_code == DONE, told.output
    page = (shelf / PAGE).read_text(encoding="utf-8")
    assert "<b>late" not in page
    assert "it&#39;s &lt;b&gt;late&lt;/b&gt;" in page
    for address in ("bench/first/report.html", "bench/first/figures/section.png"):
        assert f'"{address}"' in page
        assert (shelf / address).is_file()
    assert CliRunner().invoke(main, ["shelf", str(shelf)]).exit_code == DONE  # over its own page again


@pytest.mark.slow
def test_a_run_that_cannot_be_read_stands_there_and_says_why(shelf: Path) -> None:
    (shelf / "bench" / "first" / "study.toml").write_text("broken = [", encoding="utf-8")
    (shelf / "bench" / "empty").mkdir()
    (shelf / "bench" / "odd").mkdir()
    (shelf / "bench" / "odd" / "run.json").write_text("[1]", encoding="utf-8")
    found = {one.folder: one for one in standing_in(shelf)}
    assert set(found) == {"bench/it's <b>late</b>", "bench/first", "bench/odd"}
    assert "study.toml" in found["bench/first"].fault
    assert found["bench/odd"].fault
    told = CliRunner().invoke(main, ["shelf", str(shelf)])
    assert told.exit_code == DONE
    assert "bench/first cannot be read" in told.stderr


@pytest.mark.slow
def test_a_page_of_somebodys_own_and_a_run_itself_are_left_alone(shelf: Path) -> None:
    (shelf / PAGE).write_text("mine", encoding="utf-8")
    told = CliRunner().invoke(main, ["shelf", str(shelf)])
    assert (told.exit_code, (shelf / PAGE).read_text(encoding="utf-8")) == (WRONG_INPUT, "mine")
    assert "left alone" in told.stderr
    told = CliRunner().invoke(main, ["shelf", str(shelf / "bench" / "first")])
    assert told.exit_code == WRONG_INPUT
    assert "is a run itself" in told.stderr


def test_no_folder_and_no_run_are_told(tmp_path: Path) -> None:
    assert "holds no run" in CliRunner().invoke(main, ["shelf", str(tmp_path)]).stderr
    told = CliRunner().invoke(main, ["shelf", str(tmp_path / "none")])
    assert told.exit_code == WRONG_INPUT
    assert "is not a folder" in told.stderr
