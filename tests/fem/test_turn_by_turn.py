"""A winding turn by turn: against a printed ring, Rosa's correction of a current sheet, and a full section."""

from math import log, pi, sqrt

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from fem.closed_forms_windings import winding_self_inductance
from fem.turn_by_turn import turns_inductance
from geometries.section import WindingSection
from geometries.turn_places import turn_places
from geometries.winding_plan import winding_plan

MU0 = 4e-7 * pi


def test_one_ring_of_round_wire() -> None:
    """Rosa & Grover 1912, Bull. NBS 8, after Kirchhoff: a = 25 cm, ρ = 0.05 cm: 654.40496 π nH."""
    found = turns_inductance(np.array([0.25]), np.array([0.0]), 1e-3)
    assert found == pytest.approx(654.40496e-9 * pi, rel=1e-6, abs=0.0)


def test_a_single_layer_is_rosas_current_sheet_less_his_correction() -> None:
    """Rosa, Bull. NBS 2, 1906, 161: L = L_sheet − μ0 a N (A + B); A(d/D = 0.80) 0.3337, B(10 turns) 0.2664."""
    a, turns, pitch = 0.1, 10, 2e-3
    # Lorenz's current sheet: diameter 2a, length N pitch.
    length = turns * pitch
    square = 4.0 * a**2 / (4.0 * a**2 + length**2)
    k = sqrt(square)
    sheet = MU0 * turns**2 * 8.0 * a**3 / (3.0 * length**2)
    sheet *= (2.0 * square - 1.0) / k**3 * ellipe(square) + (1.0 - square) / k**3 * ellipk(square) - 1.0
    found = turns_inductance(np.full(turns, a), pitch * np.arange(turns), 0.8 * pitch)
    assert sheet - found == pytest.approx(MU0 * a * turns * (0.3337 + 0.2664), rel=5e-3, abs=0.0)


def test_a_full_section_of_many_turns_is_the_evenly_filled_one_but_for_round_wire() -> None:
    """Round wire in square cells adds μ0 a N (ln(D/d) + 0.138) (Rosa & Grover 1912, from memory), edges a little."""
    section = WindingSection(35.5e-3, 38.5e-3, 0.0, 3e-3)
    plan = winding_plan(section, 400, 0.15e-3)
    assert (plan.layers, plan.layer_turns, plan.last_layer_turns) == (20, 20, 20)
    found = turns_inductance(*turn_places(plan, section, 0.15e-3, 0.15e-3), 0.12e-3)
    corrected = winding_self_inductance(section, 400) + MU0 * 37e-3 * 400 * (log(0.15 / 0.12) + 0.1381 + 0.0155)
    assert found == pytest.approx(corrected, rel=1e-4, abs=0.0)
    assert found != pytest.approx(winding_self_inductance(section, 400), rel=1e-4, abs=0.0)


def test_turns_lie_in_layers_to_and_fro() -> None:
    section = WindingSection(10e-3, 12e-3, -1e-3, 0.0)
    r, z = turn_places(winding_plan(section, 5, 0.5e-3), section, 0.5e-3, 0.6e-3)
    assert r == pytest.approx([10.25e-3, 10.25e-3, 10.85e-3, 10.85e-3, 11.45e-3], abs=1e-15)
    assert z == pytest.approx([-0.75e-3, -0.25e-3, -0.25e-3, -0.75e-3, -0.75e-3], abs=1e-15)
