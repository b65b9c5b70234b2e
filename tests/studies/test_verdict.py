"""Requirements held against quantities."""

import pytest

from studies.specification import Limit, Place, Requirement
from studies.verdict import verdict

GOT = {"margin": 2.0, "read_height": 28e-3, "coil_voltage": 300.0, "current": 0.15}


def test_each_bound_is_held_and_the_worst_miss_comes_first() -> None:
    require = Requirement(
        at_least=(Limit("margin", 3.0), Limit("read_height", 56e-3)), at_most=(Limit("coil_voltage", 250.0),)
    )
    found = verdict(require, GOT, {"margin": "25 mm up"})
    assert not found.passed
    assert [check.quantity for check in found.failures] == ["read_height", "coil_voltage", "margin"]
    assert found.failures[0].shortfall == pytest.approx(0.5)
    assert found.failures[-1].sentence == "margin 2 dB, at least 3 dB required, 1 dB short (25 mm up)"


def test_a_value_at_its_bound_passes_whatever_rounding_does() -> None:
    require = Requirement(at_most=(Limit("current", 0.15),))
    assert verdict(require, GOT | {"current": 0.15 * (1.0 + 1e-15)}, {}).passed
    assert not verdict(require, GOT | {"current": 0.15 * (1.0 + 1e-6)}, {}).passed


def test_required_places_ask_for_a_margin_of_0_decibels() -> None:
    require = Requirement(places=(Place(25e-3, 0.0, 0.0),))
    assert verdict(require, GOT, {}).passed
    assert not verdict(require, GOT | {"margin": -0.1}, {}).passed


def test_a_study_that_requires_nothing_asks_that_the_tag_be_read() -> None:
    assert verdict(Requirement(), GOT, {}).passed
    found = verdict(Requirement(), GOT | {"read_height": None}, {})
    assert not found.passed
    assert found.failures[0].sentence == "read height none, at least 0 mm required"
