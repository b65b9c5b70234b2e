"""What the surroundings answer to many rings at once, against the solver that takes one given field after another."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fem.elements import Elements
from fem.model import stack_model
from fem.reaction_field import added_linkages
from fem.ring_reactions import RingReactions
from fem.sources import induced_rings, unit_ring
from fem.system import FieldOf, System
from geometries.meshing import section_mesh
from geometries.plan import reaction_plan
from geometries.stack import Stack
from tests.fem.cases import COIL, FREQUENCY
from tests.fem.test_reaction_field import HEATER, SURROUNDINGS

PLACES = np.array([[0.0205, 0.0235, 0.011, 0.0222], [-0.0055, -0.008, -0.0072, -0.0065]])
JOINED = replace(HEATER, kind="shorted spiral")
CASES = {
    **{name: SURROUNDINGS[name] for name in (
        "pan", "weak foil", "ribbon", "closed rings", "ferrite disc", "lossy ferrite disc", "magnetic steel plate",
        "heat block round the coil", "spiral with joined ends", "everything",
    )},
    "open spiral": Stack((replace(HEATER, kind="open spiral"),)),
    "two joined spirals": Stack((JOINED, replace(JOINED, name="second", top=-0.010, termination_resistance=0.2))),
}  # fmt: skip


def ring_field(radius: float, height: float) -> FieldOf:
    return lambda r, z: unit_ring(np.asarray(radius), np.asarray(height), r, z)


FIELDS = tuple(ring_field(*place) for place in PLACES.T)


@cache
def solved(name: str):
    """The rings together, and loads and answers of each by itself, on one coarse mesh of quadratic elements."""
    stack = CASES[name]
    system = System(Elements(section_mesh(reaction_plan(stack, (COIL,), FREQUENCY)), 2), stack_model(stack, FREQUENCY))
    rings = RingReactions(system, PLACES)
    loads = np.stack([system.reaction_load(field) for field in FIELDS], axis=1)
    return rings, loads, system.solve(loads)


def close(found, expected, tolerance=1e-9):
    """Within a share of the largest of the expected."""
    return np.abs(np.asarray(found) - expected).max() <= tolerance * np.abs(expected).max()


@pytest.mark.parametrize("name", CASES)
def test_loads_are_those_of_each_ring_by_itself(name):
    rings, loads, _ = solved(name)
    assert np.abs(loads.imag).max() > 0.0 or name == "ferrite disc"
    for part in (np.real, np.imag):
        assert close(part(rings.loads), part(loads), 1e-9 if np.any(part(loads)) else 0.0)


@pytest.mark.parametrize("name", CASES)
def test_added_linkages_are_those_of_each_two_fields(name):
    rings, _, answers = solved(name)
    expected = added_linkages(rings.system, FIELDS, answers)
    found = rings.added(answers)
    for part in (np.real, np.imag):
        if np.any(np.abs(part(expected)) > 1e-12 * np.abs(expected).max()):
            assert close(part(found), part(expected), 1e-8)
    assert found == pytest.approx(found.T, rel=1e-7, abs=0.0)
    assert np.all(found.imag.diagonal() <= 1e-12 * np.abs(found).max())  # what is reflected is a loss


@pytest.mark.parametrize("name", CASES)
def test_sources_are_those_of_the_whole_field_of_each_ring(name):
    rings, _, answers = solved(name)
    together = rings.sources(answers)
    assert len(together) == len(induced_rings(rings.system, answers[:, 0]))
    for number, (radius, height) in enumerate(PLACES.T):
        alone = RingReactions(rings.system, np.array([[radius], [height]])).sources(answers[:, number, None])
        # The elements' own part by the solver for one field, the given one apart.
        elements_part = induced_rings(rings.system, answers[:, number])
        given_part = RingReactions(rings.system, np.array([[radius], [height]])).sources(0.0 * answers[:, number, None])
        for many, one, own, given in zip(together, alone, elements_part, given_part, strict=True):
            assert (many.name, many.top) == (own.name, own.top)
            assert np.array_equal(many.weight, own.weight)
            for part in ("current", "radial", "axial"):
                column = getattr(many, part)[:, number]
                assert close(column, getattr(one, part)[:, 0])
                assert close(column, getattr(own, part) + getattr(given, part)[:, 0])


@pytest.mark.parametrize("name", CASES)
def test_sources_link_a_probe_as_reciprocity_says(name):
    # ΔM with a ring above, by the flux of the sources through it and by the form: what is left is the elements' error.
    rings, _, answers = solved(name)
    r, z = np.array([0.012]), np.array([0.025])
    above = RingReactions(rings.system, np.array([r, z]))
    both = RingReactions(rings.system, np.concatenate([PLACES, [r, z]], axis=1))
    added = both.added(np.concatenate([answers, rings.system.solve(above.loads)], axis=1))[-1, :-1]
    potential = sum(one.potential_over_radius(r, z) for one in rings.sources(answers))[0] * r
    assert close(2.0 * np.pi * r * potential, added, 1e-3)


def test_a_joined_spiral_carries_one_current():
    rings, _, answers = solved("two joined spirals")
    assert len(rings.system.loops) == 2
    currents = [one.current for one in rings.sources(answers)]
    for current, loop in zip(currents, rings.system.loops, strict=True):
        assert np.ptp(current.real, axis=0).max() <= 1e-9 * np.abs(current).max()
        # Faraday's law round the whole spiral: Z I = −jωΦ, I = K/n.
        density = loop.turn_density
        linked = 2.0 * np.pi * (loop.load @ answers + [loop.given_linkage(f(*loop.lines.positions)[0]) for f in FIELDS])
        terms = rings.system.model.sheets[loop.name].loop
        assert terms is not None
        omega = rings.system.model.angular_frequency
        assert close(current[0] / density * terms.impedance, -1j * omega * linked)
    assert not close(currents[0][0], currents[1][0], 0.1)


def test_one_ring_more_changes_nothing_of_the_others():
    rings, _, _ = solved("everything")
    fewer = RingReactions(rings.system, PLACES[:, :2])
    assert close(fewer.loads, rings.loads[:, :2], 1e-12)
