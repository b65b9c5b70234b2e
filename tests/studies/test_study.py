"""What a good study file becomes."""

import subprocess
import sys
from collections.abc import Callable
from math import pi
from pathlib import Path

import pytest

from geometries.heater import ribbon_length, ribbon_resistance
from geometries.tag import DrumCore
from studies.specification import Candidate, Limit
from studies.starter import starter_text
from studies.study import Study, read_study

Reader = Callable[..., Study]
LIBRARY = sorted((Path(__file__).parents[2] / "studies" / "library").glob("*.toml"))


def assumed(candidate: Candidate) -> dict[str, str]:
    return {assumption.key: assumption.value for assumption in candidate.assumptions}


@pytest.mark.parametrize("file", LIBRARY, ids=lambda file: file.stem)
def test_every_study_that_ships_can_be_built(file: Path) -> None:
    study = read_study(file)
    assert study.text == file.read_text(encoding="utf-8")
    assert study.base.design == "base"
    assert len(list(study.candidates())) == study.count


def test_the_starter_can_be_run(read: Reader) -> None:
    study = read(starter_text("first-try"))
    assert study.name == "first-try"
    assert len(list(study.candidates())) == 4


def test_what_the_starter_has_in_comments_can_be_run_too(read: Reader) -> None:
    lines = starter_text().split("\n")
    keys = [line[2:] if line.startswith("# ") and ("=" in line or "[" in line[:4]) else line for line in lines]
    text = "\n".join(keys).replace("# thickness", "thickness")
    study = read(text.replace('[["0 mm"', '  [["0 mm"'))
    assert study.base.coil.radial_build == 3e-3
    assert len(study.base.stack.solids) == len(study.base.magnets) == len(study.base.drive_magnets) == 1
    assert study.base.accuracy == 1e-3
    assert assumed(study.base).keys() == {
        "layers.plate.temperature",
        "layers.heater.thickness",  # follows from the rating
        "solids.pan.temperature",
        "base_coil.wire.conductor",
        "tag.part.material",
        "magnets.bar.temperature",
        "tag.chip.modulated_load_resistance",
        "link.pause",
        "link.reply_tones",
        "link.telegram_bits",
    }


def test_full_vocabulary_in_si(read: Reader, full: str) -> None:
    base = read(full).base
    assert (base.frequency, base.accuracy) == (134200.0, 1e-3)
    plate, heater = base.stack.layers
    assert (plate.top, plate.bottom, plate.outer_radius) == (0.0, -4e-3, 90e-3)
    assert (heater.top, heater.thickness, heater.temperature) == (-4e-3, 0.02e-3, 400.0)
    assert (heater.ribbon_width, heater.pitch) == (2.5e-3, 4e-3)
    assert base.stack.solids[0].outline[2] == (80e-3, -38e-3)
    coil = base.coil
    assert (coil.turns, coil.inductance, coil.mean_diameter, coil.under) == (64, None, 44e-3, "heater")
    assert (coil.wire.diameter, coil.wire.overall_diameter, coil.wire.rated_voltage) == (0.25e-3, 0.3e-3, 150.0)
    tag = base.tag.construction
    assert tag is not None
    assert isinstance(tag.core, DrumCore)
    assert (tag.turns, tag.half_height, tag.outer_radius) == (300, 2e-3, 3e-3)
    assert (tag.section.inner_radius, tag.section.outer_radius, tag.section.top) == (1.2e-3, 2.6e-3, 1e-3)
    assert base.tag.chip.modulated_load_resistance == 5e3
    assert base.drive.source_voltage == pytest.approx(20.0 / pi)
    assert (base.link.storage_capacitance, base.link.charge_time) == (150e-9, 35e-3)
    assert (len(base.grid.heights), len(base.grid.offsets)) == (56, 31)
    assert base.grid.heights[:2] == (5e-3, 6e-3)
    assert base.grid.tilts == pytest.approx((0.0, pi / 9, pi / 2))
    assert base.require.at_least == (Limit("margin", 3.0), Limit("read_height", 30e-3))
    assert base.require.at_most == (Limit("coil_voltage", 300.0), Limit("current", 0.15))
    assert base.require.places[0].offset == 5e-3


def test_first_look_says_what_it_assumes(read: Reader, first_look: str) -> None:
    base = read(first_look).base
    found = assumed(base)
    assert found["layers.heater.material"] == "nickel-chromium 80/20"
    assert found["layers.heater.temperature"] == "350 degC"
    assert found["layers.plate.outer_diameter"] == "150 mm"
    assert found["base_coil.clearance"] == "0.5 mm"
    assert found["base_coil.wire.temperature"] == "150 degC"
    assert found["tag.temperature"] == "20 degC"
    assert found["map.height"] == "5 mm to 60 mm in steps of 1 mm"
    assert found["link.mode"] == "half-duplex"
    assert all(assumption.reason for assumption in base.assumptions)
    assert base.tag.part is not None
    assert base.tag.part.inductance == 2.7e-3


def test_ribbon_thickness_gives_the_rated_heater_back(read: Reader, first_look: str) -> None:
    heater = read(first_look).base.stack.layers[1]
    assert heater.material is not None
    assert heater.ribbon_width is not None
    assert heater.pitch is not None
    length = ribbon_length(heater.outer_radius, 0.0, heater.pitch)
    resistivity = heater.material.resistivity(heater.temperature)
    assert resistivity is not None
    resistance = ribbon_resistance(resistivity, length, heater.ribbon_width, heater.thickness)
    assert resistance == pytest.approx(230.0**2 / 500.0)


@pytest.mark.parametrize(("thickness", "warns"), [("0.016 mm", False), ("0.019 mm", False), ("0.02 mm", True)])
def test_rating_against_thickness(read: Reader, first_look: str, thickness: str, warns: bool) -> None:
    """The rating of the short study implies 0.0161 mm; more than a fifth off is a contradiction."""
    base = read(first_look.replace('kind = "meander"', f'kind = "meander", thickness = "{thickness}"')).base
    assert any("the rating implies 0.0161" in warning for warning in base.warnings) == warns
    assert base.stack.layers[1].thickness == pytest.approx(float(thickness.split()[0]) * 1e-3)


def test_layers_below_the_coil_make_room_for_it(read: Reader, full: str) -> None:
    base = read(full.replace('under = "heater"', 'under = "plate"')).base
    assert base.stack.layers[1].top == pytest.approx(-(4e-3 + 0.5e-3 + 3e-3 + 0.5e-3))
    without = full.replace('radial_build = "3 mm"', "").replace('winding_length = "3 mm"', "")
    base = read(
        without.replace('under = "heater"', 'under = "plate"').replace('= ["plate", "heater"]', '= ["plate"]')
    ).base
    assert base.coil.winding_length is None
    assert -8e-3 < base.stack.layers[1].top < -7e-3  # 64 turns of 0.30 mm in a square of about 2.7 mm


def test_probable_turns_of_a_wanted_inductance() -> None:
    """REFERENCES: 70 turns, 44 mm mean diameter, 3 × 3 mm give 390 µH within 1 % (computed, no source)."""
    from studies.assembly_coil import probable_turns
    from studies.study import read_study

    file = next(file for file in LIBRARY if file.stem == "full-vocabulary")
    coil = read_study(file, ["base_coil.inductance=390 uH"]).base.coil
    assert coil.turns is None
    assert probable_turns(coil) == pytest.approx(70, rel=0.02, abs=0.0)


def test_no_layers_at_all(read: Reader, bare: str) -> None:
    start, end = bare.index("[[layers]]"), bare.index("[base_coil]")
    text = bare[:start] + bare[end:].replace('under = "heater"', "#").replace('"base_coil.under"', "#")
    base = read(text).base
    assert base.stack.layers == ()
    assert base.coil.under == ""
    assert assumed(base).get("base_coil.wire.temperature") is None


def test_wire_is_cool_where_nothing_is_heated(read: Reader, first_look: str) -> None:
    text = first_look.replace(
        'kind = "meander", rated_power = "500 W", rated_voltage = "230 V"', 'kind = "gap", thickness = "1 mm"'
    )
    base = read(text).base
    assert assumed(base)["base_coil.wire.temperature"] == "20 degC"
    (reason,) = [one.reason for one in base.assumptions if one.key == "base_coil.wire.temperature"]
    assert reason == "nothing near it is heated"


def test_winding_nearer_to_a_ribbon_than_its_width_is_a_warning(read: Reader, full: str) -> None:
    """From either side: under the heater, or above it when under the plate."""
    near, far = 'clearance = "0.5 mm"', 'clearance = "2.6 mm"'
    for text in (full, full.replace('under = "heater"', 'under = "plate"')):
        assert any("nearer to heater than one ribbon width" in warning for warning in read(text).base.warnings)
        assert read(text.replace(near, far)).base.warnings == ()


def test_default_map_begins_where_the_tag_clears_the_plate(read: Reader, first_look: str) -> None:
    base = read(first_look.replace('height = "5 mm"', 'height = "15 mm"')).base
    # Upright it needs 7.5 mm, crooked by 20° 7.5 cos 20° + 3 sin 20° = 8.07 mm, so 9 mm in steps of 1 mm.
    assert base.grid.heights[0] == pytest.approx(9e-3)
    assert base.grid.heights[-1] == pytest.approx(60e-3)
    base = read(first_look.replace('height = "5 mm"', 'height = "150 mm"')).base
    assert base.grid.heights[0] == pytest.approx(75e-3)


def test_default_map_serves_the_largest_tag_of_a_sweep(read: Reader, first_look: str) -> None:
    study = read(first_look + '[sweep]\n"tag.part.height" = ["5 mm", "15 mm"]\n')
    assert study.base.grid.heights[0] == pytest.approx(9e-3)
    grids = {candidate.grid for candidate in study.candidates()}
    assert grids == {study.base.grid}


def test_curie_temperature_is_heeded(read: Reader, full: str) -> None:
    hot = full.replace('"nickel-chromium 80/20"', '"iron-chromium-aluminium"').replace('"400 degC"', '"700 degC"')
    hot = hot[: hot.index("[temperatures.cold]")]
    base = read(hot).base
    material = base.stack.layers[1].material
    assert material is not None
    assert not material.magnetic
    assert not base.states
    assert any(
        text.startswith("layers.heater.material: the design is not judged cold, for in that state it cannot be ")
        and "is magnetic at 20 degC" in text
        for text in base.warnings
    )


def test_constants_of_a_material(read: Reader, full: str) -> None:
    text = full.replace('material = "ferrite"', "material = { relative_permeability = 900, loss_factor = 0.01 }")
    tag = read(text).base.tag.construction
    assert tag is not None
    assert tag.core is not None
    assert tag.core.material.permeability == pytest.approx(900 - 9j)
    text = full.replace('"aluminium"', '{ resistivity = "2.8 uohm cm" }')
    assert read(text).base.stack.solids[0].conductivity == pytest.approx(1 / 2.8e-8)


def test_dotted_and_inline_tables_say_the_same(read: Reader, full: str) -> None:
    text = full.replace("[base_coil.wire]\n", "").replace("bridge =", "bridge =")
    sizes = ("conductor", "diameter", "overall_diameter", "temperature", "minimum_bend_radius")
    wire = (*sizes, "rated_temperature", "rated_voltage", "rated_current_density")
    start, end = text.index('conductor = "copper"'), text.index("[tag]")
    block = text[start:end]
    for key in wire:
        block = block.replace(f"\n{key} =", f"\nwire.{key} =")
    assert read(text[:start] + "wire." + block + text[end:]).base == read(full).base


def test_sine_source(read: Reader, full: str) -> None:
    text = full.replace('bridge = "full"', 'bridge = "sine"').replace('supply = "5 V"', 'source_voltage = "6 V"')
    assert read(text).base.drive.source_voltage == 6.0
    assert read(full.replace('bridge = "full"', 'bridge = "half"')).base.drive.source_voltage == pytest.approx(10 / pi)


def test_sensitivity(read: Reader, first_look: str) -> None:
    text = first_look.replace("[tag]\n", '[tag]\nsensitivity = "45 mV per A/m"\n')
    tag = read(text).base.tag
    assert (tag.sensitivity, tag.sensitivity_frequency) == (45e-3, 134200.0)


def test_wire_hotter_than_its_covering_stands_is_a_warning(read: Reader, full: str) -> None:
    warnings = read(full.replace('"500 degC"', '"200 degC"')).base.warnings
    assert any("hotter than the 200 degC its covering stands" in warning for warning in warnings)


def test_overrides(read: Reader, full: str) -> None:
    study = read(
        full,
        "base_coil.turns=70",
        "base_coil.mean_diameter=50 mm",
        "map.tilt=[0 deg, 30 deg]",
        "layers.heater.pitch=5mm",
    )
    base = study.base
    assert (base.coil.turns, base.coil.mean_diameter) == (70, 50e-3)
    assert base.grid.tilts == pytest.approx((0.0, pi / 6))
    assert base.stack.layers[1].pitch == 5e-3
    assert "#   base_coil.mean_diameter=50 mm" in study.text
    again = read(study.text)
    assert again.base == base
    assert again.axes == study.axes


def test_an_override_takes_the_place_of_its_rival(read: Reader, full: str) -> None:
    base = read(full, "base_coil.inductance=390 uH", 'base_coil.wire.gauge="AWG 32"').base
    assert (base.coil.turns, base.coil.inductance) == (None, 390e-6)
    assert base.coil.wire.diameter == pytest.approx(0.2019e-3, rel=1e-3, abs=0.0)


@pytest.mark.parametrize(
    ("override", "told"),
    [
        ("base_coil.turns", '--set: base_coil.turns: "base_coil.turns" sets nothing; key=value'),
        ("=3", '--set: "" is no key path; keys joined by dots'),
        ("base_coil.tuns=3", "--set: base_coil.tuns: is not a key known here"),
        ("base_coil.turns=abc", '--set: base_coil.turns: "abc" is a text; a whole number'),
        ("layers.heatr.pitch=5 mm", "--set: layers.heatr.pitch: layers has no heatr"),
        ("base_coil.turns.x=3", "--set: base_coil.turns.x: base_coil.turns has no part x"),
        ("base_coil.turns=1\nlink.mode=2", '--set: base_coil.turns: "1'),
        ("map.tilt={ from = 1 deg }", "--set: map.tilt: { from = 1 deg } cannot be read"),
        ("base_coil.mean_diameter=nan", "--set: base_coil.mean_diameter: nan is not a finite number"),
    ],
)
def test_faults_of_overrides(faults: Callable[..., list[str]], full: str, override: str, told: str) -> None:
    assert any(line.startswith(told) for line in faults(full, override)), faults(full, override)


def test_reading_studies_is_loaded_only_when_it_is_needed() -> None:
    """``--help`` must feel instant: neither the schema library nor anything numerical comes with the import."""
    heavy = ("pydantic", "numpy", "scipy", "skfem", "gmsh", "matplotlib")
    code = f"import sys, studies.study; print([name for name in {heavy} if name in sys.modules])"
    root = Path(__file__).parents[2]
    told = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"
