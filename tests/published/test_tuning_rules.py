"""Rules of the trade on tuning. Those marked so are common practice, no source; the others follow from formulas."""

import pytest

from links.resonance import off_tune_loss, resonant_frequency, series_tuning_capacitance, stray_capacitance
from links.store import usable_energy
from tests.published.records import Means, Record, Source, Status

SOURCE = Source("Rules of tuning", "Derived from the formulas of resonant circuits.", "none")
RECORD = Record(SOURCE, Status.DERIVED, Means.TRANSCRIPTION, "half a unit of the last place of a rounded value")


def test_450_microhenry_needs_about_3_nanofarad_at_134_kilohertz() -> None:
    record = RECORD.but(status=Status.PRACTICE, why='"about" read as the nearest half nanofarad')
    found = float(series_tuning_capacitance(450e-6, 134e3))
    record.compare("capacitor of 450 µH at 134 kHz [nF]", 3.0, found * 1e9, absolute=0.25)


def test_390_microhenry_resonates_at_134_2_kilohertz_with_3_6_nanofarad() -> None:
    record = RECORD.but(why="3.6 nF rounded to 0.1 nF: half of it is 1.4 % of C and 0.7 % of the frequency")
    found = float(resonant_frequency(390e-6, 3.6e-9))
    record.compare("resonance of 390 µH and 3.6 nF [kHz]", 134.2, found / 1e3, relative=7e-3)


def test_2_millihenry_needs_703_picofarad() -> None:
    found = float(series_tuning_capacitance(2e-3, 134.2e3))
    RECORD.compare("capacitor of 2 mH at 134.2 kHz [pF]", 703.0, found * 1e12, absolute=0.5)


def test_a_part_of_2_millihenry_with_1_megahertz_self_resonance_brings_12_7_picofarad() -> None:
    found = stray_capacitance(2e-3, 1e6)
    RECORD.compare("stray capacitance of 2 mH resonant at 1 MHz [pF]", 12.7, found * 1e12, absolute=0.05)


@pytest.mark.parametrize(("quality", "loss"), [(20.0, 0.6), (50.0, 3.0), (100.0, 7.0)])
def test_off_tune_by_one_per_cent(quality: float, loss: float) -> None:
    found = float(off_tune_loss(quality, 0.01))
    RECORD.compare(f"loss of a circuit of Q {quality:g} off tune by 1 % [dB]", loss, found, absolute=0.05)


def test_220_nanofarad_from_8_to_3_volt_gives_6_05_microjoule() -> None:
    record = RECORD.but(why="exact; rounding in binary")
    record.compare("energy of 220 nF from 8 to 3 V [µJ]", 6.05, usable_energy(220e-9, 8.0, 3.0) * 1e6, relative=1e-12)
