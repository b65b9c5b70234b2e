"""Field limits where bands meet and end, and the dipole against a small loop."""

import numpy as np
import pytest

from links.limits import (
    decibel_microampere_per_metre,
    dipole_field_on_axis,
    field_limit_at_10_m,
    largest_moment_for_field,
    reference_level_occupational,
    reference_level_public,
)


def level(frequency: float) -> float | None:
    field = field_limit_at_10_m(frequency)
    return None if field is None else decibel_microampere_per_metre(field)


def test_the_lower_limit_holds_where_bands_meet() -> None:
    assert level(119e3) == pytest.approx(42.0)
    assert level(135e3) == pytest.approx(42.0)
    assert level(140e3) == pytest.approx(37.7)
    assert level(128.6e3) == level(129.6e3) == pytest.approx(42.0)


def test_nothing_is_said_where_nothing_is_known() -> None:
    assert field_limit_at_10_m(89.9e3) is None
    assert field_limit_at_10_m(148.6e3) is None
    assert reference_level_public(2.9e3) is None
    assert reference_level_occupational(11e6) is None


def test_decibels_of_a_field() -> None:
    assert decibel_microampere_per_metre(1e-6) == 0.0
    assert decibel_microampere_per_metre(2e-3) == pytest.approx(66.02, abs=0.005)
    assert decibel_microampere_per_metre(0.0) == -np.inf


def test_dipole_is_the_far_field_of_a_small_loop() -> None:
    # H on the axis of a loop: I a²/(2 (a² + r²)^1.5); 22 mm radius at 10 m.
    radius, current, distance = 22e-3, 0.15, 10.0
    loop = current * radius**2 / (2.0 * (radius**2 + distance**2) ** 1.5)
    assert dipole_field_on_axis(np.pi * radius**2 * current, distance) == pytest.approx(loop, rel=1e-5, abs=0.0)
    assert largest_moment_for_field(loop, distance) == pytest.approx(np.pi * radius**2 * current, rel=1e-5, abs=0.0)
