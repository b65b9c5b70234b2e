"""The winding sheet and the bench card: each figure against a calculation of its own, the page, and wrong input."""

import json
from math import ceil, pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.special import ellipe, ellipk

from fem.closed_forms_windings import winding_self_inductance
from geometries.section import WindingSection
from geometries.winding_plan import fits_build, nearest_gauge, nearest_metric_size, winding_plan
from studies.command import main
from studies.evaluation import evaluated
from studies.rows import number
from studies.sheet import Sheet, sheet_json, sheet_of, sheet_page
from studies.study import read_study
from tests.studies.small import SMALL

MU0 = 4e-7 * pi
HOT = 'wire = { diameter = "0.25 mm", overall_diameter = "0.30 mm", temperature = "200 degC" }'
WARM = SMALL[: SMALL.index("[sweep]")].replace('wire = { diameter = "0.25 mm", overall_diameter = "0.30 mm" }', HOT)
ACCURATE = ("study.accuracy=2e-3",)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sheet") / "warm.toml"
    path.write_text(WARM, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def sheet(file: Path) -> Sheet:
    return sheet_of("warm", read_study(file, ACCURATE).base)


def filaments_flux(section: WindingSection, turns: int, radius: float, height: float, each: int = 24) -> float:
    """Flux through a coaxial loop, per ampere, of a winding cut into filaments (Maxwell's formula) [Wb]."""
    radii, heights = (
        low + (np.arange(each) + 0.5) / each * (high - low)
        for low, high in ((section.inner_radius, section.outer_radius), (section.bottom, section.top))
    )
    a, z = np.meshgrid(radii, height - heights)
    square = 4.0 * a * radius / ((a + radius) ** 2 + z**2)
    k = np.sqrt(square)
    mutual = MU0 * np.sqrt(a * radius) * ((2.0 / k - k) * ellipk(square) - 2.0 / k * ellipe(square))
    return float(turns * mutual.mean())


def test_the_search_loops_emf_is_that_of_filaments_in_air(sheet: Sheet) -> None:
    """The plate neither conducts nor magnetises; a coil of filaments is the independent one."""
    card, section = sheet.bench, evaluated(sheet.candidate).coils.base.section
    assert [reading.height for reading in card.loop_readings] == pytest.approx([0.006, 0.013, 0.03], abs=1e-9)
    for reading in card.loop_readings:
        flux = filaments_flux(section, 40, 5e-3, reading.height)
        assert reading.emf_per_ampere == pytest.approx(2.0 * pi * 134.2e3 * flux, rel=1e-3, abs=0.0)
        assert reading.emf_peak == pytest.approx(reading.emf_per_ampere * card.loop_current_peak, rel=1e-12, abs=0.0)
        assert reading.emf_rms == pytest.approx(reading.emf_peak / sqrt(2.0), rel=1e-12, abs=0.0)
        mean = flux * card.loop_current_peak / (pi * 5e-3**2)
        assert reading.mean_flux_density_peak == pytest.approx(mean, rel=1e-3, abs=0.0)


def test_the_loops_current_is_the_designs_with_no_tag(sheet: Sheet) -> None:
    """A series circuit tuned exactly: the drive's fundamental over all resistance, as given."""
    found = evaluated(sheet.candidate)
    given = next(row for row in found.states if row["state"] == "as given")
    peak = 4.0 / pi * 5.0 / (6.0 + number(given, "base_resistance_ohm"))
    assert sheet.bench.loop_current_peak == pytest.approx(peak, rel=1e-9, abs=0.0)
    assert sheet.bench.driven_state == "as given"


def test_cold_and_hot_ohms_go_by_the_copper_law(sheet: Sheet) -> None:
    row = sheet.winding.row
    section = evaluated(sheet.candidate).coils.base.section
    length = 40 * pi * (section.inner_radius + section.outer_radius)
    assert row["wire_length_m"] == pytest.approx(length, rel=1e-12, abs=0.0)
    # Annealed copper, IEC 60028: 1/58 Ωmm²/m and 0.00393 a degree at 20 °C.
    cold = length / 58e6 / (pi * 0.25e-3**2 / 4.0)
    assert row["cold_resistance_ohm"] == pytest.approx(cold, rel=2e-3, abs=0.0)
    ratio = number(row, "hot_direct_current_resistance_ohm") / number(row, "cold_resistance_ohm")
    assert ratio == pytest.approx(1.0 + 0.00393 * 180.0, rel=2e-3, abs=0.0)
    # Wound tight its 4 layers of 10 lie at the bottom of the section.
    tight = 10 * 2.0 * pi * sum(section.inner_radius + (layer + 0.5) * 0.3e-3 for layer in range(4))
    assert row["tight_wire_length_m"] == pytest.approx(tight, rel=1e-12, abs=0.0)
    assert row["tight_cold_resistance_ohm"] == pytest.approx(cold * tight / length, rel=2e-3, abs=0.0)
    least = number(row, "tight_cold_resistance_ohm") / 1.02**2
    assert row["cold_resistance_least_ohm"] == pytest.approx(least, rel=1e-12, abs=0.0)
    assert row["cold_resistance_greatest_ohm"] == pytest.approx(number(row, "cold_resistance_ohm") / 0.98**2, rel=1e-12)
    mass = 8.89e3 * length * pi * 0.25e-3**2 / 4.0  # annealed copper, IEC 60028
    assert row["conductor_mass_kg"] == pytest.approx(mass, rel=5e-3, abs=0.0)


def test_hot_ohms_are_those_of_the_hottest_state(file: Path) -> None:
    """200 °C as given, 250 °C where it works: its temperature and its ohms are of one state."""
    text = file.read_text(encoding="utf-8") + '\n[temperatures.working]\n"base_coil.wire" = "250 degC"\n'
    warm = file.with_name("warmer.toml")
    warm.write_text(text, encoding="utf-8")
    row = sheet_of("warm", read_study(warm, ACCURATE).base).winding.row
    assert row["wire_temperature_degC"] == 250.0
    ratio = number(row, "hot_direct_current_resistance_ohm") / number(row, "cold_resistance_ohm")
    assert ratio == pytest.approx(1.0 + 0.00393 * 230.0, rel=2e-3, abs=0.0)
    assert number(row, "hot_installed_resistance_ohm") > number(row, "hot_direct_current_resistance_ohm")


def test_what_a_meter_reads_of_the_coil(sheet: Sheet) -> None:
    section = evaluated(sheet.candidate).coils.base.section
    inductance = winding_self_inductance(section, 40)
    assert [reading.frequency for reading in sheet.bench.readings] == [10e3, 100e3, 134.2e3]
    resistances = [reading.air_resistance for reading in sheet.bench.readings]
    assert resistances == sorted(resistances)
    cold = number(sheet.winding.row, "cold_resistance_ohm")
    assert resistances[0] == pytest.approx(cold, rel=5e-3, abs=0.0)
    for reading in sheet.bench.readings:
        assert reading.air_inductance == pytest.approx(inductance, rel=1e-12, abs=0.0)
        assert reading.installed_inductance == pytest.approx(inductance, rel=2e-3, abs=0.0)  # the plate is as air
        omega = 2.0 * pi * reading.frequency
        assert reading.air_q == pytest.approx(omega * inductance / reading.air_resistance, rel=1e-12, abs=0.0)
        assert reading.installed_resistance == pytest.approx(reading.air_resistance, rel=5e-3, abs=0.0)
    assert sheet.bench.state == "cold"


def test_tight_layers_have_more_inductance_and_film_brings_it_back(sheet: Sheet) -> None:
    """Each ring and each pair of rings by its own formula; 40 turns take 4 layers, 1.2 mm of the section's 3 mm."""
    row, section = sheet.winding.row, evaluated(sheet.candidate).coils.base.section
    a = section.inner_radius + 0.15e-3 + 0.3e-3 * np.repeat(np.arange(4), 10)
    z = np.tile((np.arange(10) + 0.5) * 0.3e-3, 4)
    square = 4.0 * np.outer(a, a) / (np.add.outer(a, a) ** 2 + np.subtract.outer(z, z) ** 2)
    np.fill_diagonal(square, 0.5)
    k = np.sqrt(square)
    pairs = MU0 * np.sqrt(np.outer(a, a)) * ((2.0 / k - k) * ellipk(square) - 2.0 / k * ellipe(square))
    np.fill_diagonal(pairs, MU0 * a * (np.log(8.0 * a / 0.125e-3) - 1.75))
    assert row["tight_inductance_H"] == pytest.approx(pairs.sum(), rel=1e-9, abs=0.0)
    even = winding_self_inductance(section, 40)
    assert row["tight_inductance_change"] == pytest.approx(pairs.sum() / even - 1.0, rel=1e-6, abs=0.0)
    assert number(row, "tight_inductance_change") > 0.05
    assert row["film_m"] == pytest.approx(0.6e-3, rel=1e-9, abs=0.0)  # (3 − 4 × 0.3)/3 mm
    assert row["filmed_inductance_H"] == pytest.approx(even, rel=0.02, abs=0.0)
    (told,) = (text for text in sheet.winding.remarks if "turn by turn" in text)
    assert "its layers take 1.2 mm of 3 mm. With 0.6 mm of film" in told
    page = sheet_page(sheet)
    assert f"{1e6 * pairs.sum():.2f}"[:4] in page
    assert "Wound tight in layers the coil reads" in page


def test_turns_at_random_are_not_reckoned_one_by_one(file: Path) -> None:
    random = sheet_of("random", read_study(file, (*ACCURATE, "base_coil.laying=random")).base)
    assert random.winding.row["tight_inductance_H"] is None
    assert "Wound tight in layers" not in sheet_page(random)


def test_a_pan_shows_on_the_bench(file: Path) -> None:
    """Installed, the coil has less inductance than in air and more resistance, the more so at the carrier."""
    pan = 'solids=[{ name = "pan", material = "aluminium", outline = '
    pan += '[["0 mm", "-14 mm"], ["60 mm", "-14 mm"], ["60 mm", "-12 mm"], ["0 mm", "-12 mm"]] }]'
    card = sheet_of("pan", read_study(file, (pan,)).base).bench
    for reading in card.readings:
        assert reading.installed_inductance < 0.95 * reading.air_inductance
        assert reading.installed_resistance > reading.air_resistance
    low, _, high = card.readings
    assert high.installed_resistance - high.air_resistance > 2.0 * (low.installed_resistance - low.air_resistance)


def test_each_setting_resonates_by_its_own_formula(sheet: Sheet) -> None:
    installed = evaluated(sheet.candidate).states[1]
    assert installed["state"] == "cold"
    inductance = number(installed, "base_inductance_H")
    exact, marked, least, most = sheet.bench.trims
    assert exact.resonance == pytest.approx(134.2e3, rel=1e-6, abs=0.0)
    assert marked.fitted
    assert not exact.fitted
    for trim in sheet.bench.trims:
        alone = 1.0 / (2.0 * pi * sqrt(inductance * trim.capacitance))
        probed = 1.0 / (2.0 * pi * sqrt(inductance * (trim.capacitance + 12e-12)))
        assert trim.resonance == pytest.approx(alone, rel=1e-9, abs=0.0)
        assert trim.resonance_with_probe == pytest.approx(probed, rel=1e-9, abs=0.0)
    assert (least.capacitance, most.capacitance) == pytest.approx(
        (0.98 * marked.capacitance, 1.02 * marked.capacitance), rel=1e-9, abs=0.0
    )


def test_every_setting_of_a_bank_is_listed(file: Path) -> None:
    bank = 'base_coil.capacitor={ choose = "bank", tolerance = 0.05 }'
    card = sheet_of("bank", read_study(file, (bank,)).base).bench
    capacitances = [trim.capacitance for trim in card.trims]
    assert len(capacitances) in (8, 16)
    assert capacitances == sorted(capacitances)
    assert sum(trim.fitted for trim in card.trims) == 1
    nearest = min(card.trims, key=lambda trim: abs(trim.resonance - 134.2e3))
    assert next(trim for trim in card.trims if trim.fitted).resonance == pytest.approx(nearest.resonance, rel=5e-3)


@pytest.mark.parametrize(
    ("build", "length", "wire", "turns", "layers", "last"),
    [
        (3e-3, 3e-3, 0.30e-3, 64, 7, 4),  # ten side by side
        (3e-3, 3e-3, 0.30e-3, 100, 10, 10),
        (3e-3, 3e-3, 0.30e-3, 5, 1, 5),
        (1e-3, 0.65e-3, 0.32e-3, 3, 2, 1),
    ],
)
def test_layers_are_counted(build: float, length: float, wire: float, turns: int, layers: int, last: int) -> None:
    section = WindingSection(10e-3, 10e-3 + build, -length, 0.0)
    plan = winding_plan(section, turns, wire)
    assert (plan.layers, plan.last_layer_turns) == (layers, last)
    assert (plan.layers - 1) * plan.layer_turns + plan.last_layer_turns == turns
    assert plan.layers == ceil(turns / plan.layer_turns)
    assert plan.straight_build == pytest.approx(layers * wire, rel=1e-12)
    assert plan.nested_build == pytest.approx(wire * (1.0 + (layers - 1) * sqrt(0.75)), rel=1e-12)


def test_how_layers_fit_a_build() -> None:
    plan = winding_plan(WindingSection(10e-3, 13e-3, -3e-3, 0.0), 64, 0.30e-3)  # 2.1 mm straight, 1.859 mm nested
    rooms = {2.2e-3: "straight", 2.0e-3: "nested", 1.8e-3: "no"}
    for room, words in rooms.items():
        assert fits_build(plan, WindingSection(10e-3, 10e-3 + room, -3e-3, 0.0)) == words


def test_names_of_the_nearest_wires() -> None:
    assert nearest_gauge(0.2546e-3)[0] == "AWG 30"  # ASTM B258: 10.03 mil
    assert nearest_gauge(0.51e-3)[0] == "AWG 24"  # 20.1 mil
    assert nearest_metric_size(0.26e-3) == 0.25e-3
    assert nearest_metric_size(0.27e-3) == 0.28e-3


def test_the_page_and_the_record_say_the_same(sheet: Sheet, file: Path, tmp_path: Path) -> None:
    page = sheet_page(sheet)
    assert "Winding sheet" in page
    assert "Bench card" in page
    assert "local codes and qualified practice decide" in page
    assert "7 layers" not in page
    assert "4 layers of" in page
    record = sheet_json(sheet)
    assert record["winding"]["turns"] == 40
    assert json.loads(json.dumps(record, allow_nan=False)) == record
    target = tmp_path / "one.html"
    done = CliRunner().invoke(
        main, ["sheet", str(file), "--out", str(target), "--probe", "3 pF", "--wire-tolerance", "1 %"]
    )
    assert done.exit_code == 0, done.output
    assert "with the probe of 3 pF" in target.read_text(encoding="utf-8")
    told = CliRunner().invoke(main, ["sheet", str(file), "--json"])
    assert json.loads(told.stdout)["winding"]["layer_turns"] == 10


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("c0007",), 'no design of small is called "c0007"; c0001 to c0001 are'),
        (("--probe", "3 mm"), "--probe: "),
        (("--probe", "3 uF"), '--probe: "3 uF" was given; 0 pF to 1 nF are allowed'),
        (("--wire-tolerance", "2"), '--wire-tolerance: "2" was given; 0 % to 20 % of the diameter is allowed'),
        (("--wire-tolerance", "50 %"), '--wire-tolerance: "50 %" was given'),
    ],
)
def test_wrong_input_of_a_sheet(arguments: tuple[str, ...], told: str, file: Path) -> None:
    done = CliRunner().invoke(main, ["sheet", str(file), *arguments, "--json"])
    assert done.exit_code == 2
    assert told in done.stderr


def test_a_folder_that_is_no_run(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["sheet", str(tmp_path)])
    assert done.exit_code == 2
    assert "Traceback" not in done.output
