"""What a designer is told of temperatures: beyond a rating, a Curie point, or what is known of a material."""

from collections.abc import Callable

import pytest

from studies.study import Study
from tests.studies.conftest import line_of

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]

FERRITE = 'material = "ferrite"'
OWN = (
    'material = { relative_permeability = 900, curie_temperature = "220 degC", '
    'permeability_curve = [["0 degC", 0.9], ["20 degC", 1.0], ["200 degC", 1.6]] }'
)


def heat_warnings(study: Study) -> list[str]:
    return [warning for warning in study.base.warnings if "degC" in warning]


def test_the_study_of_all_keys_is_not_warned_of_heat(read: Reader, full: str) -> None:
    study = read(full)
    assert not [w for candidate in study.candidates() for w in candidate.warnings if "degC" in w]


@pytest.mark.parametrize(
    ("override", "told"),
    [
        (
            "tag.temperature=250 degC",
            "tag.temperature: 250 degC is above the Curie point of ferrite, 150 degC: the core is no longer magnetic",
        ),
        (
            "tag.temperature=150 degC",
            "tag.temperature: 150 degC is at the Curie point of ferrite, 150 degC: the core is no longer magnetic",
        ),
        (
            "tag.temperature=140 degC",
            "tag.temperature: 140 degC lies outside -40 to 130 degC, over which the permeability of ferrite is known "
            "here; from there to its Curie point, 150 degC, a straight fall is assumed",
        ),
        (
            "tag.temperature=-60 degC",
            "tag.temperature: -60 degC lies outside -40 to 130 degC, over which the permeability of ferrite is known "
            "here; the factor of its nearer end is kept",
        ),
        (
            "base_coil.wire.temperature=550 degC",
            "base_coil.wire.temperature: 550 degC lies outside -50 to 500 degC, over which the resistivity of copper "
            "is known here; its linear law is carried on",
        ),
        (
            "base_coil.wire.temperature=550 degC",
            "base_coil.wire.temperature: 550 degC is hotter than the 500 degC its covering stands "
            "(base_coil.wire.rated_temperature)",
        ),
        (
            "layers.heater.temperature=510 degC",
            "layers.heater.temperature: 510 degC is above the 500 degC that the covering of the wire next to it stands "
            "(base_coil.wire.rated_temperature)",
        ),
        (
            "solids.pan.temperature=301 degC",
            "solids.pan.temperature: 301 degC lies outside -50 to 300 degC, over which the resistivity of aluminium is "
            "known here; its linear law is carried on",
        ),
    ],
)
def test_warnings_name_the_key_and_the_bound(read: Reader, bare: str, override: str, told: str) -> None:
    assert told in read(bare, override).base.warnings


def test_a_coil_under_the_plate_lies_against_the_heater_below_it(read: Reader, bare: str) -> None:
    hot = ("layers.heater.temperature=510 degC", "base_coil.wire.temperature=20 degC")
    told = "layers.heater.temperature: 510 degC is above the 500 degC"
    assert any(told in warning for warning in read(bare, "base_coil.under=plate", *hot).base.warnings)
    gap = bare.replace(
        '[[layers]]\nname = "heater"',
        '[[layers]]\nname = "air"\nkind = "gap"\nthickness = "1 mm"\n\n[[layers]]\nname = "heater"',
    )
    assert any(told in warning for warning in read(gap, "base_coil.under=plate", *hot).base.warnings)
    mica = gap.replace('kind = "gap"', 'material = "mica"')
    assert not any(told in warning for warning in read(mica, "base_coil.under=plate", *hot).base.warnings)


def test_the_wire_of_a_tag_is_held_against_the_tag(read: Reader, bare: str) -> None:
    wire = bare.replace(
        'series_resistance = "30 ohm"',
        'wire = { diameter = "0.03 mm", rated_temperature = "120 degC", temperature = "20 degC" }',
    )
    assert not heat_warnings(read(wire))
    (told,) = heat_warnings(read(wire, "tag.temperature=125 degC"))
    assert told == (
        "tag.temperature: 125 degC is above the 120 degC that the covering of its wire stands "
        "(tag.wire.rated_temperature)"
    )
    follows = wire.replace(', temperature = "20 degC"', "")
    (told,) = heat_warnings(read(follows, "tag.temperature=125 degC"))
    assert told.startswith("tag.wire.temperature: 125 degC is hotter than the 120 degC")


def test_a_core_of_own_constants_follows_its_own_curve(read: Reader, bare: str) -> None:
    text = bare.replace('material = "ferrite"            #', f"{OWN}  #")
    for temperature, permeability in (("20 degC", 900.0), ("110 degC", 1170.0), ("210 degC", 720.5), ("220 degC", 1.0)):
        construction = read(text, f"tag.temperature={temperature}").base.tag.construction
        assert construction is not None
        assert construction.core is not None
        assert construction.core.material.relative_permeability == pytest.approx(permeability, rel=1e-12, abs=0.0)
    (told,) = heat_warnings(read(text, "tag.temperature=230 degC"))
    assert told == (
        "tag.temperature: 230 degC is above the Curie point of constants of tag.material, 220 degC: "
        "the core is no longer magnetic"
    )


def test_a_conductor_of_own_constants_follows_its_own_coefficient(read: Reader, bare: str) -> None:
    own = '{ resistivity = "2 uohm cm", temperature_coefficient = "0.4 %/K" }'
    text = bare.replace('conductor = "copper"', f"conductor = {own}")
    wire = read(text, "base_coil.wire.temperature=120 degC").base.coil.wire
    assert wire.conductivity == pytest.approx(1.0 / 2.8e-8, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("own", "told"),
    [
        ('permeability_curve = [["20 degC", 1.0]]', "is given without relative_permeability; both or neither"),
        ('curie_temperature = "200 degC"', "is given without relative_permeability; both or neither"),
        (
            'relative_permeability = 9, temperature_coefficient = "1 %/K"',
            "is given without conductivity or resistivity; both or neither",
        ),
        ('resistivity = "1 ohm m", temperature_coefficient = 0.004', 'did you mean "0.004 1/K"'),
        ('resistivity = "1 ohm m", temperature_coefficient = "4 /K"', '"/K" in "4 /K" is no unit known here'),
        (
            'relative_permeability = 9, permeability_curve = [["20 degC", 1.0], ["20 degC", 1.3]]',
            "pair 1: its temperature is not above that of the pair before; pairs [temperature, factor]",
        ),
        ('relative_permeability = 9, permeability_curve = [["20 degC"]]', "pair 0: 1 values where a pair belongs"),
        ('relative_permeability = 9, permeability_curve = [["20 degC", -1]]', "pair 0: -1 is out of bounds"),
        (
            'relative_permeability = 9, permeability_curve = [["20 degC", 1], ["90 degC", 0]]',
            "permeability_curve: its factor 0 at 90 degC makes 0 of the relative permeability of 9; "
            "factors that leave 0.5 or more",
        ),
        ("relative_permeability = 9, permeability_curve = [[20, 1.0]]", "pair 0: 20 has no unit"),
        (
            "relative_permeability = 9, permeability_curve = 1.3",
            "a number where a list belongs; pairs [temperature, factor]",
        ),
        ("relative_permeability = 9, permeability_curve = []", "a list of 0 pairs; 1 to 100 pairs"),
        (
            'relative_permeability = 9, curie_temperature = "90 degC", permeability_curve = [["90 degC", 2]]',
            "permeability_curve: its last temperature, 90 degC, is not below the Curie point, 90 degC; "
            "temperatures below curie_temperature",
        ),
    ],
)
def test_faults_of_own_constants(faults: FaultLister, bare: str, own: str, told: str) -> None:
    lines = faults(bare.replace(f"{FERRITE}            #", f"material = {{ {own} }}  #"))
    assert len(lines) == 1
    assert told in lines[0]
    assert "tag.material." in lines[0]
    assert lines[0].startswith(f"study.toml:{line_of(bare, FERRITE)}: ")


def test_nothing_is_colder_than_absolute_zero(faults: FaultLister, bare: str) -> None:
    (told,) = faults(bare, "tag.temperature=-274 degC")
    assert told.startswith(
        '--set: tag.temperature: "-274 degC" is out of bounds; a temperature of -200 degC to 2000 degC'
    )


def test_a_given_resistance_is_that_at_20_degrees(read: Reader, bare: str) -> None:
    base = read(bare, "tag.temperature=70 degC").base
    assert base.tag.construction is not None
    assert base.tag.construction.series_resistance == pytest.approx(30.0 * (1.0 + 0.00393 * 50.0), rel=1e-12, abs=0.0)
    (assumption,) = [one for one in base.assumptions if one.key.startswith("tag.series_resistance")]
    assert (assumption.key, assumption.value) == ("tag.series_resistance at 70 degC", "35.895 ohm")
    assert read(bare, "tag.temperature=20 degC").base.tag.construction.series_resistance == 30.0  # type: ignore[union-attr]
