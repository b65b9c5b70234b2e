"""IEC 60028 (1925): annealed copper, 1/58 Ω mm²/m (1.7241e-8 Ω m) and 0.00393 per K at 20 °C; and what follows."""

from itertools import pairwise

import pytest

from geometries.constants import skin_depth
from geometries.materials import find_material

COPPER = find_material("copper")


def test_resistivity_as_printed() -> None:
    assert COPPER.resistivity(20.0) == 1.7241e-8
    assert COPPER.conductivity(20.0) == pytest.approx(58.0e6, rel=5e-5, abs=0.0)
    assert COPPER.temperature_coefficient == 0.00393


@pytest.mark.parametrize(("temperature", "ratio"), [(250.0, 1.90), (500.0, 2.89)])
def test_hot_wire_by_the_linear_law(temperature: float, ratio: float) -> None:
    hot, cold = COPPER.resistivity(temperature), COPPER.resistivity(20.0)
    assert hot is not None
    assert cold is not None
    assert hot / cold == pytest.approx(ratio, abs=5e-3)


def test_resistance_rises_with_every_degree() -> None:
    found = [COPPER.resistivity(float(temperature)) or 0.0 for temperature in range(-50, 501)]
    rises = [after - before for before, after in pairwise(found)]
    assert min(rises) == pytest.approx(max(rises), rel=1e-9, abs=0.0)  # a line
    assert rises[0] == pytest.approx(1.7241e-8 * 0.00393, rel=1e-9, abs=0.0)


@pytest.mark.parametrize(("frequency", "micrometres"), [(125.0e3, 186.92), (134.2e3, 180.40)])
def test_skin_depth_of_copper(frequency: float, micrometres: float) -> None:
    assert skin_depth(frequency, COPPER.conductivity(20.0)) * 1e6 == pytest.approx(micrometres, abs=5e-3)
