"""Energy of the storage capacitor, against the charge moved at the falling voltage."""

import numpy as np
import pytest

from links.errors import LinkError
from links.store import usable_energy


def test_energy_is_the_integral_of_voltage_over_charge() -> None:
    voltages = np.linspace(3.0, 8.0, 1001)
    assert usable_energy(150e-9, 8.0, 3.0) == pytest.approx(
        150e-9 * np.trapezoid(voltages, voltages), rel=1e-12, abs=0.0
    )


def test_a_minimum_above_the_start_is_refused() -> None:
    with pytest.raises(LinkError, match=r"^minimum voltage: 4.0 V given; it must not exceed 3.0 V$"):
        usable_energy(150e-9, 3.0, 4.0)
