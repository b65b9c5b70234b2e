"""The drive's fundamental, against the Fourier integral of the wave itself."""

import numpy as np
import pytest

from links.drive import drive_notes, fundamental_voltage, standing_voltage
from links.errors import LinkError


@pytest.mark.parametrize(("bridge", "low"), [("full", -1.0), ("half", 0.0)])
def test_fundamental_of_a_square_wave(bridge: str, low: float) -> None:
    angle = (np.arange(100_000) + 0.5) * 2.0 * np.pi / 100_000
    wave = np.where(angle < np.pi, 5.0, 5.0 * low)
    assert fundamental_voltage(bridge, 5.0) == pytest.approx(2.0 * np.mean(wave * np.sin(angle)), rel=1e-9, abs=0.0)


def test_a_sine_is_its_own_fundamental() -> None:
    assert fundamental_voltage("sine", 7.5) == 7.5


def test_other_bridges_and_supplies_are_refused() -> None:
    with pytest.raises(LinkError, match=r"^bridge: 'quarter' given; one of full, half, sine is allowed$"):
        fundamental_voltage("quarter", 5.0)
    with pytest.raises(LinkError, match=r"^supply: 0.0 given"):
        fundamental_voltage("full", 0.0)


def test_notes_come_with_parallel_tuning_and_square_waves() -> None:
    assert drive_notes("full", "series") == ()
    assert len(drive_notes("sine", "parallel")) == 1
    square = drive_notes("half", "parallel")
    assert len(square) == 3
    assert "odd harmonics" in square[1]
    assert "blocking capacitor" in square[2]


def test_a_half_bridges_mean_stands_across_a_series_capacitor() -> None:
    """The mean of a square wave between 0 and 5 V, given by its fundamental."""
    angle = (np.arange(100_000) + 0.5) / 100_000 * 2.0 * np.pi
    mean = float(np.mean(np.where(np.sin(angle) > 0.0, 5.0, 0.0)))
    assert standing_voltage("half", "series", fundamental_voltage("half", 5.0)) == pytest.approx(mean, rel=1e-9)
    assert standing_voltage("full", "series", 5.0) == standing_voltage("sine", "series", 5.0) == 0.0
    assert standing_voltage("half", "parallel", 5.0) == 0.0
