"""A biased core in the link: the verdict is that of the biased tag, with the capacitor that it keeps."""

from dataclasses import replace
from math import pi

import pytest

from studies.evaluation import Evaluation, evaluated
from studies.rows import number
from studies.specification import Candidate
from tests.studies.conftest import Reader
from tests.studies.test_bias import CORED, bar


@pytest.fixture(scope="module")
def plain_and_driven(tmp_path_factory: pytest.TempPathFactory) -> tuple[Evaluation, Evaluation]:
    from studies.study import read_study

    file = tmp_path_factory.mktemp("biased") / "study.toml"
    file.write_text(CORED, encoding="utf-8")
    base: Candidate = read_study(file, ("tag.chip.minimum_voltage=3 V",)).base
    below = bar((0.0, 0.0, -12e-3), carrier="drive")
    return evaluated(base), evaluated(replace(base, drive_magnets=(below,)))


@pytest.mark.slow
def test_a_drives_magnets_detune_the_tag(plain_and_driven: tuple[Evaluation, Evaluation]) -> None:
    plain, driven = plain_and_driven
    row = driven.row
    assert row["tag_tuning_capacitance_F"] == pytest.approx(
        number(plain.row, "tag_tuning_capacitance_F"), rel=1e-9, abs=0.0
    )
    assert number(row, "tag_inductance_H") == pytest.approx(number(row, "tag_biased_inductance_H"), rel=1e-9, abs=0.0)
    assert number(row, "tag_biased_inductance_H") < number(row, "tag_unbiased_inductance_H")
    assert number(row, "tag_detuning") > 0.0
    assert number(row, "margin_unbiased_dB") == pytest.approx(number(plain.row, "margin_tuned_dB"), abs=0.01, rel=0.0)
    assert number(row, "margin_biased_dB") == pytest.approx(number(row, "margin_dB"), abs=0.02, rel=0.0)
    assert number(row, "margin_saturated_dB") < number(row, "margin_biased_dB") < number(row, "margin_unbiased_dB")
    assert number(row, "ladder_biased_dB") < number(row, "ladder_displaced_dB")
    omega = 2.0 * pi * 134.2e3
    assert number(row, "tag_q") == pytest.approx(
        omega * number(row, "tag_inductance_H") / number(row, "tag_resistance_ohm"), rel=1e-9, abs=0.0
    )


@pytest.mark.slow
def test_a_tag_is_tuned_with_the_magnets_it_carries(read: Reader) -> None:
    base = read(CORED, "tag.chip.minimum_voltage=3 V").base
    carried = evaluated(replace(base, magnets=(bar((0.0, 0.0, 12e-3)),)))
    assert carried.row["tag_detuning"] == pytest.approx(0.0, abs=1e-9)
    assert number(carried.row, "margin_biased_dB") > number(carried.row, "margin_unbiased_dB")


def test_without_magnets_nothing_is_told_of_them(plain_and_driven: tuple[Evaluation, Evaluation]) -> None:
    row = plain_and_driven[0].row
    assert not [name for name in row if "bias" in name and row[name] is not None]
