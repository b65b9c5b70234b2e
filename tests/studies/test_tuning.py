"""Tuning capacitors: given, drifted, or exactly resonant; what being off tune does to the link."""

from collections.abc import Callable
from math import pi, sqrt

import pytest

from studies.rows import number
from studies.study import Study
from tests.studies.conftest import Evaluator, line_of

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]
OMEGA = 2.0 * pi * 134.2e3


def with_capacitors(text: str, base: str = "", tag: str = "") -> str:
    if base:
        text = text.replace("[base_coil.wire]", f"capacitor = {{ {base} }}\n[base_coil.wire]")
    return text.replace("chip = {", f"capacitor = {{ {tag} }}\nchip = {{") if tag else text


def test_no_capacitor_is_tuned_exactly(evaluation_of: Evaluator) -> None:
    row = evaluation_of().row
    assert (row["base_detuning"], row["tag_detuning"]) == (0.0, 0.0)
    assert "tuning_capacitance_least_F" not in row
    exact = number(row, "tuning_capacitance_F") * number(row, "base_inductance_H") * OMEGA**2
    assert exact == pytest.approx(1.0, rel=1e-12, abs=0.0)


def test_a_given_capacitor_is_what_the_link_has(evaluation_of: Evaluator) -> None:
    """The chip voltage against the two loops solved by hand, both sides off tune."""
    found = evaluation_of("base_coil.capacitor.capacitance=9 nF", "tag.capacitor.capacitance=4 nF")
    row, plain = found.row, evaluation_of().row
    c1, c2 = number(row, "tuning_capacitance_F"), number(row, "tag_tuning_capacitance_F")
    assert (c1, c2) == (9e-9, 4e-9)
    l1, r1 = (number(row, f"base_{name}") for name in ("inductance_H", "resistance_ohm"))
    l2, r2 = (number(row, f"tag_{name}") for name in ("inductance_H", "resistance_ohm"))
    assert row["base_detuning"] == pytest.approx(1.0 / (OMEGA * sqrt(l1 * c1)) - 1.0, rel=1e-9, abs=0.0)
    exact = l2 / (r2**2 + (OMEGA * l2) ** 2)
    assert plain["tag_tuning_capacitance_F"] == pytest.approx(exact, rel=1e-12, abs=0.0)
    assert row["tag_detuning"] == pytest.approx(sqrt(exact / c2) - 1.0, rel=1e-9, abs=0.0)
    load = 25e3 / (1.0 + 1j * OMEGA * c2 * 25e3)
    secondary = r2 + 1j * OMEGA * l2 + load
    mutual = number(row, "mutual_inductance_H")
    primary = 6.0 + r1 + 1j * OMEGA * l1 + 1.0 / (1j * OMEGA * c1) + (OMEGA * mutual) ** 2 / secondary
    current = 4.0 / pi * 5.0 / primary
    assert row["chip_voltage_V"] == pytest.approx(abs(OMEGA * mutual * current / secondary * load), rel=1e-6, abs=0.0)
    assert number(row, "margin_dB") < number(plain, "margin_dB")


def test_a_warm_dielectric_moves_the_capacitance(evaluation_of: Evaluator) -> None:
    exact = number(evaluation_of().row, "tuning_capacitance_F")
    nominal = f"base_coil.capacitor.capacitance={exact * 1e9!r} nF"
    film = (nominal, "base_coil.capacitor.dielectric=polypropylene", "drive.resistance=0.1 ohm")
    warm = evaluation_of(*film, "base_coil.capacitor.temperature=80 degC")
    assert warm.row["tuning_capacitance_F"] == pytest.approx(exact * (1.0 - 250e-6 * 60.0), rel=1e-9, abs=0.0)
    assert warm.row["tuning_capacitance_least_F"] == pytest.approx(exact * (1.0 - 370e-6 * 60.0), rel=1e-9, abs=0.0)
    assert warm.row["tuning_capacitance_greatest_F"] == pytest.approx(exact * (1.0 - 130e-6 * 60.0), rel=1e-9, abs=0.0)
    assert warm.row["base_detuning"] == pytest.approx(1.0 / sqrt(1.0 - 0.015) - 1.0, rel=1e-6, abs=0.0)
    (told,) = [text for text in warm.warnings if text.startswith("base_coil.capacitor: ")]
    assert "at 80 degC where" in told
    assert "+0.76 % off tune, about " in told
    assert "polypropylene allows " in told
    cold = evaluation_of(*film)
    assert cold.row["base_detuning"] == pytest.approx(0.0, abs=1e-9)  # its reference is 20 °C
    assert not [text for text in cold.warnings if text.startswith("base_coil.capacitor")]


def test_a_field_is_shared_by_capacitors_and_wires_of_all_temperatures(evaluation_of: Evaluator) -> None:
    plain = evaluation_of()
    other = evaluation_of("base_coil.capacitor.capacitance=9 nF", "base_coil.wire.temperature=90 degC")
    assert other.coils.base.field is plain.coils.base.field
    assert other.coils.tag.field is plain.coils.tag.field


def test_defaults_are_told(read: Reader, bare: str) -> None:
    base = read(with_capacitors(bare, 'capacitance = "3.6 nF", dielectric = "NP0"', 'capacitance = "470 pF"')).base
    assumed = {one.key: one.value for one in base.assumptions}
    assert assumed["base_coil.capacitor.temperature"] == "20 degC"
    assert assumed["tag.capacitor.dielectric"] == "none"
    assert base.coil.capacitor is not None
    assert base.coil.capacitor.dielectric == "C0G"
    assert base.tag.capacitor is not None
    assert base.tag.capacitor.least == base.tag.capacitor.greatest == 470e-12


def test_a_tags_capacitor_is_as_warm_as_the_tag(read: Reader, bare: str) -> None:
    text = with_capacitors(bare, tag='capacitance = "470 pF", dielectric = "mica"')
    capacitor = read(text, "tag.temperature=85 degC").base.tag.capacitor
    assert capacitor is not None
    assert capacitor.temperature == 85.0
    assert capacitor.capacitance == pytest.approx(470e-12 * (1.0 + 35e-6 * 60.0), rel=1e-12, abs=0.0)


def test_exact_resonance_is_told_where_a_dielectric_has_no_capacitance(read: Reader, bare: str) -> None:
    base = read(with_capacitors(bare, 'dielectric = "C0G", temperature = "140 degC"')).base
    assert base.coil.capacitor is None
    assert (
        "base_coil.capacitor.capacitance: none is given, so exact resonance is assumed, whatever the temperature; "
        "its dielectric's drift plays no part"
    ) in base.warnings
    assert "base_coil.capacitor.temperature: 140 degC is above the 125 degC that C0G stands" in base.warnings


@pytest.mark.parametrize(
    ("temperature", "told"),
    [
        ("106 degC", "tag.capacitor.temperature: 106 degC is above the 105 degC that polypropylene stands"),
        ("-60 degC", "tag.capacitor.temperature: -60 degC is below the -55 degC that polypropylene stands"),
        ("105 degC", ""),
    ],
)
def test_what_a_dielectric_stands(read: Reader, bare: str, temperature: str, told: str) -> None:
    text = with_capacitors(
        bare, tag=f'capacitance = "470 pF", dielectric = "polypropylene", temperature = "{temperature}"'
    )
    found = [warning for warning in read(text).base.warnings if "capacitor" in warning]
    assert found == ([told] if told else [])


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ('dielectric = "COG"', 'no dielectric is called "COG"; one of C0G, U2J, X7R, X5R, polypropylene, polyester, '),
        ('dielectric = "COG"', 'mica; did you mean "C0G"'),
        ('capacitance = "3.6 nH"', '"3.6 nH" is an inductance; a capacitance in nF, pF, uF or F'),
        ('capacity = "3.6 nF"', "is not a key known here; one of capacitance, parts, choose, series, tolerance, "),
        (
            'capacitance = "3.6 nF", dielectric = "U2J", temperature = "1500 degC"',
            "its law of capacitance gives nothing positive at 1500 °C",
        ),
    ],
)
def test_faults_of_capacitors(faults: FaultLister, bare: str, given: str, told: str) -> None:
    (line,) = faults(with_capacitors(bare, given))
    assert told in line
    assert line.startswith(f"study.toml:{line_of(bare, '[base_coil.wire]')}: base_coil.capacitor")
