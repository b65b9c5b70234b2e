"""Voltages and currents of a wire: shares, bounds, and the rms of a drive that is not always on."""

import numpy as np
import pytest

from links.errors import LinkError
from links.wire_stress import neighbour_voltage, rms_at_duty, volts_per_turn


def test_turns_share_evenly() -> None:
    assert volts_per_turn(320.0, 64) == 5.0


def test_neighbours_stand_so_many_turns_apart_and_never_beyond_the_coil() -> None:
    assert neighbour_voltage(320.0, 64, 20) == 100.0
    assert neighbour_voltage(320.0, 64, 20, 1.1) == pytest.approx(110.0, rel=1e-12, abs=0.0)
    assert neighbour_voltage(320.0, 64, 64, 1.1) == 320.0


@pytest.mark.parametrize("duty", [1.0, 0.5, 0.07])
def test_rms_is_that_of_the_time_series(duty: float) -> None:
    """√ of the mean square of a sine of whole periods, then silence."""
    periods, points = 100, 64
    time = np.arange(periods * points) / points
    current = np.where(time < duty * periods, 0.3 * np.sin(2.0 * np.pi * time), 0.0)
    assert rms_at_duty(0.3, duty) == pytest.approx(np.sqrt(np.mean(current**2)), rel=1e-9, abs=0.0)


@pytest.mark.parametrize("duty", [0.0, -0.1, 1.01, float("nan")])
def test_an_impossible_duty_is_refused(duty: float) -> None:
    with pytest.raises(LinkError, match=r"duty: .* given; it must be above 0 and at most 1"):
        rms_at_duty(1.0, duty)


def test_impossible_windings_are_refused() -> None:
    with pytest.raises(LinkError, match="turns between neighbours: 65 given; it must be 1 to 64"):
        neighbour_voltage(320.0, 64, 65)
    with pytest.raises(LinkError, match=r"linkage ratio: 0.9 given; it must be at least 1"):
        neighbour_voltage(320.0, 64, 20, 0.9)
    with pytest.raises(LinkError, match="turns: 0 given"):
        volts_per_turn(320.0, 0)
    with pytest.raises(LinkError, match=r"coil voltage: -1.0 given"):
        volts_per_turn(-1.0, 64)
