"""A reply sustained from the store against the same circuit swinging in time."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from links.budget import LinkBudget, link_budget
from links.circuits import BaseCircuit, TagCircuit
from links.errors import LinkError
from links.reply import Reply, ReplyDrive, Telegram, sustained_reply
from tests.links.time_domain import FREQUENCY, Parts, replying

BASE = BaseCircuit(390e-6, 9.0, source_voltage=6.0, source_resistance=6.0)
TAG = TagCircuit(2e-3, 30.0, load_resistance=25e3)
DRIVE = ReplyDrive(amplitude=3.0, minimum_voltage=3.0, chip_current=5e-6)


def link(mutual: object = 3e-6, base: BaseCircuit = BASE) -> LinkBudget:
    return link_budget(FREQUENCY, base, TAG, np.asarray(mutual))


@pytest.mark.slow
@pytest.mark.parametrize(("tone", "mutual"), [(134.2e3, 3e-6), (124.2e3, 3e-6), (134.2e3, 20e-6)])
def test_a_whole_telegram_in_time(tone: float, mutual: float) -> None:
    telegram = Telegram((tone,))
    tuned_to_the_tone = 1.0 / ((2.0 * pi * tone) ** 2 * 2e-3)
    circuit = Parts(
        first=(390e-6, 9.0, float(BASE.tuning_capacitance(FREQUENCY))),
        second=(2e-3, 30.0, tuned_to_the_tone),
        mutual=mutual,
        source=(0.0, 6.0),
        store=150e-9,
        chip_current=5e-6,
    )
    truth = replying(circuit, 3.0, 6.0, float(telegram.durations[0]))
    assert truth.frequency == pytest.approx(tone, rel=1e-3, abs=0.0)
    drive = replace(DRIVE, amplitude=truth.amplitude, minimum_voltage=truth.stored, telegram=telegram)
    found = sustained_reply(link(mutual), drive)
    # The circuit's own tone is off by some parts in ten thousand, and so is its place on the base's resonance.
    assert float(found.weakest_base_voltage) == pytest.approx(truth.base_voltage, rel=5e-3, abs=0.0)
    # From where the store ends in time, the energy leads back to where it began: 6 V.
    energy = 0.5 * 150e-9 * (6.0**2 - truth.stored**2)
    spent = 0.5 * 150e-9 * (float(found.needed_voltage(150e-9)) ** 2 - truth.stored**2)
    assert spent == pytest.approx(energy, rel=5e-3, abs=0.0)


def test_the_stores_balance_in_closed_form() -> None:
    found = sustained_reply(link(), DRIVE)
    # Nothing but the circuit: ½C(V0² − V²) = P T. Nothing but the chip: C(V0 − V) = I T.
    quiet = replace(found, drive=replace(DRIVE, chip_current=0.0))
    energy = (found.circuit_power * DRIVE.telegram.durations).max()
    assert float(quiet.needed_voltage(150e-9)) == pytest.approx(sqrt(9.0 + 2.0 * energy / 150e-9), rel=1e-9, abs=0.0)
    chip = replace(found, circuit_power=np.zeros_like(found.circuit_power))
    charge = 5e-6 * DRIVE.telegram.durations.max()
    assert float(chip.needed_voltage(150e-9)) == pytest.approx(3.0 + charge / 150e-9, rel=1e-9, abs=0.0)


def test_a_telegram_lasts_as_the_standard_says() -> None:
    # ISO 11785: 112 bits of 16 cycles, 0.1192 ms at 134.2 kHz and 0.1288 ms at 124.2 kHz.
    assert Telegram().tones == (134.2e3, 124.2e3)
    np.testing.assert_allclose(Telegram().durations / 112, [0.1192e-3, 0.1288e-3], rtol=5e-4)


def at_tones(drive_off: str, tuning: str) -> Reply:
    source = 6.0 if tuning == "series" else 500.0
    base = replace(BASE, tuning=tuning, source_resistance=source)
    return sustained_reply(link(1e-6, base), replace(DRIVE, drive_off=drive_off))


def test_the_bases_own_resonance_raises_the_carriers_tone_and_less_the_other() -> None:
    found = at_tones("shorted", "series")
    induced = 2.0 * pi * np.array(found.drive.telegram.tones) * 1e-6 * found.tag_current
    gain = found.base_voltage / induced
    q = 2.0 * pi * FREQUENCY * 390e-6 / 15.0
    # At resonance the capacitor stands at Q times what is induced, the source's resistance beside it.
    assert gain[0] == pytest.approx(np.hypot(q, 6.0 / 15.0), rel=1e-9, abs=0.0)
    # Off it, lossless to first order: X_C/(X_C − X_L) with X_C over X_L the square of 134.2/124.2.
    square = (134.2 / 124.2) ** 2
    assert gain[1] == pytest.approx(square / (square - 1.0), rel=0.05, abs=0.0)
    assert float(found.weakest_base_voltage) == found.base_voltage[1]


def test_an_open_stage_leaves_a_series_base_without_resonance_and_a_parallel_one_with_its_own() -> None:
    series, shorted, parallel = (
        at_tones("open", "series"),
        at_tones("shorted", "parallel"),
        at_tones("open", "parallel"),
    )
    induced = 2.0 * pi * np.array(series.drive.telegram.tones) * 1e-6
    np.testing.assert_allclose(series.base_voltage, induced * series.tag_current, rtol=1e-12)
    q = 2.0 * pi * FREQUENCY * 390e-6 / 9.0
    # V over a coil with C = L/(R² + ω²L²) across it: √(1 + Q²) times what is induced.
    assert parallel.base_voltage[0] / parallel.tag_current[0] == pytest.approx(
        induced[0] * np.hypot(1.0, q), rel=1e-9, abs=0.0
    )
    assert parallel.base_voltage[0] > 1.3 * shorted.base_voltage[0]


def test_a_close_base_takes_its_share_of_the_reply() -> None:
    far, near = sustained_reply(link(1e-9), DRIVE), sustained_reply(link(20e-6), DRIVE)
    alone = 0.5 * far.tag_current[0] ** 2 * 30.0
    assert far.circuit_power[0] == pytest.approx(alone, rel=1e-6, abs=0.0)
    reflected = (2.0 * pi * FREQUENCY * 20e-6) ** 2 / 15.0
    assert near.circuit_power[0] / near.tag_current[0] ** 2 == pytest.approx(
        0.5 * (30.0 + reflected), rel=1e-9, abs=0.0
    )


def test_replies_that_cannot_be() -> None:
    with pytest.raises(LinkError, match=r"^reply amplitude: 0.0 given; it must be greater than 0$"):
        replace(DRIVE, amplitude=0.0)
    with pytest.raises(LinkError, match=r"^minimum voltage of the store: -1.0 given"):
        replace(DRIVE, minimum_voltage=-1.0)
    with pytest.raises(LinkError, match=r"^chip current: -1e-06 given"):
        replace(DRIVE, chip_current=-1e-6)
    with pytest.raises(LinkError, match=r"^drive stage when off: 'cut' given; one of shorted, open is allowed$"):
        replace(DRIVE, drive_off="cut")
    with pytest.raises(LinkError, match=r"^reply tones: none given; at least one is needed$"):
        Telegram(())
    with pytest.raises(LinkError, match=r"^reply tone: 0.0 given"):
        Telegram((0.0,))
    with pytest.raises(LinkError, match=r"^bits of the telegram: 0 given"):
        Telegram(bits=0)
    with pytest.raises(LinkError, match=r"^cycles per bit: 0 given"):
        Telegram(cycles_per_bit=0)
    with pytest.raises(LinkError, match=r"^storage capacitance: 0.0 given"):
        sustained_reply(link(), DRIVE).needed_voltage(0.0)
