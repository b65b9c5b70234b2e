"""Wrong inputs of the commands that follow a run: a sentence that says what is wrong, an exit status, no traceback."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from studies.command import WRONG_INPUT, main
from tests.studies.small import SMALL

ALONE = SMALL[: SMALL.index("[sweep]")]
PARTS = "name,inductance_mH,dc_resistance_ohm,diameter_mm,height_mm\nA,2.7,11,6,5\n"

CASES = {
    "pick none.toml": "none.toml: does not exist",
    "pick folder": "is a directory",
    "pick broken.toml": "is not TOML",
    "pick alone.toml": "sweeps nothing, so there is nothing to pick from",
    "pick small.toml --tries 3": "3 is not in the range",
    "pick small.toml --tries 8 --picks 0": "0 is not in the range",
    "pick small.toml --seed -1": "-1 is not in the range",
    "pick small.toml --tries 8 --out file": "cannot be written",
    "pick small.toml --tries 8 --out folder": "holds other things",
    "pick small.toml --set base_coil.turns=abc": '"abc" is a text',
    "pick small.toml --set nothing=1": "nothing: is not a key known here",
    "run small.toml --out folder": "holds other things",
    "yield none.toml": "does not exist",
    "yield broken.toml": "is not TOML",
    "yield alone.toml": "has no [spread]",
    "yield spread.toml c9999": 'no design of small is called "c9999"',
    "yield spread.toml --units 1": "1 is not in the range",
    "yield spread.toml --units ten": "not a valid integer",
    "yield spread.toml --out file": "cannot be written",
    "yield spread.toml --out folder": "holds other things",
    "yield spread.toml --set spread.nonsense={normal='1mm'}": "spreads a key to which the file gives no value",
    "yield spread.toml --set spread.drive.supply=3": "distribution",
    "stock none.toml parts.csv": "none.toml: does not exist",
    "stock alone.toml none.csv": "none.csv: does not exist",
    "stock alone.toml folder": "is a directory",
    "stock alone.toml file": "holds no row",
    "stock alone.toml parts.csv --out folder": "is a folder",
    "stock alone.toml parts.csv --out alone.toml": "is what was to be read",
    "stock alone.toml parts.csv --out run/designs.csv": "is a run's own",
    "stock alone.toml parts.csv --out parts.csv": "is what was to be read",
    "stock alone.toml parts.csv --largest-diameter 9": "has no unit",
    "stock alone.toml parts.csv --largest-height -9mm": "a length above 0",
    "stock alone.toml parts.csv --set drive.supply=-5V": "is negative",
    "stock broken.toml parts.csv": "is not TOML",
    "sheet none": "does not exist",
    "sheet folder c0001": "holds no run that can be read",
    "sheet alone.toml c9999": "c9999",
    "sheet alone.toml --probe 3mm": "is a length",
    "sheet alone.toml --probe nothing": "nothing",
    "sheet alone.toml --wire-tolerance 200": "0 % to 20 % of the diameter",
    "sheet alone.toml --out folder": "is a folder",
    "sheet alone.toml --out file/page.html": "cannot be written",
    "sheet broken.toml": "is not TOML",
    "sheet alone.toml --set base_coil.wire.diameter=3mm": "base_coil",
    "guide none.toml": "does not exist",
    "guide folder": "is a directory",
    "guide broken.toml": "is not TOML",
    "guide alone.toml --out folder": "is a folder",
    "guide alone.toml --out file/page.html": "cannot be written",
    "guide alone.toml --out alone.toml": "is what was to be read",
    "guide alone.toml --out run/report.html": "is a run's own",
    "sheet alone.toml --out alone.toml": "is what was to be read",
    "sheet alone.toml --out run/figures/section.svg": "is a run's own",
    "check alone.toml --drawing alone.toml": "is what was to be read",
    "check alone.toml --drawing run/study.toml": "is a run's own",
    "compare run run --out run": "is a run; give a folder of its own",
    "compare run run --out run/designs": "is a run's own",
    "bench run parts.csv --out run": "is a run; give a folder of its own",
    "show run": "is not the study that was run here",
    "review run": "is not the study that was run here",
    "guide alone.toml --set drive.supply=0V": "is zero",
    "guide alone.toml --set tag.turns=0": "is out of bounds",
    "guide alone.toml --set drive": "sets nothing",
    "guide alone.toml --set map.height=[]": "an empty list",
    "guide alone.toml --nonsense": "No such option",
}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "letter.txt").write_text("keep me", encoding="utf-8")
    texts = {
        "file": "", "broken.toml": "x = [", "alone.toml": ALONE, "small.toml": SMALL, "parts.csv": PARTS,
        "spread.toml": ALONE + "[spread]\n'drive.supply' = { uniform = '3 %' }\n",
    }  # fmt: skip
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "run").mkdir()
    (tmp_path / "run" / "run.json").write_text('{"study": "small", "study_hash": "of another"}', encoding="utf-8")
    (tmp_path / "run" / "study.toml").write_text(SMALL, encoding="utf-8")


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize("typed", CASES)
def test_wrong_input_ends_in_a_sentence(typed: str) -> None:
    before = sorted(path.name for path in Path().rglob("*"))
    told = CliRunner().invoke(main, typed.split())
    assert told.exit_code == WRONG_INPUT, told.output
    assert CASES[typed] in told.stderr
    assert "Traceback" not in told.stderr
    assert "fault of its own" not in told.stderr
    assert told.stdout == "" or typed.startswith("check ")  # it tells of the study before it draws it
    assert sorted(path.name for path in Path().rglob("*")) == before


def test_there_are_ten_for_each_command() -> None:
    for command in ("pick", "yield", "stock", "sheet", "guide"):
        assert sum(typed.startswith(f"{command} ") for typed in CASES) >= 9
