"""Dielectrics: every name is found, every law holds at its reference, and drifts as its code or its curve says."""

import pickle
from itertools import pairwise

import pytest

from geometries.dielectrics import (
    Dielectric,
    UnknownDielectric,
    capacitance,
    capacitance_range,
    dielectric_names,
    find_dielectric,
)
from geometries.errors import GeometryError


@pytest.mark.parametrize("name", dielectric_names())
def test_the_nominal_value_holds_at_the_reference_and_the_band_holds_the_course(name: str) -> None:
    dielectric = find_dielectric(name)
    assert dielectric.source
    assert capacitance_range(1e-9, dielectric, dielectric.reference_temperature) == (1e-9, 1e-9, 1e-9)
    low, high = dielectric.temperature_range
    assert low < 20.0 < high
    for step in range(41):
        typical, least, greatest = capacitance_range(1e-9, dielectric, low + (high - low) * step / 40)
        assert 0.0 < least <= typical <= greatest
    for before, after in pairwise(dielectric.curve):
        assert before[0] < after[0]


def test_class_1_ceramic_stays_within_30_parts_per_million_per_kelvin() -> None:
    """EIA letter code C0G: 0 ± 30 ppm/K from 25 °C."""
    typical, least, greatest = capacitance_range(3.6e-9, find_dielectric("C0G"), 125.0)
    assert typical == 3.6e-9
    assert greatest / 3.6e-9 - 1.0 == pytest.approx(3e-3, rel=1e-9, abs=0.0)
    assert 1.0 - least / 3.6e-9 == pytest.approx(3e-3, rel=1e-9, abs=0.0)


def test_class_2_ceramic_stays_within_15_percent() -> None:
    """EIA letter codes X7R, to 125 °C, and X5R, to 85 °C: ± 15 % of the value at 25 °C."""
    for name, high in (("X7R", 125.0), ("X5R", 85.0)):
        dielectric = find_dielectric(name)
        assert dielectric.temperature_range == (-55.0, high)
        typical, least, greatest = capacitance_range(1.0, dielectric, high)
        assert (least, greatest) == (0.85, 1.15)
        assert typical < 1.0


def test_films_drift_no_more_than_a_maker_prints() -> None:
    """A maker's table of dielectrics: ± 2.5 % (polypropylene), 5 % (polyester), 1.5 % (sulphide) over their ranges."""
    for name, most in (("polypropylene", 0.025), ("polyester", 0.05), ("polyphenylene sulphide", 0.015)):
        dielectric = find_dielectric(name)
        for temperature in dielectric.temperature_range:
            assert abs(capacitance(1.0, dielectric, temperature) - 1.0) <= most


def test_a_line_and_a_curve_between_their_points() -> None:
    line = Dielectric("line", 20.0, (-50.0, 100.0), "", temperature_coefficient=-200e-6, coefficient_band=50e-6)
    assert capacitance_range(2.0, line, 70.0) == pytest.approx((1.98, 1.975, 1.985), rel=1e-12, abs=0.0)
    assert capacitance_range(2.0, line, -30.0) == pytest.approx((2.02, 2.015, 2.025), rel=1e-12, abs=0.0)
    curve = Dielectric("curve", 20.0, (0.0, 100.0), "", curve=((0.0, 0.9), (20.0, 1.0), (100.0, 0.6)), band=0.4)
    found = [capacitance(1.0, curve, temperature) for temperature in (-9.0, 5.0, 20.0, 40.0, 100.0, 300.0)]
    assert found == pytest.approx([0.9, 0.925, 1.0, 0.9, 0.6, 0.6], rel=1e-12, abs=0.0)


def test_names_and_other_names() -> None:
    assert find_dielectric(" np0 ") is find_dielectric("C0G")
    assert "NP0" not in dielectric_names()
    with pytest.raises(UnknownDielectric, match="no dielectric is called 'COG'; best matches are 'C0G'") as caught:
        find_dielectric("COG")
    again = pickle.loads(pickle.dumps(caught.value))
    assert (str(again), again.matches) == (str(caught.value), ("C0G",))
    with pytest.raises(UnknownDielectric, match=r"allowed are 'C0G', 'U2J', .*'mica'"):
        find_dielectric("paper")


def test_a_law_that_runs_to_nothing_is_refused() -> None:
    with pytest.raises(GeometryError, match="U2J: its law of capacitance gives nothing positive at 1500 °C"):
        capacitance(1e-9, find_dielectric("U2J"), 1500.0)
