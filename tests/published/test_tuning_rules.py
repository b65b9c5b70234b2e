"""Rules of the trade on tuning. Those marked so are common practice, no source; the others follow from formulas."""

import pytest

from links.full_duplex import CYCLES_PER_BIT
from links.resonance import off_tune_loss, resonant_frequency, series_tuning_capacitance, stray_capacitance
from links.store import usable_energy


def test_450_microhenry_needs_about_3_nanofarad_at_134_kilohertz() -> None:
    # Common practice, no source. "About" is read as the nearest half nanofarad.
    assert series_tuning_capacitance(450e-6, 134e3) == pytest.approx(3e-9, abs=0.25e-9)


def test_390_microhenry_resonates_at_134_2_kilohertz_with_3_6_nanofarad() -> None:
    assert float(resonant_frequency(390e-6, 3.6e-9)) == pytest.approx(134.2e3, rel=2e-3, abs=0.0)


def test_2_millihenry_needs_703_picofarad() -> None:
    assert series_tuning_capacitance(2e-3, 134.2e3) == pytest.approx(703e-12, abs=0.5e-12)


def test_a_part_of_2_millihenry_with_1_megahertz_self_resonance_brings_12_7_picofarad() -> None:
    assert stray_capacitance(2e-3, 1e6) == pytest.approx(12.7e-12, abs=0.05e-12)


@pytest.mark.parametrize(("quality", "loss"), [(20.0, 0.6), (50.0, 3.0), (100.0, 7.0)])
def test_off_tune_by_one_per_cent(quality: float, loss: float) -> None:
    assert float(off_tune_loss(quality, 0.01)) == pytest.approx(loss, abs=0.05)


def test_220_nanofarad_from_8_to_3_volt_gives_6_05_microjoule() -> None:
    assert usable_energy(220e-9, 8.0, 3.0) == pytest.approx(6.05e-6, rel=1e-12, abs=0.0)


def test_full_duplex_bit_rate() -> None:
    # ISO 11785: 4193.75 bit/s at 134.2 kHz.
    bit_rate = 134.2e3 / CYCLES_PER_BIT
    assert bit_rate == pytest.approx(4193.75, rel=1e-12, abs=0.0)
