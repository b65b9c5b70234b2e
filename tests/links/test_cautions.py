"""Cautions come with the numbers that call for them."""

from math import sqrt

import pytest

from links.cautions import CALCULATION_ONLY, MAINS, HazardFigures, cautions

LIMIT = 1e-6 * 10.0 ** (42.0 / 20.0)
"""42 dBµA/m, band b of ERC/REC 70-03 annex 9, 135-140 kHz [A/m]."""

HARMLESS = HazardFigures(134.2e3, coil_voltage=42.0, plate_temperature=40.0)


def test_the_standing_sentence_is_always_last() -> None:
    assert cautions(HARMLESS) == (CALCULATION_ONLY,)
    assert "not a safety or compliance approval; local codes and qualified practice decide" in CALCULATION_ONLY


def test_a_tuned_coil_of_hundreds_of_volts() -> None:
    found = cautions(HazardFigures(134.2e3, coil_voltage=311.4))
    assert len(found) == 2
    assert "311 V peak" in found[0]


def test_a_hot_plate_and_a_mains_heater() -> None:
    found = cautions(HazardFigures(134.2e3, 10.0, plate_temperature=350.0, mains_heater=True))
    assert "350 °C" in found[0]
    assert "common practice, no source" in found[0]
    assert found[1:] == (MAINS, CALCULATION_ONLY)


def test_a_field_is_shown_beside_its_reference_levels_and_implants_are_named() -> None:
    above = cautions(HazardFigures(134.2e3, 10.0, flux_density=35e-6))[0]
    below = cautions(HazardFigures(134.2e3, 10.0, flux_density=20e-6))[0]
    assert "35 µT rms" in above
    assert ", more than the public reference level (27 µT for the public, 100 µT at work; ICNIRP 2010" in above
    assert ", not more than the public" in below
    assert "implants" in above
    assert "implants" in below


def test_a_field_beyond_the_known_levels_says_so() -> None:
    assert "no reference level is known" in cautions(HazardFigures(50.0, 10.0, flux_density=1e-3))[0]
    assert cautions(HazardFigures(134.2e3, 10.0, flux_density=0.0)) == (CALCULATION_ONLY,)


def test_a_field_at_10_m_above_its_limit_says_by_how_much() -> None:
    found = cautions(HazardFigures(137e3, 10.0, far_field=2.0 * LIMIT))
    assert found[0].startswith(
        "The field at 10 m is 48.0 dBµA/m rms, 6.0 dB above the limit of 42.0 dBµA/m (ERC/REC 70-03 annex 9"
    )
    assert found[1:] == (CALCULATION_ONLY,)


@pytest.mark.parametrize("far_field", [None, 0.0, LIMIT / sqrt(2.0), LIMIT * (1.0 - 1e-9)])
def test_a_field_at_10_m_within_its_limit_is_not_spoken_of(far_field: float | None) -> None:
    assert cautions(HazardFigures(137e3, 10.0, far_field=far_field)) == (CALCULATION_ONLY,)


def test_a_frequency_without_a_limit_at_10_m_says_that_none_is_known() -> None:
    found = cautions(HazardFigures(75e3, 10.0, far_field=1e-6))[0]
    assert found.startswith("The field at 10 m is 0.0 dBµA/m rms; no limit is known here at 75 kHz (ERC/REC 70-03")
    assert "90 to 148.5 kHz" in found
