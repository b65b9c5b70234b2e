"""Stock parts ranked in a stack: against the study with each part in it, evaluated by hand."""

import csv
import json
from dataclasses import replace
from math import pi
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from links.cautions import CALCULATION_ONLY
from studies.command import main
from studies.evaluation import Evaluation, evaluated
from studies.stock import Judged, Room, ranked, with_part
from studies.stock_list import StockPart
from studies.stock_texts import stock_table
from studies.study import Study, read_study
from tests.studies.small import SMALL

WARM = SMALL.replace('overall_diameter = "0.30 mm" }', 'overall_diameter = "0.30 mm", temperature = "180 degC" }')
OWN_TAG = WARM[WARM.index("turns = 300") : WARM.index("chip =")]

PARTS = (
    StockPart(2, "small", 1.0e-3, 9.5, 4e-3, 4e-3, 4e-3, 0.1, 1.8e6),
    StockPart(3, "usual", 2.7e-3, 11.0, 6e-3, 5e-3, 6e-3, 0.1, 900e3, 1e-6, 15.0),
    StockPart(4, "slow", 2.7e-3, 31.0, 6e-3, 5e-3, 6e-3, None, 300e3, 1.0, 105.0),
    StockPart(5, "too slow", 22e-3, 98.0, 6e-3, 5e-3, 6e-3, 0.1, 118e3),
    StockPart(6, "wide", 4.7e-3, 9.8, 8e-3, 5e-3, 11e-3),
    StockPart(7, "tall", 4.7e-3, 9.8, 6e-3, 26e-3, 6e-3),
)
FREQUENCY = 134.2e3


@pytest.fixture(scope="module")
def warm(tmp_path_factory: pytest.TempPathFactory) -> Study:
    """The small study with a warm wire, so that it has a cold state besides."""
    file = tmp_path_factory.mktemp("stock") / "warm.toml"
    file.write_text(WARM, encoding="utf-8")
    return read_study(file)


@pytest.fixture(scope="module")
def found(warm: Study) -> dict[str, Judged]:
    return {one.part.name: one for one in ranked(warm, PARTS, Room(10e-3, 30e-3), lambda part: None)}


def by_hand(tmp_path: Path, part: str, *overrides: str, text: str = WARM) -> Evaluation:
    """The study evaluated with a part written into it."""
    file = tmp_path / "by_hand.toml"
    file.write_text(text.replace(OWN_TAG, f"part = {{ {part} }}\n"), encoding="utf-8")
    return evaluated(read_study(file, overrides).base)


USUAL = 'inductance = "2.7 mH", dc_resistance = "11 ohm", diameter = "6 mm", height = "5 mm"'


def test_a_part_comes_to_what_the_study_with_it_comes_to(tmp_path: Path, found: dict[str, Judged]) -> None:
    row = by_hand(tmp_path, USUAL).row
    assert row["states"] == "as given; cold"
    for column in ("margin_dB", "chip_voltage_V", "coupling_coefficient", "worst_place", "worst_state", "tag_q",
                   "tag_inductance_H", "tag_resistance_ohm", "tag_spread", "states"):  # fmt: skip
        assert found["usual"].row[column] == row[column]
    assert found["usual"].row["tuning_capacitance_F"] == row["tag_tuning_capacitance_F"]


def test_cautions_hang_on_what_the_whole_study_hangs_them_on(tmp_path: Path, found: dict[str, Judged]) -> None:
    row, hazards = by_hand(tmp_path, USUAL).row, found["usual"].hazards
    assert set(hazards[0]) == {
        "coil_voltage_V", "capacitor_voltage_V", "hottest_part_degC", "field_at_10_m_rms_A_per_m",
        "flux_density_on_plate_rms_T",
    }  # fmt: skip
    for name in hazards[0]:
        assert max(float(one[name] or 0.0) for one in hazards) == pytest.approx(row[name], rel=1e-12, abs=0.0)


def test_parts_stand_in_the_order_of_the_margins_found_by_hand(tmp_path: Path, found: dict[str, Judged]) -> None:
    texts = {
        "small": 'inductance = "1.0 mH", dc_resistance = "9.5 ohm", diameter = "4 mm", height = "4 mm"',
        "usual": USUAL,
        "slow": USUAL.replace("11 ohm", "31 ohm"),
    }
    margins = {name: by_hand(tmp_path, text).row["margin_dB"] for name, text in texts.items()}
    names = [name for name, one in found.items() if one.status == "ranked"]
    assert names == sorted(margins, key=lambda name: margins[name], reverse=True)
    assert {name: found[name].row["margin_dB"] for name in names} == margins


def test_what_a_part_brings_itself_is_taken_off_the_capacitor(found: dict[str, Judged]) -> None:
    row, omega = found["usual"].row, 2.0 * pi * FREQUENCY
    inductance, resistance = row["tag_inductance_H"], row["tag_resistance_ohm"]
    stray = 1.0 / ((2.0 * pi * 900e3) ** 2 * 2.7e-3)
    exact = inductance / (resistance**2 + (omega * inductance) ** 2)
    assert row["capacitor_to_fit_F"] == pytest.approx(exact - stray, rel=1e-12, abs=0.0)
    assert row["stray_capacitance_F"] == pytest.approx(11.6e-12, rel=0.01, abs=0.0)


def test_chosen_parts_count_the_stray_capacitance(tmp_path: Path, warm: Study) -> None:
    choice = 'capacitor = { choose = "pair", series = "E12", stray = "3 pF" }\n'
    text = WARM.replace("chip = {", choice + "chip = {")
    file = tmp_path / "chosen.toml"
    file.write_text(text, encoding="utf-8")
    (one,) = ranked(read_study(file), PARTS[1:2], Room(), lambda part: None)
    stray = 3e-12 + 1.0 / ((2.0 * pi * 900e3) ** 2 * 2.7e-3)
    row = by_hand(tmp_path, USUAL, f"tag.capacitor.stray={stray!r} F", text=text).row
    assert one.row["margin_dB"] == row["margin_dB"]
    assert one.row["tag_tuning_parts"] == row["tag_tuning_parts"]


def test_at_its_tolerance_a_part_keeps_the_capacitor_of_its_nominal_value(
    tmp_path: Path, found: dict[str, Judged]
) -> None:
    fitted = f'capacitor = {{ capacitance = "{found["usual"].row["tuning_capacitance_F"]!r} F" }}\nchip = {{'
    text = WARM.replace("chip = {", fitted)
    off = [by_hand(tmp_path, USUAL.replace("2.7 mH", value), text=text) for value in ("2.43 mH", "2.97 mH")]
    worst = min(one.row["margin_dB"] for one in off)
    assert found["usual"].row["margin_at_tolerance_dB"] == pytest.approx(worst, rel=0.0, abs=1e-6)
    assert found["usual"].row["margin_at_tolerance_dB"] < found["usual"].row["margin_dB"]
    assert found["slow"].row["margin_at_tolerance_dB"] == found["slow"].row["margin_dB"]


def test_a_part_past_its_data_sheet_is_told_of(found: dict[str, Judged]) -> None:
    usual, slow = found["usual"].warnings, found["slow"].warnings
    assert "1 µA saturates it" in usual[0]
    assert "it stands 15 °C, the tag reaches 20 °C" in usual[1]
    assert len(usual) == 2
    assert "it resonates by itself at 300 kHz, 2.2 times the working frequency" in slow[0]
    assert len(slow) == 1
    assert found["small"].warnings == ()


def test_a_part_that_cannot_be_used_says_why(found: dict[str, Judged]) -> None:
    assert found["too slow"].status == "cannot be tuned"
    assert "resonates by itself at 118 kHz" in found["too slow"].message
    assert (found["wide"].status, found["wide"].message) == ("does not fit", "11 mm across, 10 mm at most")
    assert found["tall"].status == "does not fit"
    assert "puts the tag into the plate" in found["tall"].message
    assert list(found)[-3:] == ["too slow", "wide", "tall"]


def test_the_current_is_that_of_the_closest_place(tmp_path: Path, found: dict[str, Judged]) -> None:
    """Over an open plate the tag's current falls with height, and a cold base coil carries most: by hand, cold."""
    text = SMALL.replace('height = "15 mm", offset = "2 mm", tilt = "5 deg"', 'height = "6 mm"')
    row = by_hand(tmp_path, USUAL, text=text).row
    # Capacitor and chip share the current: |I2| = |V| √(1/R² + (ωC)²).
    admittance = (1.0 / 25e3**2 + (2.0 * pi * FREQUENCY * row["tag_tuning_capacitance_F"]) ** 2) ** 0.5
    assert found["usual"].row["greatest_current_place"] == "6 mm up, 0 mm off, 0° tilt, cold"
    expected = pytest.approx(row["chip_voltage_V"] * admittance, rel=1e-6, abs=0.0)
    assert found["usual"].row["greatest_tag_current_A"] == expected


def test_past_critical_coupling_the_greatest_current_lies_above_the_closest_place(tmp_path: Path) -> None:
    """A drive of little resistance and a chip that takes little: by hand at many heights of one map."""
    heights = 'height = { from = "6 mm", to = "45 mm", count = 40 }'
    text = SMALL.replace('resistance = "6 ohm"', 'resistance = "0.1 ohm"').replace('"25 kohm"', '"1 Mohm"')
    file = tmp_path / "tight.toml"
    file.write_text(text, encoding="utf-8")
    study = read_study(file, ["base_coil.wire.diameter=0.28 mm"])
    part = replace(PARTS[1], dc_resistance=1.0)
    row = ranked(study, (part,), Room(10e-3, 30e-3), lambda part: None)[0].row
    whole = by_hand(
        tmp_path, USUAL.replace("11 ohm", "1 ohm"), "base_coil.wire.diameter=0.28 mm", f"map.{heights}", text=text
    )
    admittance = (1.0 / 1e6**2 + (2.0 * pi * FREQUENCY * whole.row["tag_tuning_capacitance_F"]) ** 2) ** 0.5
    currents = whole.map.chip_voltage[:, 0, 0] * admittance
    assert 0 < currents.argmax() < 39
    assert row["greatest_tag_current_A"] == pytest.approx(currents.max(), rel=2e-3, abs=0.0)


@pytest.mark.parametrize(
    ("change", "told"), [({"inductance": 100.0}, "100 H is unusual"), ({"height": 3e-4}, "0.3 mm along its axis")]
)
def test_a_part_that_none_would_wind_is_doubted(warm: Study, change: dict[str, float], told: str) -> None:
    one = ranked(warm, (replace(PARTS[2], self_resonance=None, **change),), Room(), lambda part: None)[0]  # type: ignore[arg-type]
    assert any(told in text for text in one.warnings)


def test_magnets_bias_each_part(tmp_path: Path) -> None:
    magnet = '\n[[magnets]]\nname = "stir bar"\nplace = ["0 mm", "0 mm", "-6 mm"]\nsize = ["4 mm", "4 mm", "2 mm"]\n'
    text = WARM.replace("[drive]", magnet + 'remanence = "0.3 T"\ndirection = [0, 0, 1]\n\n[drive]')
    text = text.replace('from = "6 mm"', 'from = "9 mm"')
    file = tmp_path / "magnets.toml"
    file.write_text(text, encoding="utf-8")
    (one,) = ranked(read_study(file), PARTS[1:2], Room(), lambda part: None)
    row = by_hand(tmp_path, USUAL, text=text).row
    assert one.status == "ranked", one.message
    for column in ("margin_dB", "bias_saturated_share", "core_incremental_permeability", "tag_biased_inductance_H"):
        assert one.row[column] == row[column]
    assert row["bias_saturated_share"] > 0.05


def test_the_core_stays_what_the_study_says_and_the_rest_of_its_tag_goes(warm: Study) -> None:
    raw = warm.raw | {"tag": {"core": "drum", "material": {"relative_permeability": 900}, "sensitivity": "1 V per A/m",
                              "capacitor": {"capacitance": "1 nF"}, "chip": {"load_resistance": "1 kohm"}}}  # fmt: skip
    tag = with_part(raw, PARTS[0])["tag"]
    assert tag == {
        "chip": {"load_resistance": "1 kohm"},
        "part": {"inductance": "0.001 H", "dc_resistance": "9.5 ohm", "diameter": "0.004 m", "height": "0.004 m",
                 "material": {"relative_permeability": 900}},
    }  # fmt: skip


# -- the command ----------------------------------------------------------------------------------------------------

LIST = """name,inductance_mH,dc_resistance_ohm,diameter_mm,height_mm,shelf
B,2.7,31,6,5,top
A,2.7,11,6,5,
C,2.7,11,6,26,
"""


def called(tmp_path: Path, listed: str, *arguments: str) -> Result:
    study, parts = tmp_path / "small.toml", tmp_path / "parts.csv"
    study.write_text(SMALL, encoding="utf-8")
    parts.write_text(listed, encoding="utf-8")
    return CliRunner().invoke(main, ["stock", str(study), str(parts), *arguments])


def test_the_command_prints_the_ranking_and_writes_all_of_it(tmp_path: Path) -> None:
    table = tmp_path / "ranked.csv"
    result = called(tmp_path, LIST, "--out", str(table))
    assert result.exit_code == 0, result.stderr
    assert result.stdout.startswith("A is the best of 3 parts:")
    assert "C     does not fit" in result.stdout
    assert "Columns not known here are kept as they are: shelf." in result.stderr
    cautions = [line for line in result.stderr.splitlines() if line.startswith("Caution: ")]
    assert any("peak, more than 42.4 V" in line for line in cautions)
    assert cautions[-1] == f"Caution: {CALCULATION_ONLY}"
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [(row["rank"], row["name"], row["shelf"]) for row in rows] == [
        ("1", "A", ""),
        ("2", "B", "top"),
        ("", "C", ""),
    ]
    same = json.loads(called(tmp_path, LIST, "--json").stdout)
    assert [row["name"] for row in same] == ["A", "B", "C"]
    assert float(rows[0]["margin_dB"]) == same[0]["margin_dB"]


def test_no_word_of_a_list_is_a_formula_in_the_table(tmp_path: Path) -> None:
    names = {"=A1": "'=A1", "@sum": "'@sum", "+x": "'+x", "-40 degC": "-40 degC", "a=b": "a=b"}
    parts = [StockPart(number, name, 1e-3, 9.5, 4e-3, 4e-3, 4e-3) for number, name in enumerate(names)]
    table = stock_table([Judged(part, "does not fit", "too wide", {}) for part in parts])
    assert [row["name"] for row in csv.DictReader(table.splitlines())] == list(names.values())


@pytest.mark.parametrize(
    ("listed", "arguments", "said"),
    [
        (LIST.replace("B,2.7", "B,2.7 mH"), (), "parts.csv:2: inductance:"),
        (LIST, ("--largest-height", "5"), '--largest-height: "5" has no unit'),
        (LIST, ("--largest-diameter", "0 mm"), "a length above 0"),
        (LIST, ("--out", "parts.csv"), "is what was to be read"),
        (LIST, ("--out", "parts.csv/table.csv"), "cannot be written"),
        (LIST, ("--set", "drive.supply=5"), "drive.supply"),
    ],
)
def test_wrong_input_ends_with_a_sentence(
    tmp_path: Path, listed: str, arguments: tuple[str, ...], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = called(tmp_path, listed, *arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert (tmp_path / "parts.csv").read_text(encoding="utf-8") == listed


def test_parts_alike_stand_in_the_order_of_the_list(warm: Study) -> None:
    twins = [replace(PARTS[1], line=line, name=f"twin {line}") for line in (9, 4, 6)]
    found = ranked(warm, twins, Room(), lambda part: None)
    assert [one.part.line for one in found] == [4, 6, 9]
