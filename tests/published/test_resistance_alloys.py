"""A maker's table of resistance correction factors for heating alloys, as printed; 1.000 at 20 °C.

Source: a maker's table "High resistance thermoelectric alloy resistance temperature correction factor", grades Cr20Ni80
and 0Cr25Al5 (the same figures stand in GB/T 1234, from memory). The tolerance is not the table's digits but how far a
straight line strays from it over the range that the material's entry names: 0.5 % for nickel-chromium, 0.8 % for
iron-chromium-aluminium; the grades of either alloy differ by more.
"""

import pytest

from geometries.materials import find_material
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Heating alloys, makers' table",
    'A maker\'s table "High resistance thermoelectric alloy resistance temperature correction factor", grades '
    "Cr20Ni80 and "
    "0Cr25Al5 (the same figures stand in GB/T 1234, from memory).",
    "data",
)
RECORD = Record(
    SOURCE, Status.SEEN, Means.TRANSCRIPTION, "how far a straight line strays from the table over its range"
)

NICKEL_CHROMIUM = {100: 1.006, 200: 1.012, 300: 1.018, 400: 1.025, 500: 1.026}
IRON_CHROMIUM_ALUMINIUM = {
    100: 1.002, 200: 1.005, 300: 1.008, 400: 1.013, 500: 1.021, 600: 1.030, 700: 1.038, 800: 1.040, 900: 1.042,
    1000: 1.044, 1100: 1.046, 1200: 1.047,
}  # fmt: skip


@pytest.mark.parametrize(("temperature", "factor"), NICKEL_CHROMIUM.items())
def test_nickel_chromium(temperature: int, factor: float) -> None:
    found = _factor("nickel-chromium 80/20", temperature)
    RECORD.compare(f"nickel-chromium, R at {temperature} °C over 20 °C [1]", factor, found, absolute=0.005)


@pytest.mark.parametrize(("temperature", "factor"), IRON_CHROMIUM_ALUMINIUM.items())
def test_iron_chromium_aluminium(temperature: int, factor: float) -> None:
    found = _factor("iron-chromium-aluminium", temperature)
    RECORD.compare(f"iron-chromium-aluminium, R at {temperature} °C over 20 °C [1]", factor, found, absolute=0.008)


def _factor(name: str, temperature: float) -> float:
    material = find_material(name)
    hot, cold = material.resistivity(temperature), material.resistivity(20.0)
    assert hot is not None
    assert cold is not None
    return hot / cold
