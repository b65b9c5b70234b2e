"""States of every candidate: equal to each set by hand, the verdict of the worst, what is kept in all; and faults."""

import csv
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from geometries.dielectrics import find_dielectric
from geometries.errors import GeometryError
from geometries.materials import find_material
from studies.assembly import Particulars
from studies.checking import check_lines
from studies.evaluation import Evaluation, evaluated
from studies.report_states import state_table
from studies.rows import Row, number
from studies.running import run_study
from studies.specification import Candidate, CapacitorSpecification
from studies.states import checked_states, read_states
from studies.study import Study, read_study
from studies.sweep import BaseDesign
from tests.studies.small import SMALL
from tests.studies.test_sweep import ODD_VALUES

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]

LIBRARY = Path(__file__).parents[2] / "studies" / "library"

STATES = """
[temperatures.cold]
"layers.heater" = "20 degC"
"base_coil.wire" = "20 degC"
"tag" = "20 degC"

[temperatures.hot]
"layers.heater" = "380 degC"
"base_coil.wire" = "180 degC"
"tag" = "60 degC"
"solids.pan" = "120 degC"
"""
BY_HAND = {
    "cold": {"layers.heater": "20 degC", "base_coil.wire": "20 degC", "tag": "20 degC"},
    "hot": {"layers.heater": "380 degC", "base_coil.wire": "180 degC", "tag": "60 degC", "solids.pan": "120 degC"},
}
SMALL_STATES = """
[temperatures.cold]
"base_coil.wire" = "0 degC"
"base_coil.capacitor" = "0 degC"

[temperatures.hot]
"base_coil.wire" = "150 degC"
"base_coil.capacitor" = "85 degC"
"tag" = "60 degC"
"""
SMALL_BY_HAND = {
    "cold": ("base_coil.wire.temperature=0 degC", "base_coil.capacitor.temperature=0 degC"),
    "hot": (
        "base_coil.wire.temperature=150 degC",
        "base_coil.capacitor.temperature=85 degC",
        "tag.temperature=60 degC",
    ),
}


PAN = """
[[solids]]
name = "pan"
material = "aluminium"
temperature = "300 degC"
outline = [["0 mm", "-14 mm"], ["60 mm", "-14 mm"], ["60 mm", "-12 mm"], ["0 mm", "-12 mm"]]
"""


def bared(candidate: Candidate) -> Candidate:
    """What is solved and judged of a candidate in one state, whatever it is called."""
    return replace(
        candidate, design="", swept=(), state="", states=(), assumptions=(), warnings=(), vessels=(), tuned_in=""
    )


def in_state(candidate: Candidate, name: str) -> Candidate:
    return next(one for one in (candidate, *candidate.states) if one.state == name)


def names(candidate: Candidate) -> list[str]:
    return [one.state for one in (candidate, *candidate.states)]


def rows(found: Evaluation) -> dict[str, Row]:
    return {str(row["state"]): row for row in found.states}


def small_with_states() -> str:
    """The small study with a capacitor and two states, and one swept key besides."""
    text = SMALL.replace('"base_coil.turns" = [40, 60, 300]\n', "").replace(
        'clearance = "0.5 mm"',
        'clearance = "0.5 mm"\ncapacitor = { capacitance = "9 nF", dielectric = "polypropylene" }',
    )
    return text + SMALL_STATES


def warm(text: str = SMALL) -> str:
    """The small study with a hot pan, its sweep left out."""
    return text[: text.index("[sweep]")] + PAN


def test_states_are_part_of_every_candidate(read: Reader, bare: str) -> None:
    study = read(bare + STATES)
    assert study.count == 42
    assert [key for key, _ in study.axes] == ["base_coil.mean_diameter", "base_coil.turns", "base_coil.under"]
    for candidate in (study.base, study.candidate(0), study.candidate(41)):
        assert names(candidate) == ["as given", "cold", "hot"]
        assert {one.coil.mean_diameter for one in (candidate, *candidate.states)} == {candidate.coil.mean_diameter}


@pytest.mark.parametrize("state", BY_HAND)
def test_a_state_is_each_temperature_set_by_hand(read: Reader, bare: str, state: str) -> None:
    alone = bare[: bare.index("[sweep]")] + bare[bare.index("[require]") :]
    overrides = tuple(f"{part}.temperature={value}" for part, value in BY_HAND[state].items())
    found = in_state(read(alone + STATES).candidate(0), state)
    assert bared(found) == bared(read(alone, *overrides).base)
    assert bared(found) == bared(read(alone + STATES, f"temperatures={state}").base)
    assert bared(found) != bared(read(alone).base)


def test_parts_that_a_state_does_not_name_keep_their_own(read: Reader, bare: str) -> None:
    base = read(bare + STATES).base
    cold, hot = in_state(base, "cold"), in_state(base, "hot")
    assert cold.stack.solids[0].temperature == 20.0
    assert hot.stack.solids[0].temperature == 120.0
    assert cold.stack.layers[0].temperature == hot.stack.layers[0].temperature == 20.0


def test_a_warm_design_is_judged_cold_as_well(read: Reader, bare: str) -> None:
    base = read(bare).base
    assert names(base) == ["as given", "cold"]
    cold = base.states[0]
    parts = [*cold.stack.layers, *cold.stack.solids, cold.coil.wire, cold.tag]
    assert {part.temperature for part in parts} == {20.0}
    assert cold.stack.layers[1].material == find_material("nickel-chromium 80/20").heated(20.0)


def test_a_design_without_heat_has_one_state(read: Reader) -> None:
    assert names(read(SMALL).base) == ["as given"]
    assert names(read(SMALL + '[temperatures.bench]\ntag = "20 degC"\n').base) == ["bench"]


def test_no_cold_state_beside_a_swept_temperature(read: Reader, bare: str) -> None:
    text = bare.replace(
        '"base_coil.under" = ["plate", "heater"]', '"layers.heater.temperature" = ["20 degC", "80 degC"]'
    )
    assert names(read(text).candidate(0)) == ["as given"]


def test_a_state_named_cold_is_the_files_own(read: Reader, bare: str) -> None:
    base = read(bare + '[temperatures.cold]\n"layers.heater" = "5 degC"\n').base
    assert names(base) == ["as given", "cold"]
    assert base.states[0].stack.layers[1].temperature == 5.0
    assert base.states[0].coil.wire.temperature == base.coil.wire.temperature > 20.0


def test_a_ribbon_by_its_rating_is_as_thick_cold_as_hot(read: Reader, bare: str) -> None:
    text = bare.replace('thickness = "0.02 mm"', 'rated_power = "500 W"\nrated_voltage = "230 V"')
    assert "rated_power" in text
    base = read(text).base
    hot, cold = base.stack.layers[1], in_state(base, "cold").stack.layers[1]
    assert cold.thickness == hot.thickness
    assert cold.conductivity > hot.conductivity


def test_a_spiral_heater_is_judged_with_its_ends_both_ways() -> None:
    study = read_study(LIBRARY / "spiral-heater.toml")
    assert names(study.candidate(0)) == ["as given", "cold"]  # the study sweeps the ends
    alone = read_study(LIBRARY / "spiral-heater.toml", ('sweep={"base_coil.turns" = [60, 64]}',)).base
    assert names(alone) == ["as given", "as given, ends joined", "cold", "cold, ends joined"]
    kinds = [next(layer.kind for layer in one.stack.layers if "spiral" in layer.kind) for one in (alone, *alone.states)]
    assert kinds == ["open spiral", "shorted spiral"] * 2


@pytest.mark.parametrize(("state", "by_hand"), SMALL_BY_HAND.items())
def test_a_state_solves_as_temperatures_set_by_hand_to_the_last_digit(
    read: Reader, state: str, by_hand: tuple[str, ...]
) -> None:
    found = evaluated(read(small_with_states()).candidate(1))
    overrides = ("base_coil.mean_diameter=44 mm", *by_hand)
    alone = evaluated(read(small_with_states().replace(SMALL_STATES, ""), *overrides).base)
    # The tag has no capacitor of its own and keeps the one that tunes it as given.
    kept = replace(alone.candidate.tag, capacitor=kept_in(found))
    alone = evaluated(replace(alone.candidate, tag=kept))
    own = rows(alone)["as given"]
    left_out = ("state", "worst_state", "margin_tuned_dB", "margin_as_fitted_dB", "tag_tuning_parts")
    left_out += ("tag_fitted_capacitance_least_F", "tag_fitted_capacitance_greatest_F")
    assert {name: value for name, value in rows(found)[state].items() if name not in left_out} == {
        name: value for name, value in own.items() if name not in left_out
    }
    for name in ("base_winding_resistance_ohm", "tuning_capacitance_F", "base_detuning", "chip_voltage_V"):
        assert rows(found)[state][name] != rows(found)["as given"][name]
    assert found.coils.base.field is alone.coils.base.field
    assert found.coils.tag.field is alone.coils.tag.field  # no core: only its resistance moves


def kept_in(found: Evaluation) -> CapacitorSpecification:
    exact = number(found.states[0], "tag_tuning_capacitance_F")
    return CapacitorSpecification(exact, exact, exact)


def test_the_verdict_is_of_the_worst_state(read: Reader) -> None:
    text = small_with_states().replace('at_most = { coil_voltage = "200 V" }', 'at_most = { coil_voltage = "1 V" }')
    text = text.replace("at_most", 'at_least = { margin = "90 dB", read_height = "200 mm" }\nat_most')
    found = evaluated(read(text).base)
    each = rows(found)
    assert list(each) == ["as given", "cold", "hot"]
    for name, extreme in (
        ("margin_dB", min), ("read_height_m", min), ("margin_as_fitted_dB", min), ("store_voltage_V", min),
        ("coil_voltage_V", max), ("base_current_A", max), ("input_power_W", max), ("capacitor_voltage_V", max),
    ):  # fmt: skip
        if name in found.row:
            values = {state: number(row, name) for state, row in each.items()}
            assert len(set(values.values())) > 1, name
            assert found.row[name] == pytest.approx(extreme(values.values()), rel=1e-6, abs=0.0)
    least = min(each, key=lambda state: number(each[state], "margin_dB"))
    most = max(each, key=lambda state: number(each[state], "coil_voltage_V"))
    assert (least, most) == ("hot", "cold")
    assert found.row["worst_state"] == least
    told = {check.quantity: check.where for check in found.verdict.failures}
    assert told["margin"].endswith(f", {least}")
    assert told["coil_voltage"] == most
    assert told["read_height"].endswith(f", {least}")
    assert found.row["base_resistance_ohm"] == each["as given"]["base_resistance_ohm"]
    alone = evaluated(replace(found.candidate, states=()))
    assert (found.map.worst_margin <= alone.map.worst_margin).all()
    assert (found.map.worst_margin < alone.map.worst_margin).any()
    assert (found.map.margin == alone.map.margin).all()
    assert (found.profiles[0].margin <= alone.profiles[0].margin).all()


def test_turns_and_capacitors_are_found_in_one_state_and_kept(read: Reader) -> None:
    """A pan's heat moves the coil's inductance: what tunes it as given is off tune cold, and the other way round."""
    text = warm().replace("turns = 40\n", 'inductance = "110 uH"\n', 1)
    hot = evaluated(read(text).base)
    each = rows(hot)
    assert list(each) == ["as given", "cold"]
    assert each["cold"]["base_turns"] == each["as given"]["base_turns"]
    assert each["cold"]["tuning_capacitance_F"] == each["as given"]["tuning_capacitance_F"]
    assert abs(number(each["as given"], "base_detuning")) < 1e-12
    off = number(each["cold"], "base_detuning")
    moved = number(each["as given"], "base_inductance_H") / number(each["cold"], "base_inductance_H")
    assert moved > 1.0 + 1e-5  # currents in warmer aluminium push back less
    assert off == pytest.approx(np.sqrt(moved) - 1.0, rel=1e-6, abs=0.0)
    cold = rows(evaluated(read(text, "link.mode=half-duplex", "link.tuned_in=cold").base))
    assert abs(number(cold["cold"], "base_detuning")) < 1e-12
    assert number(cold["as given"], "base_detuning") == pytest.approx(1.0 / (1.0 + off) - 1.0, rel=1e-6, abs=0.0)


def test_chosen_parts_are_the_same_in_all_states_and_drift(read: Reader) -> None:
    text = warm().replace(
        'clearance = "0.5 mm"',
        'clearance = "0.5 mm"\ncapacitor = { choose = "pair", dielectric = "polypropylene", temperature = "85 degC" }',
    )
    found = evaluated(read(text).base)
    each = rows(found)
    assert each["cold"]["tuning_parts"] == each["as given"]["tuning_parts"]
    factors = {state: find_dielectric("polypropylene").factors(warm)[0] for state, warm in WARMTH.items()}
    assert number(each["cold"], "tuning_capacitance_F") / number(each["as given"], "tuning_capacitance_F") == (
        pytest.approx(factors["cold"] / factors["as given"], rel=1e-12, abs=0.0)
    )


WARMTH = {"as given": 85.0, "cold": 20.0}


def test_the_ladder_goes_from_cold_to_hot(read: Reader) -> None:
    """Cold steps are the cold study's own, the hot one is that of the state as given."""
    text = warm().replace('minimum_voltage = "0.2 V"', 'minimum_voltage = "3 V"')
    text = text.replace('overall_diameter = "0.30 mm"', 'overall_diameter = "0.30 mm", temperature = "200 degC"')
    found = evaluated(read(text).base)
    cold = evaluated(read(text, "solids.pan.temperature=20 degC", "base_coil.wire.temperature=20 degC").base)
    for step in ("in_air", "installed", "detuned", "displaced"):
        assert found.row[f"ladder_{step}_dB"] == pytest.approx(cold.row[f"ladder_{step}_dB"], abs=1e-9, rel=0.0)
    each = rows(found)
    assert found.row["ladder_hot_dB"] == pytest.approx(each["as given"]["margin_tuned_dB"], abs=1e-9, rel=0.0)
    assert number(found.row, "ladder_hot_dB") < number(found.row, "ladder_displaced_dB") - 0.5
    assert found.row["ladder_worst_state_dB"] == pytest.approx(found.row["margin_as_fitted_dB"], abs=1e-9, rel=0.0)
    assert cold.row["ladder_hot_dB"] is None
    assert cold.row["ladder_worst_state_dB"] is None


def test_a_ribbon_magnetic_when_cold_is_named(read: Reader, bare: str) -> None:
    hot = bare.replace('"nickel-chromium 80/20"', '"iron-chromium-aluminium"').replace('"400 degC"', '"700 degC"')
    base = read(hot).base
    assert names(base) == ["as given"]
    (told,) = (text for text in base.warnings if "not judged cold" in text)
    assert told.startswith("layers.heater.material: ")
    assert "a ribbon of iron-chromium-aluminium is magnetic at 20 degC" in told


def test_a_state_that_cannot_be_computed_is_refused_by_name(faults: FaultLister, bare: str) -> None:
    hot = bare.replace('"nickel-chromium 80/20"', '"iron-chromium-aluminium"').replace('"400 degC"', '"700 degC"')
    (found,) = faults(hot + STATES)
    assert "temperatures.cold: layers.heater.material: a ribbon of iron-chromium-aluminium is magnetic at" in found
    assert found.endswith("; a state that can be computed, or none")


def test_a_candidate_that_cannot_be_computed_in_a_state_fails_by_name(read: Reader, bare: str) -> None:
    axis = '"layers.heater.material" = ["nickel-chromium 80/20", "iron-chromium-aluminium"]'
    text = bare.replace('"400 degC"', '"700 degC"')
    text = text.replace('"base_coil.under" = ["plate", "heater"]', axis) + STATES.replace("380", "700")
    study = read(text)
    study.candidate(0)
    with pytest.raises(GeometryError, match=r"^temperatures\.cold: layers\.heater\.material: .* magnetic at 20 degC"):
        study.candidate(1)


@pytest.mark.parametrize("name", ["hut", "Cold"])
def test_a_state_to_be_tuned_in_has_to_be_there(faults: FaultLister, bare: str, name: str) -> None:
    (found,) = faults(bare + STATES, f"link.tuned_in={name}")
    assert found.startswith(f'--set: link.tuned_in: no state is called "{name}"; one of as given, cold, hot')


@pytest.mark.slow
def test_a_run_writes_a_row_for_each_state(tmp_path: Path) -> None:
    file = tmp_path / "study.toml"
    file.write_text(small_with_states(), encoding="utf-8")
    outcome = run_study(read_study(file), tmp_path / "run", 1, fresh=False)
    with (outcome.run.folder / "states.csv").open(encoding="utf-8") as table:
        found = list(csv.DictReader(table))
    assert [(row["design"], row["state"]) for row in found] == [
        (design, state) for design in ("c0001", "c0002") for state in ("as given", "cold", "hot")
    ]
    with (outcome.run.folder / "designs.csv").open(encoding="utf-8") as table:
        designs = list(csv.DictReader(table))
    assert [float(row["margin_dB"]) for row in designs] == [
        min(float(row["margin_dB"]) for row in found[at : at + 3]) for at in (0, 3)
    ]
    page = outcome.report.read_text(encoding="utf-8")
    assert "The design in each of its states" in page
    assert "The margin is least in the state “hot”" in page


def test_the_table_of_states_marks_what_decides(read: Reader) -> None:
    found = evaluated(read(small_with_states()).base)
    table = state_table(found.candidate, found.states)
    assert table is not None
    assert table.names == ("as given", "cold", "hot")
    worst = {row.name: row.worst for row in table.rows}
    assert worst["margin at the worst place"] == 2
    assert worst["coil voltage, peak"] == 1
    assert worst["base coil, L"] == -1
    assert state_table(found.candidate, found.states[:1]) is None


def test_states_share_a_field_and_are_listed(read: Reader) -> None:
    lines = check_lines(read(small_with_states()))
    assert "State cold: base_coil.wire 0 degC, base_coil.capacitor 0 degC" in lines
    assert "State hot: base_coil.wire 150 degC, base_coil.capacitor 85 degC, tag 60 degC" in lines
    assert any(line.startswith("Designs: 2, 2 fields to solve") for line in lines)
    heated = small_with_states().replace('"tag" = "60 degC"', '"layers.plate" = "60 degC"')
    assert any(line.startswith("Designs: 2, 4 fields to solve") for line in check_lines(read(heated)))


def test_dotted_parts_without_quotation_marks(read: Reader, bare: str) -> None:
    dotted = STATES.replace('"layers.heater"', "layers.heater").replace('"base_coil.wire"', "base_coil.wire")
    one, other = read(bare + dotted), read(bare + STATES)
    assert [one.candidate(i) for i in range(2)] == [other.candidate(i) for i in range(2)]


@pytest.mark.parametrize(
    "override",
    ['temperatures.hot."layers.heater"=300 degC', "temperatures.hot.layers.heater=300 degC"],
)
def test_a_temperature_of_a_state_is_set_on_the_command_line(read: Reader, bare: str, override: str) -> None:
    for text in (STATES, STATES.replace('"layers.heater"', "layers.heater")):
        study = read(bare + text, override)
        assert in_state(study.base, "hot").stack.layers[1].temperature == 300.0
        assert in_state(study.base, "cold").stack.layers[1].temperature == 20.0
        assert read(study.text).candidate(1) == study.candidate(1)  # as it is stored with the run


def test_a_state_taken_on_the_command_line_is_the_one_as_given(read: Reader, bare: str) -> None:
    study = read(bare + STATES, "temperatures=hot")
    assert names(study.base) == ["as given", "cold"]
    assert study.base.tag.temperature == 60.0
    assert read(study.text).base == study.base


def test_the_base_design_may_be_set_besides(read: Reader, bare: str) -> None:
    study = read(bare + STATES, "layers.heater.temperature=111 degC")
    assert study.base.stack.layers[1].temperature == 111.0
    assert in_state(study.candidate(1), "hot").stack.layers[1].temperature == 380.0


@pytest.mark.parametrize(
    ("states", "line", "told"),
    [
        (
            '[temperatures.hot]\n"layers.heatr" = "20 degC"',
            2,
            'temperatures.hot."layers.heatr": layers has no heatr; one of plate, heater; did you mean layers.heater',
        ),
        (
            '[temperatures.hot]\n"base_coil.wier" = "20 degC"',
            2,
            'temperatures.hot."base_coil.wier": base_coil.wier is no part with a temperature; one of layers.plate, '
            "layers.heater, base_coil.wire, tag, solids.pan; did you mean base_coil.wire",
        ),
        (
            '[temperatures.hot]\ntag = "20 degC"\n"layers.heater.temperature" = "20 degC"',
            3,
            "layers.heater.temperature is no part with a temperature; one of layers.plate, layers.heater, "
            "base_coil.wire, tag, solids.pan; did you mean layers.heater",
        ),
        (
            '[temperatures.hot]\n"base_coil.capacitor" = "20 degC"',
            2,
            "base_coil.capacitor is no part with a temperature",
        ),
        ('[temperatures.hot]\n"tag" = "20"', 2, 'temperatures.hot.tag: "20" has no unit; a temperature in degC or K'),
        (
            '[temperatures.cold]\ntag = "20 degC"\n[temperatures.hot]\n"layers.heater" = 400',
            4,
            'temperatures.hot."layers.heater": 400 has no unit',
        ),
        ('[temperatures.hot]\nlayers.heater = "9000 degC"', 2, 'temperatures.hot.layers.heater: "9000 degC" is out of'),
        ("[temperatures.hot]", 1, "temperatures.hot: a state that names no part; parts with their temperatures"),
        ('temperatures = { hot = "20 degC" }', 1, "temperatures.hot: a text where a table belongs; parts with"),
        ("temperatures = 20", 1, "temperatures: a number; 1 to 20 tables of states, as in [temperatures.hot]"),
        ("[temperatures]", 1, "temperatures: a table of 0 states; 1 to 20 tables of states"),
        ('[temperatures."-hot"]\ntag = "20 degC"', 1, 'temperatures.-hot: "-hot" is no name'),
        (
            '[temperatures.hot]\n"layers.1" = "20 degC"\n"layers.heater" = "30 degC"',
            3,
            "the same part twice in one state; each part once",
        ),
        (
            '[temperatures.hot]\n"layers..heater" = "20 degC"',
            2,
            '"layers..heater" is no key path',
        ),
        (
            '[temperature.hot]\n"layers.heater" = "20 degC"',
            1,
            "magnets, neighbour, puck, sweep, sampling, temperatures, spread; did you mean temperatures",
        ),
    ],
)
def test_faults_of_states(faults: FaultLister, first_look: str, states: str, line: int, told: str) -> None:
    text = first_look + '[[solids]]\nname = "pan"\nmaterial = "aluminium"\noutline = [["0 mm", "-40 mm"], '
    text += '["80 mm", "-40 mm"], ["80 mm", "-38 mm"]]\n'
    if not states.startswith("["):  # a plain key stands before all tables
        text = states + "\n" + text
        before = 0
    else:
        before = text.count("\n")
        text += states + "\n"
    (found,) = faults(text)
    assert told in found
    assert found.startswith(f"study.toml:{before + line}: ")


def test_no_odd_value_in_a_state_brings_down_the_reader(bare: str) -> None:
    """In the place of the table, of a state, of a part's key or of its temperature."""
    raw = tomllib.loads(bare)
    del raw["sweep"]
    base = BaseDesign(raw, raw, (), Particulars())
    for value in ODD_VALUES:
        tables: list[object] = [value, {"hot": value}, {"hot": {"tag": value}}, {"hot": {"layers": {"heater": value}}}]
        if isinstance(value, str):
            tables += [{value: {"tag": "20 degC"}}, {"hot": {value: "20 degC"}}]
        for table in tables:
            states, findings = read_states(table, raw, ())
            found = [*findings, *checked_states(states, base)]
            if not found:  # a temperature, or a fair name for a state
                assert isinstance(value, str)
                assert value.endswith("degC") or (isinstance(table, dict) and value in table)


def test_names_of_states_that_read_as_quantities_stay_names(read: Reader, bare: str) -> None:
    study = read(bare + STATES.replace("temperatures.hot", 'temperatures."1e999 mm"'))
    assert names(study.base) == ["as given", "cold", "1e999 mm"]


def test_a_state_is_not_called_as_given(faults: FaultLister, bare: str) -> None:
    (found,) = faults(bare + '[temperatures."as given"]\ntag = "20 degC"\n')
    assert 'temperatures.as given: "as given" is what the rest of the file describes; another name' in found


def test_a_sampled_study_has_its_states_too(read: Reader, bare: str) -> None:
    text = bare.replace(", count = 7 }", " }") + STATES
    study = read(text + '[sampling]\nmethod = "latin hypercube"\ncount = 10\n')
    assert study.count == 10
    assert sum(line.startswith("State ") for line in check_lines(study)) == 2
    assert all(names(candidate) == ["as given", "cold", "hot"] for candidate in study.candidates())


def test_a_misspelt_table_of_states_is_told(faults: FaultLister, first_look: str) -> None:
    (found,) = faults(first_look + '[temperature.hot]\ntag = "20 degC"\n')
    assert found.endswith("did you mean temperatures")


def test_a_gap_has_no_temperature(faults: FaultLister, bare: str) -> None:
    gap = (
        bare
        + '[[layers]]\nname = "air"\nkind = "gap"\nthickness = "1 mm"\n[temperatures.hot]\n"layers.air" = "20 degC"\n'
    )
    (found,) = faults(gap)
    assert "layers.air is no part with a temperature; one of layers.plate, layers.heater, " in found


def test_a_temperature_cannot_be_swept_twice(faults: FaultLister, bare: str) -> None:
    text = bare.replace(
        '"base_coil.under" = ["plate", "heater"]', '"layers.heater.temperature" = ["20 degC", "30 degC"]'
    )
    (found,) = (line for line in faults(text + STATES) if "cold" in line)
    assert (
        'temperatures.cold."layers.heater": its temperature is swept as well, by layers.heater.temperature; '
        "one of the two"
    ) in found
    (found,) = faults(bare.replace('"base_coil.under" = ["plate", "heater"]', "temperatures = [1, 2]") + STATES)
    assert "temperatures cannot be swept: every candidate is judged in all of its states" in found


@pytest.mark.parametrize(
    ("override", "told"),
    [
        (
            "temperatures=hut",
            '--set: temperatures: no state is called "hut"; one of cold, hot; did you mean hot',
        ),
        ('temperatures.hot."layers.heater"=300', '--set: temperatures.hot."layers.heater": 300 has no unit'),
        ("temperatures.hot.layers.oven=300 degC", '--set: temperatures.hot."layers.oven": layers has no oven'),
    ],
)
def test_faults_of_states_on_the_command_line(faults: FaultLister, bare: str, override: str, told: str) -> None:
    (found,) = faults(bare + STATES, override)
    assert found.startswith(told)
