"""Wire losses against the same formulas in Kelvin functions, limits, and a direct solution across the wire."""

from math import pi, sqrt

import numpy as np
import pytest
from scipy.linalg import solve_banded
from scipy.special import bei, beip, ber, berp

from fem.wire_losses import (
    direct_current_resistance,
    internal_inductance_ratio,
    proximity_loss_per_length,
    proximity_note,
    skin_depth,
    skin_effect_ratio,
    transverse_field_factor,
)

MU0 = 4e-7 * pi
COPPER = 1.0 / 1.7241e-8
FREQUENCY = 134.2e3
DEPTH = 1.0 / sqrt(pi * FREQUENCY * MU0 * COPPER)
X = np.array([0.3, 1.0, 2.5, 7.0, 15.0])


def diameter_for(x):
    return sqrt(2.0) * DEPTH * np.asarray(x)


def test_skin_depth():
    assert skin_depth(FREQUENCY, COPPER) == pytest.approx(DEPTH, rel=1e-14, abs=0.0)
    assert skin_depth(FREQUENCY, COPPER, 100.0) == pytest.approx(DEPTH / 10.0, rel=1e-14, abs=0.0)


def test_direct_current_resistance():
    assert direct_current_resistance(10.0, 0.25e-3, COPPER) == pytest.approx(
        10 * 1.7241e-8 / (pi * 0.125e-3**2), rel=1e-12, abs=0.0
    )


def test_skin_effect_in_kelvin_functions():
    # W. Thomson 1889: R/R0 = (x/2)(ber bei′ − bei ber′)/(ber′² + bei′²), L/L0 = (4/x)(ber ber′ + bei bei′)/(…).
    slopes = berp(X) ** 2 + beip(X) ** 2
    resistance = 0.5 * X * (ber(X) * beip(X) - bei(X) * berp(X)) / slopes
    inductance = 4.0 / X * (ber(X) * berp(X) + bei(X) * beip(X)) / slopes
    assert skin_effect_ratio(diameter_for(X), FREQUENCY, COPPER) == pytest.approx(resistance, rel=1e-12, abs=0.0)
    assert internal_inductance_ratio(diameter_for(X), FREQUENCY, COPPER) == pytest.approx(
        inductance, rel=1e-12, abs=0.0
    )


def test_thin_and_thick_wire():
    thin = np.array([1e-6, 1e-3, 0.05])
    assert skin_effect_ratio(diameter_for(thin), FREQUENCY, COPPER) == pytest.approx(
        1.0 + thin**4 / 192.0, rel=1e-10, abs=0.0
    )
    assert internal_inductance_ratio(diameter_for(thin), FREQUENCY, COPPER) == pytest.approx(np.ones(3), abs=1e-7)
    thick = 1e5
    assert skin_effect_ratio(diameter_for(thick), FREQUENCY, COPPER) == pytest.approx(
        thick / sqrt(8) + 0.25, rel=1e-9, abs=0.0
    )


def test_transverse_field_factor_in_kelvin_functions():
    g = 0.25 * X * (ber(X) * berp(X) + bei(X) * beip(X)) / (ber(X) ** 2 + bei(X) ** 2)
    assert transverse_field_factor(X) == pytest.approx(g, rel=1e-12, abs=0.0)


def test_proximity_loss_of_thin_wire():
    d, field = 5e-6, 200.0 * np.exp(0.7j)
    loss = pi * (2.0 * pi * FREQUENCY) ** 2 * MU0**2 * COPPER * d**4 * 200.0**2 / 128.0
    assert proximity_loss_per_length(d, FREQUENCY, COPPER, field) == pytest.approx(loss, rel=1e-6, abs=0.0)


def test_proximity_loss_of_thick_wire_is_a_surface_loss():
    # Field 2H sin θ along the surface, loss |H_t|²/(2σδ) per area: 2π (d/2) H²/(σδ) per length.
    d = 2000.0 * DEPTH
    expected = pi * d * 9.0 / (COPPER * DEPTH)
    assert proximity_loss_per_length(d, FREQUENCY, COPPER, 3.0) == pytest.approx(expected, rel=1e-3, abs=0.0)


def test_proximity_loss_against_differences_across_the_wire():
    # A = f(ρ) sin φ: f″ + f′/ρ − f/ρ² = jωμσ f inside; outside μ0Hρ sin φ plus a dipole, which leaves f′ + f/a = 2μ0H.
    count, d, field = 4000, 3.0 * DEPTH, 50.0
    a = 0.5 * d
    step = a / count
    rho = step * np.arange(1, count + 1)
    main = -2.0 / step**2 - 1.0 / rho**2 - 1j * 2.0 * pi * FREQUENCY * MU0 * COPPER
    above, below = 1.0 / step**2 + 0.5 / (rho * step), 1.0 / step**2 - 0.5 / (rho * step)
    right = np.zeros(count, dtype=complex)
    # A node beyond the surface, taken out by the surface condition.
    main[-1] -= above[-1] * 2.0 * step / a
    below[-1] += above[-1]
    right[-1] -= above[-1] * 2.0 * step * 2.0 * MU0 * field
    f = solved_tridiagonal(main, above, below, right)
    loss = pi * 0.5 * COPPER * (2.0 * pi * FREQUENCY) ** 2 * np.trapezoid(np.abs(f) ** 2 * rho, rho)
    assert proximity_loss_per_length(d, FREQUENCY, COPPER, field) == pytest.approx(loss, rel=1e-5, abs=0.0)


def solved_tridiagonal(main, above, below, right):
    bands = np.zeros((3, main.size), dtype=complex)
    bands[0, 1:], bands[1], bands[2, :-1] = above[:-1], main, below[1:]
    return solve_banded((1, 1), bands, right)


def test_note_above_one_and_a_half_skin_depths():
    assert proximity_note(1.49 * DEPTH, FREQUENCY, COPPER) is None
    note = proximity_note(0.5e-3, FREQUENCY, COPPER)
    assert note is not None
    assert "2.8 skin depths thick (0.5 mm against 0.18 mm): above 1.5 its turns react on each other" in note
