"""Which state is tuned in where two are alike or one is missing; columns of a row that are the worst of all states."""

from collections.abc import Callable
from dataclasses import replace
from math import hypot, log10, pi

import pytest

from links.errors import LinkError
from studies.evaluation import evaluated
from studies.rows import number
from studies.study import Study
from tests.studies.test_states import FaultLister, in_state, names, rows, warm

Reader = Callable[..., Study]

WARM_WIRE = warm().replace('overall_diameter = "0.30 mm"', 'overall_diameter = "0.30 mm", temperature = "200 degC"')
ALIKE = warm() + '\n[temperatures.first]\n"solids.pan" = "100 degC"\n[temperatures.second]\n"solids.pan" = "100 degC"\n'
ROOM = warm() + '\n[temperatures.room]\n"solids.pan" = "20 degC"\n'


@pytest.mark.parametrize(
    ("text", "asked", "stands_as"), [(ALIKE, "first", "first"), (ALIKE, "second", "first"), (ROOM, "cold", "room")]
)
def test_a_state_that_is_like_another_is_tuned_in_as_that(read: Reader, text: str, asked: str, stands_as: str) -> None:
    base = read(text, "link.mode=half-duplex", f"link.tuned_in={asked}").base
    assert base.tuned_in == stands_as
    each = rows(evaluated(base))
    assert abs(number(each[stands_as], "base_detuning")) < 1e-12
    assert number(each["as given"], "base_detuning") < -1e-3  # the pan is hotter there, and L more


def test_cold_is_as_given_where_nothing_is_warm(read: Reader) -> None:
    text = warm().replace('temperature = "300 degC"', "")
    base = read(text, "link.mode=half-duplex", "link.tuned_in=cold").base
    assert names(base) == [base.tuned_in] == ["as given"]
    assert not any("tuned_in" in text for text in base.warnings)


def test_a_state_to_be_tuned_in_that_a_design_lacks_is_told(read: Reader) -> None:
    text = warm() + '\n[sweep]\n"solids.pan.temperature" = ["300 degC", "200 degC"]\n'
    candidate = read(text, "link.mode=half-duplex", "link.tuned_in=cold").candidate(1)
    assert names(candidate) == [candidate.tuned_in] == ["as given"]
    (told,) = (text for text in candidate.warnings if "link.tuned_in" in text)
    assert told.endswith("no state cold, so turns and capacitors are found in the state as given")


def test_the_state_to_be_tuned_in_may_be_swept(read: Reader, faults: FaultLister) -> None:
    text = warm() + '\n[sweep]\n"link.tuned_in" = ["as given", "cold"]\n'
    study = read(text, "link.mode=half-duplex")
    assert [study.candidate(i).tuned_in for i in range(2)] == ["as given", "cold"]
    (told,) = faults(text.replace('"cold"]', '"could"]'), "link.mode=half-duplex")
    assert 'sweep."link.tuned_in"[1]: no state is called "could"; one of as given, cold' in told


def test_the_depth_of_modulation_is_that_of_the_state_that_hides_it_most(read: Reader) -> None:
    """Decibels under the carrier: the more, the harder to hear."""
    base = read(WARM_WIRE, "link.mode=full-duplex", "link.keying_frequency=4 kHz").base
    found = evaluated(base)
    depths = [number(row, "modulation_depth_dB") for row in found.states]
    assert abs(depths[0] - depths[1]) > 0.5
    assert found.row["modulation_depth_dB"] == max(depths)


def test_a_neighbour_hears_most_of_the_state_with_the_best_coil(read: Reader) -> None:
    """Current and loop are both of the cold coil: U = I ωM |R_drive + 1/(jωC)|/|Z|, by hand."""
    found = evaluated(read(WARM_WIRE + '[neighbour]\nspacing = "120 mm"\n').base)
    cold, omega = rows(found)["cold"], 2.0 * pi * 134.2e3
    reactance, elastance = omega * number(cold, "base_inductance_H"), 1.0 / number(cold, "tuning_capacitance_F") / omega
    loop = hypot(number(cold, "base_resistance_ohm") + 6.0, reactance - elastance)
    coupled = reactance * number(cold, "neighbour_coupling_coefficient")
    voltage = number(cold, "base_current_A") * coupled * hypot(6.0, elastance) / loop
    assert found.row["neighbour_voltage_V"] == pytest.approx(voltage, rel=1e-6, abs=0.0)
    driven = hypot(number(cold, "base_resistance_ohm"), reactance)  # less (ωM)²/|Z|, which k Q leaves small
    isolation = 20.0 * log10(driven * loop / coupled / hypot(6.0, elastance))
    assert found.row["neighbour_isolation_dB"] == pytest.approx(isolation, abs=0.01, rel=0.0)
    given = rows(found)["as given"]
    assert number(given, "neighbour_voltage_V") < 0.8 * voltage
    assert number(given, "neighbour_isolation_dB") > number(cold, "neighbour_isolation_dB") + 1.0


def test_a_core_above_its_curie_point_is_named_and_is_air(read: Reader) -> None:
    """L, M and margin of the tag are those of the same coil without a core; its state is the worst and says so."""
    text = warm().replace('core = "none"', 'core = "rod"\nmaterial = "ferrite"\nrod_diameter = "3.8 mm"')
    text = text.replace('winding_length = "2 mm"\nseries', 'winding_length = "2 mm"\nrod_length = "4 mm"\nseries')
    text = text.replace('minimum_voltage = "0.2 V"', 'minimum_voltage = "3 V"')
    found = evaluated(read(text + '[temperatures.glowing]\ntag = "200 degC"\n').base)
    air = evaluated(read(warm(), "tag.temperature=200 degC").base)
    glowing = rows(found)["glowing"]
    for name in ("tag_inductance_H", "tag_dipole_moment_m2"):
        assert number(glowing, name) == pytest.approx(number(rows(air)["as given"], name), rel=1e-3, abs=0.0)
        assert number(rows(found)["as given"], name) > 1.3 * number(glowing, name)
    exact = number(rows(air)["as given"], "tag_tuning_capacitance_F")
    fitted = number(glowing, "tag_tuning_capacitance_F")
    assert number(glowing, "tag_detuning") == pytest.approx((exact / fitted) ** 0.5 - 1.0, rel=5e-3, abs=0.0)
    assert found.row["worst_state"] == "glowing"
    assert any(
        text.startswith("state glowing: tag.temperature: 200 degC is above the Curie point of ferrite, 150 degC")
        for text in found.warnings
    )
    (told,) = (text for text in found.warnings if text.startswith("state glowing: tag.capacitor: "))
    assert told.endswith("; the reply is worked out as if its chip tuned it to each tone all the same")
    assert in_state(found.candidate, "glowing").tag.temperature == 200.0


@pytest.mark.parametrize(
    ("storage", "told"),
    [
        ('{ capacitance = "1 F", charge_time = "35 ms" }', "where 0.035 s are given"),
        ('{ capacitance = "150 nF", charge_time = "10 us" }', None),
    ],
)
def test_a_store_that_can_never_charge_fails_by_its_power(read: Reader, storage: str, told: str | None) -> None:
    text = warm().replace('minimum_voltage = "0.2 V"', 'minimum_voltage = "3 V"')
    found = evaluated(read(text, "link.mode=half-duplex", f"link.storage={storage}").base)
    assert number(found.row, "margin_dB") < -30.0
    assert found.row["margin_limited_by"] == "power"
    assert told is None or any(text.startswith("link.storage: ") and told in text for text in found.warnings)


CUP = """
[[solids]]
name = "cup"
material = "manganese-zinc ferrite"
temperature = "300 degC"
outline = [["0 mm", "-12 mm"], ["26 mm", "-12 mm"], ["26 mm", "-10 mm"], ["0 mm", "-10 mm"]]
"""


def test_a_field_reaches_as_far_as_in_the_state_it_reaches_farthest_in(read: Reader) -> None:
    """A ferrite cup, above its Curie point as given and magnetic when cold, where the coil is tuned."""
    text = warm()[: warm().index("[[solids]]")] + CUP
    found = evaluated(read(text, "link.mode=half-duplex", "link.tuned_in=cold").base)
    cold = evaluated(read(text, "solids.cup.temperature=20 degC").base)
    assert [row["state"] for row in found.states] == ["as given", "cold"]
    for level in ("reference", "occupational"):
        for what in ("distance", "height", "radius"):
            name = f"{level}_level_{what}_m"
            assert found.row[name] == pytest.approx(number(cold.row, name), rel=1e-6, abs=0.0)
    far = number(cold.row, "field_at_10_m_margin_dB")
    assert found.row["field_at_10_m_margin_dB"] == pytest.approx(far, rel=0.0, abs=1e-6)


def test_a_state_in_which_a_lead_resonates_below_the_carrier_is_named(read: Reader) -> None:
    """A ferrite cup that is magnetic when cold raises L by a quarter, and lowers what coil and lead resonate at."""
    text = warm()[: warm().index("[[solids]]")] + CUP + '[lead]\nlength = "10 m"\ncapacitance = "1.17 nF/m"\n'
    evaluated(replace(read(text).base, states=()))
    with pytest.raises(LinkError, match=r"^lead: at 134\.2 kHz .*; they resonate at 12\d\.?\d? kHz \(state cold\)$"):
        evaluated(read(text).base)
