"""A lead between coil and reader: the link through it against the whole network solved by nodes; its faults."""

from math import pi

import numpy as np
import pytest

from links.lead import apparent_coil
from studies.leads import lead_between
from studies.rows import number
from tests.studies.conftest import Evaluator, FaultLister, Reader
from tests.studies.small import SMALL

OMEGA = 2.0 * pi * 134.2e3
LEAD = (
    "lead={ length = '2 m', hot_length = '0.5 m', temperature = '200 degC', resistance = '0.1 ohm/m', "
    "inductance = '0.6 uH/m', capacitance = '2 nF/m' }"
)


def test_the_chip_sees_what_a_network_of_many_lumps_gives(evaluation_of: Evaluator) -> None:
    """Series capacitor, lead in 400 sections, coil with its stray, tag: the chip's voltage by nodal analysis."""
    found = evaluation_of(LEAD)
    row, candidate, base = found.row, found.candidate, found.coils.base
    lead = lead_between(candidate, base)
    assert lead is not None
    coil = base.resistance + 1j * OMEGA * base.inductance
    tag_l, tag_r = number(row, "tag_inductance_H"), number(row, "tag_resistance_ohm")
    load = 1.0 / (1.0 / 25e3 + 1j * OMEGA * number(row, "tag_tuning_capacitance_F"))
    mutual = number(row, "mutual_inductance_H")
    loop = tag_r + 1j * OMEGA * tag_l + load
    seen = coil + (OMEGA * mutual) ** 2 / loop
    chain = np.array([[1.0, 0.0], [1j * OMEGA * lead.coil_stray, 1.0]])
    for part in lead.parts:
        step = part.length / 200
        series = (part.resistance + 1j * OMEGA * part.inductance) * step
        half = np.array([[1.0, 0.0], [0.5j * OMEGA * part.capacitance * step, 1.0]])
        section = half @ np.array([[1.0, series], [0.0, 1.0]]) @ half
        chain = np.linalg.matrix_power(section, 200) @ chain
    (a, b), (c, d) = chain
    at_reader = (a * seen + b) / (c * seen + d)
    capacitor = 1.0 / (1j * OMEGA * number(row, "tuning_capacitance_F"))
    source = 4.0 / pi * 5.0 / (6.0 + capacitor + at_reader)
    current = source / (c * seen + d)
    chip = abs(OMEGA * mutual * current / loop * load)
    assert number(row, "chip_voltage_V") == pytest.approx(chip, rel=2e-4, abs=0.0)
    assert number(row, "base_apparent_inductance_H") > 1.02 * number(row, "base_inductance_H")


def test_hot_wire_has_more_resistance(read: Reader) -> None:
    (hot, cold) = read(SMALL, LEAD).base.lead.pieces  # type: ignore[union-attr]
    assert hot[:2] == pytest.approx((0.5, 0.1 * (1.0 + 0.00393 * 180.0)), rel=1e-9, abs=0.0)
    assert cold[:2] == pytest.approx((1.5, 0.1), rel=1e-9, abs=0.0)


def test_a_conductor_has_its_skin_effect(evaluation_of: Evaluator) -> None:
    found = evaluation_of("lead={ length = '3 m', conductor_diameter = '1 mm' }")
    lead = lead_between(found.candidate, found.coils.base)
    assert lead is not None
    direct = 2.0 * 1.7241e-8 / (0.25 * pi * 1e-6)
    assert 1.3 * direct < lead.parts[0].resistance < 2.0 * direct
    apparent = apparent_coil(lead, found.coils.base.inductance, found.coils.base.resistance, 134.2e3)
    assert number(found.row, "base_apparent_resistance_ohm") == pytest.approx(
        float(apparent.resistance), rel=1e-9, abs=0.0
    )


def test_a_lead_that_resonates_near_the_carrier_is_told(evaluation_of: Evaluator) -> None:
    found = evaluation_of("lead={ length = '10 m', capacitance = '0.5 nF/m' }")
    assert any(text.startswith("lead: coil and lead resonate at ") for text in found.warnings)
    ratio = number(found.row, "base_lead_resonance_Hz") / 134.2e3
    assert 1.0 < ratio < 3.0


def test_a_lead_that_resonates_below_the_carrier_fails_in_words(evaluation_of: Evaluator) -> None:
    with pytest.raises(
        Exception,
        match=r"lead: at 134.2 kHz coil and lead are above their own resonance, .*; they resonate at \d+(\.\d+)? kHz$",
    ):
        evaluation_of("lead={ length = '10 m', capacitance = '5 nF/m' }")


def test_faults_and_what_is_assumed(faults: FaultLister, read: Reader) -> None:
    (line,) = faults(SMALL + '[lead]\nlength = "1 m"\nhot_length = "2 m"\n')
    assert "lead.hot_length: 2000 mm of a shorter lead; at most lead.length" in line
    base = read(SMALL + '[lead]\nlength = "1 m"\n').base
    assumed = {one.key: one.value for one in base.assumptions}
    assert assumed["lead.inductance"] == "600 nH/m"
    assert assumed["lead.capacitance"] == "60 pF/m"
    assert assumed["lead.conductor_diameter"] == "0.5 mm"
