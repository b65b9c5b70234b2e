"""IEC 60028 (1925): annealed copper, 1/58 Ω mm²/m (1.7241e-8 Ω m) and 0.00393 per K at 20 °C; and what follows."""

from itertools import pairwise

import pytest

from geometries.constants import skin_depth
from geometries.materials import find_material
from tests.published.records import Means, Record, Source, Status

SOURCE = Source("IEC 60028, 1925", "IEC 60028, *International standard of resistance for copper*, 1925.", "standard")
RECORD = Record(SOURCE, Status.SEEN, Means.TRANSCRIPTION, "the printed value itself; rounding in binary")
DERIVED = RECORD.but(
    status=Status.DERIVED, why="half a unit of the last place of a value worked out from the standard's"
)
COPPER = find_material("copper")


def test_constants_as_printed() -> None:
    resistivity = COPPER.resistivity(20.0)
    assert resistivity is not None
    assert COPPER.temperature_coefficient is not None
    RECORD.compare("resistivity of copper at 20 °C [nΩ m]", 17.241, resistivity * 1e9, relative=1e-12)
    RECORD.compare("temperature coefficient at 20 °C [1/K]", 0.00393, COPPER.temperature_coefficient, relative=1e-12)
    record = RECORD.but(why="17.241 nΩ m is 1/58 µΩ m to five digits")
    record.compare("conductivity at 20 °C [MS/m]", 58.0, COPPER.conductivity(20.0) / 1e6, relative=5e-5)


@pytest.mark.parametrize(("temperature", "ratio"), [(250.0, 1.90), (500.0, 2.89)])
def test_hot_wire_by_the_linear_law(temperature: float, ratio: float) -> None:
    hot, cold = COPPER.resistivity(temperature), COPPER.resistivity(20.0)
    assert hot is not None
    assert cold is not None
    DERIVED.compare(f"resistance at {temperature:g} °C over that at 20 °C [1]", ratio, hot / cold, absolute=5e-3)


def test_resistance_rises_with_every_degree() -> None:
    found = [COPPER.resistivity(float(temperature)) or 0.0 for temperature in range(-50, 501)]
    rises = [after - before for before, after in pairwise(found)]
    assert min(rises) == pytest.approx(max(rises), rel=1e-9, abs=0.0)  # a line
    record = DERIVED.but(why="a line by the standard's constants; rounding of a difference")
    record.compare("rise of the resistivity per degree [pΩ m/K]", 17241.0 * 0.00393, rises[0] * 1e12, relative=1e-9)


@pytest.mark.parametrize(("frequency", "micrometres"), [(125.0e3, 186.92), (134.2e3, 180.40)])
def test_skin_depth_of_copper(frequency: float, micrometres: float) -> None:
    found = skin_depth(frequency, COPPER.conductivity(20.0)) * 1e6
    DERIVED.compare(f"skin depth at {frequency / 1e3:g} kHz [µm]", micrometres, found, absolute=5e-3)
