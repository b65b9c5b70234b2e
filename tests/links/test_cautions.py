"""Cautions come with the numbers that call for them."""

from links.cautions import CALCULATION_ONLY, MAINS, HazardFigures, cautions

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
