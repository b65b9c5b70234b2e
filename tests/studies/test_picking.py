"""A small search from its study to its page, stopped half-way and carried on."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from studies.command import DONE, UNMET, WRONG_INPUT, main
from studies.pick_texts import held_by, missed_lines
from studies.picking import FOUND, PAGE, TABLE
from studies.stored import StoredDesign
from studies.verdict import Check

LIBRARY = Path(__file__).parents[2] / "studies" / "library"

SWEEP = """
[sweep]
"base_coil.mean_diameter" = { from = "30 mm", to = "60 mm", count = 4 }
"base_coil.turns" = [40, 64]
"""


@pytest.fixture
def small(tmp_path: Path) -> Path:
    text = (LIBRARY / "culture-bench.toml").read_text(encoding="utf-8")
    text = text[: text.index("[sweep]")] + SWEEP + text[text.index("[require]") :]
    text = text.replace("accuracy = 1e-3", "accuracy = 1e-2")
    path = tmp_path / "small.toml"
    path.write_text(text, encoding="utf-8")
    return path


def pick(study: Path, out: Path, *more: str):  # type: ignore[no-untyped-def]
    arguments = ["pick", str(study), "--out", str(out), "--workers", "1", "--tries", "8", "--picks", "1", *more]
    return CliRunner().invoke(main, arguments)


@pytest.mark.slow
def test_a_search_is_told_stored_and_carried_on(small: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    first = pick(small, out, "--json")
    assert first.exit_code == DONE, first.output
    found = json.loads(first.stdout)
    assert (found["met"], found["tried"]) == (True, 8)
    assert all(one["verdict"] == "pass" and one["coil_voltage_V"] <= 150.0 for one in found["picks"])
    page = (out / PAGE).read_text(encoding="utf-8")
    assert found["answer"].split(", ")[-1] in page
    table = (out / TABLE).read_text(encoding="utf-8")
    assert len(table.splitlines()) == 9

    stored = sorted((out / FOUND).iterdir())
    assert len(stored) == 8
    stored[0].unlink()
    stored[1].write_bytes(b"cut off")
    again = pick(small, out)
    assert again.exit_code == DONE, again.output
    assert "6 candidates were stored already." in again.stdout
    assert (out / TABLE).read_text(encoding="utf-8") == table


@pytest.mark.slow
def test_what_nothing_can_meet_is_named_with_how_far_off_it_is(small: Path, tmp_path: Path) -> None:
    result = pick(small, tmp_path / "out", "--set", "require.at_least.margin=60 dB")
    assert result.exit_code == UNMET, result.output
    assert "None of the 8 of 122 candidates tried meets the requirements." in result.stdout
    assert "Binding requirement of the study: margin at least 60 dB is met by none of" in result.stdout
    assert "dB short" in result.stdout


def test_a_folder_of_something_else_is_left_alone(small: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "letter.txt").write_text("mine", encoding="utf-8")
    result = pick(small, out)
    assert result.exit_code == WRONG_INPUT
    assert "letter.txt" in result.stderr
    assert [one.name for one in out.iterdir() if not one.name.startswith(".")] == ["letter.txt"]


def test_a_study_that_sweeps_nothing_is_told(small: Path, tmp_path: Path) -> None:
    small.write_text(small.read_text(encoding="utf-8").replace(SWEEP, ""), encoding="utf-8")
    result = pick(small, tmp_path / "out")
    assert result.exit_code == WRONG_INPUT
    assert "sweeps nothing" in result.stderr


def test_requirements_met_one_by_one_but_never_together_are_told() -> None:
    def tried(name: str, volts: float, margin: float) -> StoredDesign:
        checks = (
            Check("margin", "at_least", 3.0, margin, margin >= 3.0, 0.0 if margin >= 3.0 else 0.2),
            Check("coil_voltage", "at_most", 100.0, volts, volts <= 100.0, 0.0 if volts <= 100.0 else 0.5),
        )
        return StoredDesign(0, name, "done", "", {}, checks)

    said = missed_lines([tried("strong", 200.0, 5.0), tried("weak", 50.0, 1.0)])
    assert len(said) == 2
    assert said[0].startswith("Binding requirement of the study: coil voltage at most 100 V; without it 1 more would")
    assert "all together by none; nearest is weak: margin 1 dB" in said[1]
    assert missed_lines([tried("weak", 50.0, 1.0), tried("weaker", 50.0, 1.0)]) == [
        "Binding requirement of the study: margin at least 3 dB is met by none of 2; weak comes nearest, 1 dB, 2 dB "
        "short."
    ]


def test_where_nothing_is_required_no_limit_is_made_up() -> None:
    def held(*checks: Check) -> str:
        return held_by(StoredDesign(0, "c0001", "done", "", {}, checks))

    read = Check("read_height", "at_least", 0.0, 0.06, True, 0.0)
    assert held(read) == "the study requires nothing of it but to be read somewhere"
    asked = Check("read_height", "at_least", 0.03, 0.06, True, 0.0)
    assert held(asked).startswith("closest to its limit is read height 60 mm, at least 30 mm required")
