"""The table of materials: every constant has a source, every name is found, every error says what would do."""

import pickle
from dataclasses import fields, replace

import pytest

from geometries.errors import GeometryError
from geometries.materials import Material, UnknownMaterial, find_material, material_names

SOURCES = {
    "resistivity_20": "resistivity_source",
    "temperature_coefficient": "temperature_source",
    "relative_permeability": "permeability_source",
    "relative_permeability_loss": "permeability_source",
    "density": "density_source",
    "curie_temperature": "curie_source",
    "permeability_curve": "permeability_curve_source",
    "saturation_flux_density": "saturation_source",
}
DEFAULTS = {field.name: field.default for field in fields(Material)}


@pytest.mark.parametrize("name", material_names())
@pytest.mark.parametrize("constant", SOURCES)
def test_every_constant_has_its_source_and_no_source_stands_alone(name: str, constant: str) -> None:
    material = find_material(name)
    changed = getattr(material, constant) != DEFAULTS[constant]
    has_source = bool(getattr(material, SOURCES[constant]))
    if changed:
        assert has_source
    if has_source and constant != "relative_permeability_loss":
        assert changed


@pytest.mark.parametrize("name", material_names())
def test_the_linear_law_stays_positive_over_its_range(name: str) -> None:
    material = find_material(name)
    if material.temperature_range is not None:
        low, high = material.temperature_range
        assert low <= 20.0 < high
        assert material.conductivity(low) > 0.0
        assert material.conductivity(high) > 0.0


@pytest.mark.parametrize("name", material_names())
def test_the_summary_gathers_each_source_once(name: str) -> None:
    material = find_material(name)
    given = {getattr(material, key) for key in SOURCES.values()} - {""}
    assert sorted(material.source) == sorted("; ".join(given))


def test_the_words_a_study_file_needs_are_there() -> None:
    needed = {
        "copper", "nickel-clad copper", "aluminium", "nickel-chromium 80/20", "iron-chromium-aluminium",
        "austenitic steel", "ferrite", "glass-ceramic", "mica", "air", "ceramic", "soft iron", "mild steel", "brass",
        "water", "saline",
    }  # fmt: skip
    assert needed <= set(material_names())


def test_capitals_and_blanks_do_not_matter() -> None:
    assert find_material("  Nickel-Chromium   80/20 ") is find_material("nickel-chromium 80/20")


def test_insulators_do_not_conduct() -> None:
    for name in ("air", "glass-ceramic", "mica", "ceramic", "ferrite"):
        assert find_material(name).resistivity(400.0) is None
        assert find_material(name).conductivity(400.0) == 0.0


def test_only_these_are_magnetic_when_cold() -> None:
    magnetic = {name for name in material_names() if find_material(name).magnetic}
    assert magnetic == {
        "nickel", "iron-chromium-aluminium", "mild steel", "soft iron", "electrical steel", "ferrite",
        "manganese-zinc ferrite", "sintered neodymium-iron-boron", "ferrite magnet",
    }  # fmt: skip


def test_heat_ends_magnetism_at_the_curie_temperature() -> None:
    heater = find_material("iron-chromium-aluminium")
    assert heater.heated(599.0) is heater
    hot = heater.heated(600.0)
    assert not hot.magnetic
    assert hot.conductivity(600.0) == heater.conductivity(600.0)
    copper = find_material("copper")
    assert copper.heated(900.0) is copper


@pytest.mark.parametrize("name", material_names())
def test_a_permeability_curve_rises_from_1_at_20_degrees_and_ends_below_the_curie_point(name: str) -> None:
    material = find_material(name)
    if material.permeability_curve:
        temperatures, factors = zip(*material.permeability_curve, strict=True)
        assert list(temperatures) == sorted(set(temperatures))
        assert list(factors) == sorted(set(factors))
        assert dict(material.permeability_curve)[20.0] == 1.0
        assert material.curie_temperature is not None
        assert temperatures[-1] < material.curie_temperature
        assert material.heated(20.0) is material


HAND = Material(
    "by hand",
    relative_permeability=101.0,
    relative_permeability_loss=2.0,
    curie_temperature=200.0,
    permeability_curve=((0.0, 0.5), (20.0, 1.0), (120.0, 2.0), (180.0, 3.0)),
)


@pytest.mark.parametrize(
    ("temperature", "real"),
    [
        (-50.0, 50.5),  # before the first point its factor is kept
        (0.0, 50.5),
        (10.0, 75.75),
        (20.0, 101.0),
        (45.0, 126.25),
        (120.0, 202.0),
        (150.0, 252.5),
        (180.0, 303.0),
        (190.0, 152.0),  # half-way down from 303 to 1
        (200.0, 1.0),
        (500.0, 1.0),
    ],
)
def test_permeability_rises_along_its_curve_and_collapses(temperature: float, real: float) -> None:
    hot = HAND.heated(temperature)
    assert hot.relative_permeability == pytest.approx(real, rel=1e-12, abs=0.0)
    assert hot.relative_permeability_loss == pytest.approx(0.02 * (real - 1.0), rel=1e-12, abs=0.0)
    if temperature != 20.0:
        assert hot.heated(60.0) is hot  # the curve is used up: heated twice is heated once


def test_a_curve_without_a_curie_point_keeps_its_last_factor() -> None:
    assert replace(HAND, curie_temperature=None).heated(500.0).relative_permeability == 303.0


def test_ferrite_gains_before_it_collapses() -> None:
    ferrite = find_material("ferrite")
    real = [
        ferrite.heated(temperature).relative_permeability for temperature in (-40.0, 20.0, 80.0, 130.0, 145.0, 150.0)
    ]
    assert real[:4] == sorted(real[:4])
    assert real[3] > real[4] > real[5] == 1.0
    assert real[2] == pytest.approx(700.0 * 1.225, rel=1e-12, abs=0.0)  # half-way between 1.15 at 60 °C and 1.30 at 100


def test_lossy_ferrite_has_a_negative_imaginary_part() -> None:
    ferrite = find_material("ferrite")
    assert ferrite.permeability.real == ferrite.relative_permeability
    assert ferrite.permeability.imag == -ferrite.relative_permeability_loss < 0.0


def test_nickel_skin_is_told_to_the_designer() -> None:
    assert "358 °C" in find_material("nickel-clad copper").note


def test_unknown_name_says_the_best_matches() -> None:
    with pytest.raises(UnknownMaterial) as caught:
        find_material("aluminum")
    assert isinstance(caught.value, LookupError)
    assert caught.value.matches == ("aluminium", "aluminium alloy")
    assert str(caught.value) == (
        "no material is called 'aluminum'; best matches are 'aluminium', 'aluminium alloy', or give its constants"
    )


def test_part_of_a_name_finds_all_that_hold_it() -> None:
    with pytest.raises(UnknownMaterial) as caught:
        find_material("steel")
    assert set(caught.value.matches) == {"austenitic steel", "mild steel", "electrical steel"}


def test_a_name_like_nothing_lists_all() -> None:
    with pytest.raises(UnknownMaterial, match=r"allowed are 'copper', .*'saline', or give its constants"):
        find_material("xyz")


def test_the_error_survives_a_process_boundary() -> None:
    with pytest.raises(UnknownMaterial) as caught:
        find_material("coper")
    again = pickle.loads(pickle.dumps(caught.value))
    assert (str(again), again.name, again.matches) == (str(caught.value), "coper", ("copper",))


def test_a_law_that_runs_to_nothing_is_refused() -> None:
    with pytest.raises(GeometryError, match=r"saline: its linear law .* gives nothing positive at 200 °C"):
        find_material("saline").conductivity(200.0)
