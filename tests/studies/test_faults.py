"""What a spoilt study file is refused with: the text, the key and the line."""

import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

from geometries.errors import GeometryError
from studies.faults import Fault, StudyFaults
from studies.study import Study, read_study

FaultLister = Callable[..., list[str]]
Reader = Callable[..., Study]

# (text of the full vocabulary, what it is spoilt to, key and clauses that the one fault must hold)
SPOILT = [
    ('"44 mm"', "44", ["base_coil.mean_diameter: 44 has no unit; a length in mm,", 'did you mean "44 mm"']),
    ('"44 mm"', '"44"', ['base_coil.mean_diameter: "44" has no unit', 'did you mean "44 mm"']),
    ('"44 mm"', '"44 ohm"', ['base_coil.mean_diameter: "44 ohm" is a resistance; a length in mm,']),
    ('"44 mm"', '"-44 mm"', ['base_coil.mean_diameter: "-44 mm" is negative; a length of 0.1 um to 10000 mm']),
    ('"44 mm"', '"0 mm"', ['base_coil.mean_diameter: "0 mm" is zero; a length of 0.1 um to 10000 mm']),
    ('"44 mm"', "nan", ["base_coil.mean_diameter: nan is not a finite number"]),
    ('"44 mm"', "inf", ["base_coil.mean_diameter: inf is not a finite number"]),
    ('"44 mm"', '"inf mm"', ['base_coil.mean_diameter: "inf mm" is not a finite number']),
    ('"44 mm"', "[1]", ["base_coil.mean_diameter: a list where a text with a unit belongs"]),
    ("accuracy = 1e-3", "accuracy = nan", ["study.accuracy: nan is not a finite number"]),
    ("accuracy = 1e-3", "accuracy = 0.2", ["study.accuracy: 0.2 is out of bounds", "1e-06 to 0.05"]),
    ('"134.2 kHz"', '"134.2 mHz"', ['study.frequency: "mHz" in "134.2 mHz"', 'did you mean "134.2 MHz"']),
    (
        '"134.2 kHz"',
        '"100 Hz"',
        ['study.frequency: "100 Hz" is out of bounds', "1 kHz to 10 MHz", "magnetoquasistatic"],
    ),
    ('"134.2 kHz"', '"11 MHz"', ['study.frequency: "11 MHz" is out of bounds']),
    ('name = "culture-bench"', 'name = "a/b"', ['study.name: "a/b" is no name']),
    ("mean_diameter = ", "mean_diamter = ", ["base_coil.mean_diamter: is not a key", "did you mean mean_diameter"]),
    ('under = "heater"', 'under = "heatr"', ['base_coil.under: no layer is called "heatr"', 'did you mean "heater"']),
    ('"aluminium"', '"aluminum"', ['solids.pan.material: no material is called "aluminum"', '"aluminium"']),
    ("turns = 64", "turns = 64.5", ["base_coil.turns: 64.5 is not a whole number"]),
    ("turns = 64", "turns = true", ["base_coil.turns: True is true or false"]),
    ("turns = 64", "turns = 0", ["base_coil.turns: 0 is out of bounds"]),
    ("turns = 64", 'turns = 64\ninductance = "1 uH"', ["base_coil.inductance: both turns and inductance are given"]),
    ('radial_build = "3 mm"', "", ["base_coil.winding_length: winding_length is given without radial_build"]),
    ("turns = 64", "turns = 200", ["base_coil.turns: 200 turns of wire", "do not fit"]),
    ('"0.30 mm"', '"0.20 mm"', ["base_coil.wire.overall_diameter: 0.2 mm was given"]),
    ('diameter = "0.25 mm"', 'gauge = "AWG 99"', ["base_coil.wire.gauge: 'AWG 99' is not a wire gauge"]),
    ('diameter = "0.25 mm"', "#", ["base_coil.wire: neither diameter nor gauge is given"]),
    ('diameter = "0.25 mm"', 'diameter = "0.25 mm"\ngauge = "AWG 30"', ["base_coil.wire.gauge: both diameter and"]),
    ('ribbon_width = "2.5 mm"', 'ribbon_width = "5 mm"', ["layers.heater.pitch: 4 mm was given"]),
    ('thickness = "0.02 mm"', 'thickness = "2 mm"', ["layers.heater.thickness: a ribbon 2 mm", "skin depth"]),
    (
        '"nickel-chromium 80/20"',
        '"iron-chromium-aluminium"',
        ["layers.heater.material: a ribbon", "is magnetic at 400"],
    ),
    ('"nickel-chromium 80/20"', '"mica"', ["layers.heater.material: a ribbon of mica does not conduct"]),
    ('kind = "meander"', 'kind = "ring"', ['layers.heater.kind: "ring" is not known here', 'did you mean "rings"']),
    (
        'kind = "meander"',
        'kind = "meander"\ntermination = { resistance = "1 ohm" }',
        ["layers.heater.termination: termination does not belong to a layer of kind meander", "kind shorted spiral"],
    ),
    (
        'kind = "meander"',
        'kind = "shorted spiral"\ntermination = { resistance = "-1 ohm" }',
        ['layers.heater.termination.resistance: "-1 ohm" is negative'],
    ),
    ('kind = "meander"', 'kind = "meandr"', ['layers.heater.kind: "meandr" is not known', 'did you mean "meander"']),
    ('"400 degC"', '"400 mm"', ['layers.heater.temperature: "400 mm" is a length; a temperature in degC or K']),
    ('name = "pan"', 'name = "plate"', ["solids.plate.name: ", "is the name of another"]),
    ('["0 mm", "-38 mm"]]', '["-1 mm", "-38 mm"]]', ["solids.pan.outline: the corner", "across the axis"]),
    ('["0 mm", "-38 mm"]]', '["0 mm"]]', ["solids.pan.outline.3: a corner of 1 lengths"]),
    (
        '["0 mm", "-38 mm"]]',
        "[0, 1]]",
        ["solids.pan.outline.3.0: 0 has no unit", "solids.pan.outline.3.1: 1 has no unit"],
    ),
    ('series_resistance = "30 ohm"', "#", ["tag: neither wire nor series_resistance is given"]),
    (
        'core = "drum"',
        'core = "rod"',
        ["tag.rod_diameter: is missing", "tag.rod_length: is missing", 'does not belong to core "rod"'],
    ),
    ('core = "drum"', "", ["tag.core: is missing"]),
    ("turns = 300", 'turns = 300\npart = { inductance = "1 mH" }', ["tag.turns: both part and turns", "is missing"]),
    ('"5.2 mm"', '"7 mm"', ["tag.winding_outer_diameter: 7 mm was given"]),
    ('clamp_voltage = "8 V"', 'clamp_voltage = "2 V"', ["tag.chip.clamp_voltage: a clamp at 2 V"]),
    ('bridge = "full"', 'bridge = "sine"', ["drive.supply: a sine source has no supply", "source_voltage"]),
    ('supply = "5 V"', 'source_voltage = "5 V"', ["drive.source_voltage: a full or half bridge has no source_voltage"]),
    ('supply = "5 V"', 'supply = "5 V"\nsource_voltage = "5 V"', ["drive.source_voltage: both supply and"]),
    ('supply = "5 V"', "", ["drive.supply: is missing: a full or half bridge needs it"]),
    ('mode = "half-duplex"', 'mode = "full-duplex"', ["link.storage: a full-duplex tag has no storage"]),
    ('from = "5 mm"', 'from = "2 mm"', ["map.height: a height of 2 mm with a tilt of 90 deg puts", "from 3 mm"]),
    ('"90 deg"]', '"190 deg"]', ['map.tilt.2: "190 deg" is out of bounds; an angle of -180 deg to 180 deg']),
    ('"0 deg", "20 deg"', '"20 deg", "0 deg"', ["map.tilt: values that do not rise"]),
    ('height = "25 mm"', 'height = "1 mm"', ["require.places.0.height: a height of 1 mm", "into the plate"]),
    ('margin = "3 dB"', 'margn = "3 dB"', ["require.at_least.margn: is not a key", "did you mean margin"]),
    ("[drive]", "[drve]", ["drve: is not a key", "did you mean drive", "drive: is missing"]),
]


@pytest.mark.parametrize(("text", "spoilt", "clauses"), SPOILT)
def test_names_key_given_and_allowed(
    faults: FaultLister, full: str, text: str, spoilt: str, clauses: list[str]
) -> None:
    assert text in full
    changed = full.replace(text, spoilt, 1)
    told = faults(changed)
    for clause in clauses:
        assert any(clause in line for line in told), told
    assert all(any(clause in line for clause in clauses) for line in told), told


def test_ribbons_outside_their_model(faults: FaultLister, read: Reader, full: str) -> None:
    """X = 2π f μ0 σ t w is 3.1 for 0.02 mm of copper 2.5 mm wide, 7.8 for 0.05 mm; δ/3 is 0.06 mm."""
    copper = full.replace('"nickel-chromium 80/20"', '{ conductivity = "59 MS/m" }')
    assert any("X = omega mu0 sigma t w is 3.13" in warning for warning in read(copper).base.warnings)
    (told,) = faults(copper.replace('"0.02 mm"', '"0.05 mm"'))
    assert (
        "layers.heater.ribbon_width: a ribbon whose screening number X = omega mu0 sigma t w is 7.81; at most 6.28"
        in told
    )
    assert not any("screening" in warning for warning in read(full).base.warnings)


def test_line_is_that_of_the_key(faults: FaultLister, full: str) -> None:
    line = full[: full.index("mean_diameter")].count("\n") + 1
    assert faults(full.replace('"44 mm"', "44"))[0].startswith(f"study.toml:{line}: base_coil.mean_diameter: ")


def test_all_faults_at_once_in_the_order_of_the_file(faults: FaultLister, full: str) -> None:
    changed = full
    for text, spoilt in (
        ('"134.2 kHz"', '"134.2 Hz"'),
        ('kind = "meander"', 'kind = "meandr"'),
        ('"44 mm"', "44"),
        ('diameter = "0.25 mm"', 'gauge = "AWG 99"'),
        ('under = "heater"', 'under = "roof"'),
        ("turns = 300", "turns = 0"),
        ('"5 V"', '"5 A"'),
        ("[40, 64, 90]", "[40, 64, 0]"),
        ('height = "25 mm"', 'height = "25"'),
    ):
        changed = changed.replace(text, spoilt, 1)
    told = faults(changed)
    assert len(told) == 9, told
    lines = [int(line.split(":")[1]) for line in told]
    assert lines == sorted(lines)


def test_geometry_of_different_tables_is_told_together(faults: FaultLister, full: str) -> None:
    low_pan = (
        full.replace('"-38 mm"', '"-6 mm"')
        .replace("turns = 64", "turns = 200")
        .replace('from = "5 mm"', 'from = "1 mm"')
    )
    told = "\n".join(faults(low_pan))
    assert "solids.pan.outline: it overlaps the base coil's winding" in told
    assert "base_coil.turns: 200 turns" in told
    assert "map.height" in told


@pytest.mark.parametrize(
    ("text", "line", "clause"),
    [
        ('[study]\nname = "a\n', 2, "is not TOML"),
        ("[study]\na = 1\na = 2\n", 3, "is not TOML"),
        ("a = [1,\n\n", 3, "is not TOML"),
        ("a = " + "9" * 5000 + "\n", 2, "is not TOML"),
    ],
)
def test_syntax(faults: FaultLister, text: str, line: int, clause: str) -> None:
    (told,) = faults(text)
    assert told.startswith(f"study.toml:{line}: {clause}")


def test_deep_nesting(faults: FaultLister) -> None:
    """The last two would else take the reader of TOML a minute, and our own functions deeper than Python goes."""
    for text in ("a = " + "[" * 5000 + "]" * 5000, "[sweep]\n" + ".".join(["a"] * 25_000) + " = 1", f"[{'a.' * 900}a]"):
        (told,) = faults(text)
        assert "nested too deeply" in told
    assert "nested" not in faults("[sweep]\n" + ".".join(["a"] * 20) + " = 1")[0]
    assert "nested" not in faults(f"# {'.' * 900}\nx = [{'1.0, ' * 900}]  # {'.' * 900}")[0]


def test_files_that_are_none(tmp_path: Path) -> None:
    latin, large = tmp_path / "latin.toml", tmp_path / "large.toml"
    latin.write_bytes(b'name = "\xb5"')
    large.write_bytes(b"#" * 10_000_001)
    cases = [
        (tmp_path / "none.toml", "none.toml: does not exist; a study file in TOML"),
        (tmp_path, "is a directory"),
        (latin, "latin.toml: holds no UTF-8 text (byte 8)"),
        (large, "large.toml: is 10 MB long; at most 10 MB"),
        (Path("/dev/null"), "/dev/null: is no ordinary file"),
        (tmp_path / "a\0b", "a study file in TOML"),
    ]
    for path, clause in cases:
        with pytest.raises(StudyFaults) as caught:
            read_study(path)
        assert clause in str(caught.value)
        assert len(caught.value.faults) == 1


def test_empty_file_names_every_table_it_lacks(faults: FaultLister) -> None:
    told = faults("")
    assert [line.split(": ")[1] for line in told] == ["study", "base_coil", "tag", "drive"]


def test_byte_order_mark_is_no_fault(tmp_path: Path, full: str) -> None:
    file = tmp_path / "study.toml"
    file.write_bytes(b"\xef\xbb\xbf" + full.encode())
    assert read_study(file).count == 42


def test_a_map_too_large_for_memory_is_refused_with_its_size(
    faults: FaultLister, read: Reader, full: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One map has to fit, whatever the number of designs: they go to disk one by one."""
    monkeypatch.setattr("studies.sizing.available_memory", lambda: 300_000)
    (told,) = faults(full)
    assert "map: a map of 5208 places needs 0.000375 GB; at most 0.0003 GB" in told
    monkeypatch.setattr("studies.sizing.available_memory", lambda: 400_000)
    assert read(full).count == 42


def test_faults_travel_between_processes() -> None:
    error = StudyFaults([Fault("b", 2, "k", "g", "a", "h"), Fault("a", 1, "k", "g", "a")])
    again = pickle.loads(pickle.dumps(error))
    assert again.faults == error.faults
    assert str(again) == "a:1: k: g; a\nb:2: k: g; a; did you mean h"
    assert pickle.loads(pickle.dumps(GeometryError("k", "m"))).key == "k"


def test_a_fault_is_one_line_that_a_terminal_can_show(faults: FaultLister, full: str) -> None:
    """A file's own keys and texts may hold a terminal's escapes, line ends, turned directions, letters without end."""
    (line,) = faults(full.replace('"30 ohm"', '"\\u001b[31m\\n\\u202e"'))
    assert '"\\x1b[31m\\n\\u202e" is not a finite number with a unit' in line
    (line,) = faults(full.replace("[drive]", '[drive]\n"a\\nb" = 1'))
    assert ": drive.a\\nb: is not a key known here" in line
    (line,) = faults(full.replace("[drive]", f"[drive]\n{'x' * 50_000} = 1"))
    assert len(line) < 400
    (line,) = faults(full.replace("[drive]", '[drive]\n"" = 1'))
    assert ': drive."": is not a key known here' in line


@pytest.mark.parametrize("odd", ["[]", "{ from = 1, to = 2, count = 3 }", "1", "true"])
def test_a_shape_that_is_no_word_is_told(faults: FaultLister, full: str, odd: str) -> None:
    outline = full[full.index("outline = [[") : full.index("# r, z")]
    lines = faults(full.replace(outline, f"shape = {odd} "))
    assert any("solids.pan.shape" in line and "where a word belongs" in line for line in lines)


def test_of_a_long_list_the_first_faults_are_told_and_the_rest_counted(faults: FaultLister, full: str) -> None:
    lines = faults(
        full.replace('{ from = "5 mm", to = "60 mm", count = 56 }', '{ from = "-1 mm", to = "-9 m", count = 90 }')
    )
    assert len(lines) == 6
    assert 'map.height.4: "-405.449438202247 mm" is negative' in lines[4]
    assert "map.height: and 85 more of its entries" in lines[5]
    lines = faults(full.replace("[40, 64, 90]", "{ from = 99_001, to = 101_000, count = 2000 }"))
    assert [line for line in lines if 'sweep."base_coil.turns": and 995 more of its entries' in line]
    assert sum('sweep."base_coil.turns"[' in line for line in lines) == 5


def test_lists_without_end_are_refused_before_their_entries_are_read(faults: FaultLister, full: str) -> None:
    layers = "".join(f'[[layers]]\nname = "l{i}"\nmaterial = "copper"\nthickness = "1 um"\n' for i in range(101))
    assert any("layers: a list of 103 tables; at most 100" in line for line in faults(full + layers))
    corners = "[" + '["1 mm", "-20 mm"], ' * 201
    (line,) = faults(full.replace("outline = [", f"outline = {corners}"))
    assert "solids.pan.outline: a list of 205 corners; at most 200" in line
    places = "places = [" + '{ height = "25 mm" }, ' * 1000
    (line,) = faults(full.replace("places = [", places))
    assert "require.places: a list of 1001 places; at most 1000" in line
    axes = "".join(f'"tag.key{i}" = [1]\n' for i in range(50))
    assert any(
        "sweep: 53 swept keys; at most 50" in line for line in faults(full.replace("[sweep]", f"[sweep]\n{axes}#"))
    )
