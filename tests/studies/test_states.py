"""States of all temperatures together: one axis of the sweep, equal to setting each by hand, and its faults."""

import csv
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from studies.assembly import Particulars
from studies.checking import check_lines
from studies.evaluation import evaluated
from studies.running import run_study
from studies.specification import Candidate
from studies.states import checked_states, read_states
from studies.study import Study, read_study
from studies.sweep import BaseDesign
from studies.swept import swept_axes
from tests.studies.small import SMALL
from tests.studies.test_sweep import ODD_VALUES

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]

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


def unnamed(candidate: Candidate) -> Candidate:
    return replace(candidate, design="", swept=())


def small_with_states() -> str:
    """The small study with a capacitor and two states, and one swept key besides."""
    text = SMALL.replace('"base_coil.turns" = [40, 60, 300]\n', "").replace(
        'clearance = "0.5 mm"',
        'clearance = "0.5 mm"\ncapacitor = { capacitance = "9 nF", dielectric = "polypropylene" }',
    )
    return text + SMALL_STATES


def test_states_multiply_the_sweep_and_come_last(read: Reader, bare: str) -> None:
    study = read(bare + STATES)
    assert study.axes[-1] == ("temperatures", ("cold", "hot"))
    assert study.count == 2 * 42
    assert study.swept(1)[-1] == ("temperatures", "hot")
    assert study.candidate(1).design == "c0002"
    assert study.candidate(0).coil.mean_diameter == study.candidate(1).coil.mean_diameter


@pytest.mark.parametrize("state", BY_HAND)
def test_a_state_is_each_temperature_set_by_hand(read: Reader, bare: str, state: str) -> None:
    alone = bare[: bare.index("[sweep]")] + bare[bare.index("[require]") :]
    study = read(alone + STATES)
    overrides = tuple(f"{part}.temperature={value}" for part, value in BY_HAND[state].items())
    found = study.candidate(list(BY_HAND).index(state))
    assert unnamed(found) == unnamed(read(alone, *overrides).base)
    assert unnamed(found) == unnamed(read(alone + STATES, f"temperatures={state}").base)
    assert unnamed(found) != unnamed(read(alone).base)


def test_parts_that_a_state_does_not_name_keep_their_own(read: Reader, bare: str) -> None:
    cold, hot = read(bare + STATES).candidate(0), read(bare + STATES).candidate(1)
    assert cold.stack.solids[0].temperature == 20.0
    assert hot.stack.solids[0].temperature == 120.0
    assert cold.stack.layers[0].temperature == hot.stack.layers[0].temperature == 20.0


def test_the_base_design_has_the_files_own_temperatures(read: Reader, bare: str) -> None:
    base = read(bare + STATES).base
    assert unnamed(base) == unnamed(read(bare).base)


@pytest.mark.parametrize(("state", "by_hand"), SMALL_BY_HAND.items())
def test_a_state_solves_as_temperatures_set_by_hand_to_the_last_digit(
    read: Reader, state: str, by_hand: tuple[str, ...]
) -> None:
    study = read(small_with_states())
    found = evaluated(study.candidate(2 + list(SMALL_BY_HAND).index(state)))
    assert dict(found.candidate.swept) == {"base_coil.mean_diameter": 44e-3, "temperatures": state}
    alone = evaluated(read(small_with_states(), "base_coil.mean_diameter=44 mm", *by_hand).base)
    assert found.row == alone.row
    assert (found.map.margin == alone.map.margin).all()
    plain = evaluated(read(small_with_states(), "base_coil.mean_diameter=44 mm").base)
    for name in ("base_winding_resistance_ohm", "tuning_capacitance_F", "base_detuning", "chip_voltage_V"):
        assert found.row[name] != plain.row[name]
    assert found.coils.base.field is plain.coils.base.field
    assert found.coils.tag.field is plain.coils.tag.field  # no core: only its resistance moves


@pytest.mark.slow
def test_a_run_names_the_state_of_each_design(tmp_path: Path) -> None:
    file = tmp_path / "study.toml"
    file.write_text(small_with_states(), encoding="utf-8")
    outcome = run_study(read_study(file), tmp_path / "run", 1, fresh=False)
    with (outcome.run.folder / "designs.csv").open(encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert [row["temperatures"] for row in rows] == ["cold", "hot", "cold", "hot"]
    assert {row["status"] for row in rows} == {"done"}
    assert "temperatures" in outcome.report.read_text(encoding="utf-8")


def test_states_of_wire_capacitor_and_tag_share_a_field_and_are_listed(read: Reader) -> None:
    lines = check_lines(read(small_with_states()))
    assert "Swept: temperatures, 2 values from cold to hot" in lines
    assert "State cold: base_coil.wire 0 degC, base_coil.capacitor 0 degC" in lines
    assert "State hot: base_coil.wire 150 degC, base_coil.capacitor 85 degC, tag 60 degC" in lines
    assert any(line.startswith("Designs: 4, 2 fields to solve") for line in lines)
    heated = small_with_states().replace('"tag" = "60 degC"', '"layers.plate" = "60 degC"')
    assert any(line.startswith("Designs: 4, 4 fields to solve") for line in check_lines(read(heated)))


def test_dotted_parts_without_quotation_marks(read: Reader, bare: str) -> None:
    dotted = STATES.replace('"layers.heater"', "layers.heater").replace('"base_coil.wire"', "base_coil.wire")
    one, other = read(bare + dotted), read(bare + STATES)
    assert [one.candidate(i) for i in range(4)] == [other.candidate(i) for i in range(4)]


@pytest.mark.parametrize(
    "override",
    ['temperatures.hot."layers.heater"=300 degC', "temperatures.hot.layers.heater=300 degC"],
)
def test_a_temperature_of_a_state_is_set_on_the_command_line(read: Reader, bare: str, override: str) -> None:
    for text in (STATES, STATES.replace('"layers.heater"', "layers.heater")):
        study = read(bare + text, override)
        assert study.candidate(1).stack.layers[1].temperature == 300.0
        assert study.candidate(0).stack.layers[1].temperature == 20.0
        assert read(study.text).candidate(1) == study.candidate(1)  # as it is stored with the run


def test_a_state_taken_on_the_command_line_leaves_no_axis(read: Reader, bare: str) -> None:
    study = read(bare + STATES, "temperatures=hot")
    assert study.count == 42
    assert study.base.tag.temperature == 60.0
    assert read(study.text).base == study.base


def test_the_base_design_may_be_set_besides(read: Reader, bare: str) -> None:
    study = read(bare + STATES, "layers.heater.temperature=111 degC")
    assert study.base.stack.layers[1].temperature == 111.0
    assert study.candidate(1).stack.layers[1].temperature == 380.0


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
        ("temperatures = 20", 1, "temperatures: a number; tables of states, as in [temperatures.hot]"),
        ("[temperatures]", 1, "temperatures: a table of 0 states; tables of states"),
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
            "magnets, neighbour, sweep, sampling, temperatures; did you mean temperatures",
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
            axes, findings = read_states(table, raw, ())
            found = [*findings, *(fault for axis in axes for fault in checked_states(axis, base).findings)]
            if not found:  # a temperature, or a fair name for a state
                assert isinstance(value, str)
                assert value.endswith("degC") or (isinstance(table, dict) and value in table)


def test_names_of_states_that_read_as_quantities_stay_names(read: Reader, bare: str) -> None:
    study = read(bare + STATES.replace("temperatures.cold", 'temperatures."1e999 mm"'))
    axis = swept_axes(study)[-1]
    assert (axis.title, axis.texts, axis.numbers) == ("temperatures", ("1e999 mm", "hot"), None)


def test_sampled_states_are_listed_once(read: Reader, bare: str) -> None:
    text = bare.replace(", count = 7 }", " }") + STATES
    study = read(text + '[sampling]\nmethod = "latin hypercube"\ncount = 10\n')
    assert study.count == 10
    assert swept_axes(study)[-1].texts in (("cold", "hot"), ("hot", "cold"))
    assert sum(line.startswith("State ") for line in check_lines(study)) == 2
    for candidate in study.candidates():
        assert candidate.tag.temperature == (20.0 if dict(candidate.swept)["temperatures"] == "cold" else 60.0)


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
    assert "temperatures cannot be swept: its states are swept already" in found


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


def test_too_many_designs_counts_the_states(faults: FaultLister, first_look: str) -> None:
    sweep = '[sweep]\n"drive.supply" = { from = "1 V", to = "9 V", count = 1000 }\n'
    sweep += '"drive.resistance" = { from = "1 ohm", to = "9 ohm", count = 900 }\n'
    (found,) = faults(first_look + sweep + STATES.replace('"solids.pan" = "120 degC"\n', ""))
    assert "the product of all lists is 1800000 designs" in found
