"""Which of charge, reply and silence limits a half-duplex exchange, and by how much."""

from dataclasses import replace

import numpy as np
import pytest

from links.budget import LinkBudget, link_budget
from links.charging import Charge, charge
from links.circuits import BaseCircuit, TagCircuit
from links.dead_time import RingDown, ring_down
from links.errors import LinkError
from links.half_duplex import HalfDuplexMargins, Listening, half_duplex_margins, store_notes
from links.rectified_tag import Store
from links.reply import Reply, ReplyDrive, sustained_reply

FREQUENCY = 134.2e3
BASE = BaseCircuit(390e-6, 9.0, source_voltage=6.0, source_resistance=6.0)
TAG = TagCircuit(2e-3, 30.0, load_resistance=25e3)
STORE = Store(150e-9, diode_drop=0.3, chip_current=2e-6)
DRIVE = ReplyDrive(amplitude=3.0, minimum_voltage=3.0, chip_current=5e-6)
LISTENING = Listening(pause=3e-3, minimum_voltage=1e-3)


def link(mutual: object = 1e-6) -> LinkBudget:
    return link_budget(FREQUENCY, BASE, TAG, np.asarray(mutual))


def stood_at(voltage: object, rate: float = 10.0) -> Charge:
    values = np.asarray(voltage, dtype=np.float64)
    return Charge(35e-3, values, values, np.full_like(values, rate))


def margins(
    charged: Charge | None = None,
    store: Store = STORE,
    reply: Reply | None = None,
    ringing: RingDown | None = None,
    listening: Listening = LISTENING,
) -> HalfDuplexMargins:
    return half_duplex_margins(
        charged or stood_at(8.0),
        store,
        reply or sustained_reply(link(), DRIVE),
        ringing or ring_down(link()),
        listening,
    )


def test_each_margin_is_the_distance_to_its_own_limit() -> None:
    needed = float(sustained_reply(link(), DRIVE).needed_voltage(150e-9))
    found = margins(stood_at(2.0 * needed))
    assert float(found.needed_voltage) == needed
    assert float(found.power) == pytest.approx(6.0206, abs=1e-4)
    assert float(found.spare_energy) == pytest.approx(0.5 * 150e-9 * 3.0 * needed**2, rel=1e-12, abs=0.0)
    heard = float(sustained_reply(link(), DRIVE).weakest_base_voltage)
    assert float(margins(listening=Listening(3e-3, 0.1 * heard)).reply) == pytest.approx(20.0, abs=1e-9)
    dead = float(ring_down(link()).time_to(1e-3))
    assert float(margins(listening=Listening(dead, 1e-3)).dead_time) == pytest.approx(0.0, abs=1e-9)


def test_the_smallest_is_the_margin_and_is_named() -> None:
    # Hardly charged at the first place, hardly heard at the second (a tag far off), short of silence at the third.
    reply = sustained_reply(link(np.array([1e-6, 1e-10, 1e-6])), DRIVE)
    dead = float(ring_down(link()).time_to(1e-3))
    found = margins(stood_at([3.5, 8.0, 8.0]), reply=reply, listening=Listening(1.01 * dead, 1e-3))
    assert found.limited_by.tolist() == ["power", "reply", "dead time"]
    np.testing.assert_array_equal(found.margin, [found.power[0], found.reply[1], found.dead_time[2]])
    assert found.margin[0] < 0.0 < found.margin[2]
    assert found.spare_energy[0] < 0.0 < found.spare_energy[1]


def test_the_unclamped_voltage_counts_unless_the_clamp_lies_under_the_need() -> None:
    def clamped(at: float) -> HalfDuplexMargins:
        charged = Charge(35e-3, np.array(20.0), np.minimum(20.0, at), np.array(0.0))
        return margins(charged, replace(STORE, clamp_voltage=at))

    needed = float(clamped(8.0).needed_voltage)
    assert float(clamped(8.0).power) == pytest.approx(20.0 * np.log10(20.0 / needed), abs=1e-9)
    assert float(clamped(8.0).spare_energy) == pytest.approx(0.5 * 150e-9 * (64.0 - needed**2), rel=1e-12, abs=0.0)
    assert float(clamped(3.1).power) == pytest.approx(20.0 * np.log10(3.1 / needed), abs=1e-9)
    assert float(clamped(3.1).margin) < 0.0
    assert float(clamped(3.1).spare_energy) < 0.0


def test_a_clamp_under_the_need_is_told_with_its_number() -> None:
    store = replace(STORE, clamp_voltage=3.1)
    charged = stood_at([8.0, 8.0])
    (note,) = store_notes(charged, store, margins(charged, store))
    assert note.startswith("The clamp holds the store at 3.1 V, under the 4.")
    assert not store_notes(charged, STORE, margins(charged))


def test_a_store_that_cannot_get_there_is_told_with_its_number() -> None:
    still = stood_at([2.0, 8.0, 3.0], rate=0.01)
    (note,) = store_notes(still, STORE, margins(still))
    assert note.startswith(
        "At 2 of 3 places the store has all but stopped rising, short of what the reply needs (lowest 2 V)"
    )
    rising = stood_at([2.0, 8.0, 3.0])
    assert not store_notes(rising, STORE, margins(rising))


def test_the_whole_exchange_over_distance() -> None:
    budget = link(np.array([0.0, 0.2e-6, 2e-6]))
    store = replace(STORE, capacitance=20e-9)
    charged = charge(budget, store, 5e-3)
    found = half_duplex_margins(charged, store, sustained_reply(budget, DRIVE), ring_down(budget), LISTENING)
    assert found.margin[0] == -np.inf
    assert np.all(np.diff(found.power) > 0.0)
    assert np.all(np.diff(found.reply) > 0.0)
    np.testing.assert_allclose(found.dead_time, found.dead_time[0], atol=0.5)


def test_listening_that_cannot_be() -> None:
    with pytest.raises(LinkError, match=r"^pause: 0.0 given; it must be greater than 0$"):
        Listening(0.0, 1e-3)
    with pytest.raises(LinkError, match=r"^minimum voltage of the receiver: -1.0 given"):
        Listening(3e-3, -1.0)
