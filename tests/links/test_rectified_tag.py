"""Steps from switching to switching: the same in one piece or in many, none overlooked."""

from dataclasses import replace

import numpy as np
import pytest

from links.budget import link_budget
from links.circuits import BaseCircuit, TagCircuit
from links.errors import LinkError
from links.rectified_tag import TAG_CURRENT, TAG_VOLTAGE, Moment, RectifiedTag, Store, advanced, rectified_tag

FREQUENCY = 134.2e3
PERIOD = 1.0 / FREQUENCY
BASE = BaseCircuit(390e-6, 9.0, source_voltage=6.0, source_resistance=6.0)
TAG = TagCircuit(2e-3, 30.0, load_resistance=25e3)


def circuits(store: Store, mutual: object = 3e-6) -> RectifiedTag:
    return rectified_tag(link_budget(FREQUENCY, BASE, TAG, np.asarray(mutual)), store)


def in_pieces(tag: RectifiedTag, moment: Moment, pieces: int) -> Moment:
    for _ in range(pieces):
        moment = advanced(tag, moment, PERIOD / pieces)
    return moment


def settled(tag: RectifiedTag, cycles: int) -> Moment:
    moment = tag.at_rest()
    for _ in range(cycles):
        moment = advanced(tag, moment, PERIOD)
    return moment


@pytest.mark.parametrize("cycles", [0, 3, 30])
def test_a_cycle_in_one_piece_is_a_cycle_in_many(cycles: int) -> None:
    tag = circuits(Store(5e-9, diode_drop=0.3), np.array([0.5e-6, 3e-6, 100e-6]))
    start = settled(tag, cycles)
    whole, parted = advanced(tag, start, PERIOD), in_pieces(tag, start, 13)
    np.testing.assert_allclose(whole.state, parted.state, rtol=1e-7, atol=1e-12)
    np.testing.assert_allclose(whole.store, parted.store, rtol=1e-9, atol=1e-15)
    np.testing.assert_array_equal(whole.conducts, parted.conducts)


@pytest.mark.parametrize("below", [1e-5, 1e-4, 1e-3])
def test_a_peak_between_two_looks_still_charges(below: float) -> None:
    tag = circuits(Store(5e-9))
    forced = tag.shapes[0, 0, :, 4]
    peak = np.abs(forced[TAG_VOLTAGE])
    gains = []
    for shift in np.linspace(0.0, 1.0, 9) / 24.0:  # wherever the looks fall
        # In the forced state, at its least voltage and a little later; the store just under the coming peak.
        time = ((np.pi - np.angle(forced[TAG_VOLTAGE])) / (2.0 * np.pi) + shift) * PERIOD
        state = (forced * np.exp(2j * np.pi * FREQUENCY * time)).real[None, :]
        start = Moment(np.array([time]), state, np.array([peak * (1.0 - below)]), np.array([False]))
        after = advanced(tag, start, PERIOD)
        assert not after.conducts[0]
        gains.append(float(after.store[0] - start.store[0]))
    assert min(gains) > 0.0
    assert max(gains) == pytest.approx(min(gains), rel=1e-4, abs=0.0)


def test_the_diode_holds_the_voltage_and_passes_current_one_way() -> None:
    tag = circuits(Store(5e-9, diode_drop=0.3))
    moment, conducted = settled(tag, 20), 0
    for _ in range(200):
        before, moment = moment, advanced(tag, moment, PERIOD / 50.0)
        over = moment.state[:, TAG_VOLTAGE] - 0.3 - moment.store
        if moment.conducts[0]:
            conducted += 1
            assert over[0] == pytest.approx(0.0, abs=1e-9)
            assert moment.state[0, TAG_CURRENT] >= 0.0
        else:
            assert over[0] <= 1e-9
        assert moment.store[0] >= before.store[0] - 1e-12
    assert 5 < conducted < 100


def test_charge_lost_to_the_chip() -> None:
    store = Store(10e-9, chip_current=1e-6, load_resistance=1e6)
    quiet = circuits(store, 0.0)
    start = replace_store(quiet.at_rest(), 2.0)
    # Q = C V falls by the current and by V/R: both slow against a cycle.
    lost = (1e-6 + 2.0 / 1e6) * PERIOD / 10e-9
    assert float(start.store[0] - advanced(quiet, start, PERIOD).store[0]) == pytest.approx(lost, rel=1e-3, abs=0.0)
    assert float(store.drained(np.array(1e-6), np.array(1.0))) == 0.0


def replace_store(moment: Moment, voltage: float) -> Moment:
    return replace(moment, store=np.full_like(moment.store, voltage))


def test_stores_that_cannot_be() -> None:
    with pytest.raises(LinkError, match=r"^storage capacitance: 0.0 given; it must be greater than 0$"):
        Store(0.0)
    with pytest.raises(LinkError, match=r"^diode drop: -0.1 given; it must be finite and at least 0$"):
        Store(1e-9, diode_drop=-0.1)
    with pytest.raises(LinkError, match=r"^chip current: -1e-06 given"):
        Store(1e-9, chip_current=-1e-6)
    with pytest.raises(LinkError, match=r"^clamp voltage: 0.0 given"):
        Store(1e-9, clamp_voltage=0.0)
    with pytest.raises(
        LinkError,
        match=r"^storage capacitance: 1e-09 F given; its load empties it in 1.34 cycles, at least 50 are allowed",
    ):
        circuits(Store(1e-9, load_resistance=10e3))
    with pytest.raises(LinkError, match=r"^mutual inductance: a coupling coefficient of 1 or more given"):
        circuits(Store(1e-9), 1e-3)
