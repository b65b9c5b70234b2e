"""The ring-circuit calculation against the thin-sheet integral: they share no formula but the filaments'."""

import numpy as np
import pytest

from fem.closed_forms import winding_mutual_inductance, winding_vector_potential
from fem.plane_layers import reflected_impedance, sheet_reflection, sheet_transmission, transmitted_mutual_inductance
from geometries.section import WindingSection
from tests.reference.ring_circuit import foil_mutual, foil_reflection

FREQUENCY = 134.2e3
CONDUCTANCE = 50.0
COIL = WindingSection(0.0205, 0.0235, 0.0005, 0.0035)
PROBE_RADIUS, PROBE_HEIGHT = 0.003, -0.022


def sheet(alpha):
    return sheet_reflection(alpha, FREQUENCY, CONDUCTANCE)


def test_wide_foil_reflects_like_an_endless_sheet():
    rings = foil_reflection(COIL, 70, 0.0, 0.3, 0.0, CONDUCTANCE, FREQUENCY, 600)
    endless = reflected_impedance(COIL, 70, FREQUENCY, sheet)
    assert abs(rings / endless - 1.0) < 5e-5


def test_ring_width_error_falls_with_its_square():
    values = [foil_reflection(COIL, 70, 0.0, 0.15, 0.0, CONDUCTANCE, FREQUENCY, n) for n in (150, 300, 600)]
    assert 3.0 < abs((values[0] - values[1]) / (values[1] - values[2])) < 6.5


def test_wide_foil_lets_through_like_an_endless_sheet():
    added = foil_mutual(COIL, 70, 0.0, 0.3, 0.0, CONDUCTANCE, FREQUENCY, PROBE_RADIUS, PROBE_HEIGHT, 600)
    # A filament as a winding of vanishing section.
    thin = 1e-6
    probe = WindingSection(PROBE_RADIUS - thin, PROBE_RADIUS + thin, PROBE_HEIGHT - thin, PROBE_HEIGHT + thin)
    air = winding_mutual_inductance(COIL, 70, probe, 1)
    through = transmitted_mutual_inductance(
        COIL, 70, probe, 1, lambda alpha: sheet_transmission(alpha, FREQUENCY, CONDUCTANCE)
    )
    assert abs((air + added) / through - 1.0) < 1e-4
    assert abs(added / air) > 0.3  # else the comparison would say little


def test_foil_height_counts_relative_to_the_coil():
    raised = foil_reflection(COIL.raised(0.01), 70, 0.005, 0.05, 0.01, CONDUCTANCE, FREQUENCY, 50)
    assert raised == pytest.approx(
        foil_reflection(COIL, 70, 0.005, 0.05, 0.0, CONDUCTANCE, FREQUENCY, 50), rel=1e-9, abs=0.0
    )


def test_weak_foil_takes_the_loss_of_the_coil_s_own_field():
    weak = foil_reflection(COIL, 70, 0.01, 0.05, 0.0, 1e-4, FREQUENCY, 200)
    x, weights = np.polynomial.legendre.leggauss(40)
    r = 0.03 + 0.02 * x
    potential = winding_vector_potential(COIL, 70, r, 0.0)
    loss = 0.02 * np.sum(weights * 1e-4 * (2 * np.pi * FREQUENCY * potential) ** 2 * 2 * np.pi * r)
    assert weak.real == pytest.approx(loss, rel=1e-4, abs=0.0)
