"""The coupled circuits against the same circuits written down node by node and solved as a matrix."""

from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from links.circuits import BaseCircuit, TagCircuit
from links.errors import LinkError
from links.network import coupled_network


def between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


@st.composite
def links(draw: st.DrawFn, tuning: str) -> tuple[float, BaseCircuit, TagCircuit, complex]:
    """A random link: coupling up to 0.6 with a lossy part, capacitors from half to twice their resonant value."""
    frequency = draw(between(100e3, 150e3))
    base_inductance, tag_inductance = draw(between(50e-6, 2e-3)), draw(between(0.2e-3, 20e-3))
    base_resistance, tag_resistance = draw(between(0.5, 60.0)), draw(between(1.0, 300.0))
    omega = 2.0 * pi * frequency
    base = BaseCircuit(
        base_inductance,
        base_resistance,
        source_voltage=draw(between(0.5, 30.0)),
        source_resistance=draw(between(0.1, 500.0)),
        tuning=tuning,
        capacitance=draw(between(0.5, 2.0)) / (omega**2 * base_inductance),
    )
    tag = TagCircuit(
        tag_inductance,
        tag_resistance,
        load_resistance=draw(between(500.0, 1e6)),
        capacitance=draw(between(0.5, 2.0)) / (omega**2 * tag_inductance),
    )
    coupling = draw(between(-0.6, 0.6)) * (1.0 - 1j * draw(between(0.0, 0.02)))
    return frequency, base, tag, coupling * np.sqrt(base_inductance * tag_inductance)


def nodal_solution(frequency: float, base: BaseCircuit, tag: TagCircuit, mutual: complex) -> np.ndarray:
    """I1, Is, I2, V1, Vchip from one row an element and a node, nothing eliminated by hand.

    I2 flows in the tag loop and through chip and capacitor; the chip voltage is counted against it.
    """
    s = 2j * pi * frequency
    i1, source, i2, coil, chip = range(5)
    matrix, right = np.zeros((5, 5), complex), np.zeros(5, complex)
    matrix[0, [i1, i2, coil]] = base.resistance + s * base.inductance, s * mutual, -1.0  # base coil
    matrix[1, [i2, i1, chip]] = tag.resistance + s * tag.inductance, s * mutual, -1.0  # tag coil
    matrix[2, [i2, chip]] = 1.0, 1.0 / tag.load_resistance + s * tag.capacitance  # node of the chip
    if base.tuning == "series":
        matrix[3, [source, coil]] = base.source_resistance + 1.0 / (s * base.capacitance), 1.0  # source mesh
        matrix[4, [source, i1]] = 1.0, -1.0
    else:
        matrix[3, [source, coil]] = base.source_resistance, 1.0  # source mesh
        matrix[4, [source, i1, coil]] = 1.0, -1.0, -s * base.capacitance  # node of the coil
    right[3] = base.source_voltage
    return np.linalg.solve(matrix, right)


@pytest.mark.parametrize("tuning", ["series", "parallel"])
@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_agrees_with_nodal_analysis(tuning: str, data: st.DataObject) -> None:
    frequency, base, tag, mutual = data.draw(links(tuning))
    network = coupled_network(frequency, base, tag, mutual)
    expected = nodal_solution(frequency, base, tag, mutual)
    found = np.array(
        [network.base_current, network.source_current, network.tag_current, network.coil_voltage, network.chip_voltage]
    )
    # Near-cancelling reactances lose a few digits in both solutions; relative to the largest current, voltage.
    assert np.max(np.abs(found - expected)[:3]) < 1e-10 * np.max(np.abs(expected[:3]))
    assert np.max(np.abs(found - expected)[3:]) < 1e-10 * np.max(np.abs(expected[3:]))


@settings(max_examples=50, deadline=None)
@given(case=links("parallel"))
def test_parallel_source_current_is_what_its_resistance_drops(
    case: tuple[float, BaseCircuit, TagCircuit, complex],
) -> None:
    frequency, base, tag, mutual = case
    network = coupled_network(frequency, base, tag, mutual)
    dropped = (base.source_voltage - network.coil_voltage) / base.source_resistance
    scale = base.source_voltage / base.source_resistance
    assert abs(dropped - network.source_current) < 1e-10 * max(scale, abs(network.source_current))


@settings(max_examples=50, deadline=None)
@given(case=links("parallel"))
def test_a_parallel_coil_never_sees_more_than_the_source(case: tuple[float, BaseCircuit, TagCircuit, complex]) -> None:
    frequency, base, tag, mutual = case
    real_mutual = mutual.real  # a lossy part on its own may stand for no passive body
    network = coupled_network(frequency, base, tag, real_mutual)
    assert abs(network.coil_voltage) <= base.source_voltage * (1.0 + 1e-12)


def test_a_source_without_resistance_holds_a_parallel_coil() -> None:
    base = BaseCircuit(400e-6, 5.0, source_voltage=6.0, source_resistance=0.0, tuning="parallel")
    network = coupled_network(134.2e3, base, TagCircuit(2e-3, 30.0, 25e3), 3e-6)
    assert abs(network.coil_voltage - 6.0) < 1e-12
    assert np.isfinite(network.source_current)


def test_an_exactly_tuned_parallel_circuit_draws_current_in_phase() -> None:
    base = BaseCircuit(400e-6, 5.0, source_voltage=6.0, source_resistance=50.0, tuning="parallel")
    network = coupled_network(134.2e3, base, TagCircuit(2e-3, 30.0, 25e3), 0.0)
    reactance = 2.0 * pi * 134.2e3 * 400e-6
    assert network.source_current == pytest.approx(6.0 / (50.0 + (25.0 + reactance**2) / 5.0), rel=1e-12, abs=0.0)


def test_places_are_independent_and_keep_their_shape() -> None:
    base = BaseCircuit(400e-6, 5.0, source_voltage=6.0, source_resistance=10.0)
    heights = np.array([2.0e-3, 2.1e-3, 2.2e-3])
    mutual = np.array([[0.0, 1e-6], [5e-6, 1e-6j], [-2e-5, 1e-4]])
    network = coupled_network(134.2e3, base, TagCircuit(heights[:, None], 30.0, 25e3, 700e-12), mutual)
    assert network.chip_voltage.shape == network.reflected_impedance.shape == (3, 2)
    for place in np.ndindex(3, 2):
        alone = coupled_network(134.2e3, base, TagCircuit(heights[place[0]], 30.0, 25e3, 700e-12), mutual[place])
        assert network.chip_voltage[place] == pytest.approx(complex(alone.chip_voltage), rel=1e-13, abs=1e-300)


def test_only_the_sign_of_the_tag_current_follows_the_sign_of_the_mutual_inductance() -> None:
    base, tag = BaseCircuit(400e-6, 5.0, 6.0, 10.0), TagCircuit(2e-3, 30.0, 25e3)
    up, down = coupled_network(134.2e3, base, tag, 5e-6), coupled_network(134.2e3, base, tag, -5e-6)
    assert up.base_current == down.base_current
    assert up.tag_current == -down.tag_current


def test_a_frequency_of_nothing_is_refused() -> None:
    with pytest.raises(LinkError, match=r"^frequency: 0.0 given; it must be greater than 0$"):
        coupled_network(0.0, BaseCircuit(400e-6, 5.0, 6.0, 10.0), TagCircuit(2e-3, 30.0, 25e3), 0.0)
