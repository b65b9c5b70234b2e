"""The link in time by a general solver of differential equations: flux linkages and charges, a diode with a slope.

Nothing here comes from the package but the values of the parts.
"""

from dataclasses import dataclass
from math import cos, pi

import numpy as np
from scipy.integrate import solve_ivp

FREQUENCY = 134.2e3
PERIOD = 1.0 / FREQUENCY


@dataclass(frozen=True)
class Parts:
    """Values of the parts [SI]; ``diode_slope`` rounds the corner of the rectifier."""

    first: tuple[float, float, float]  # L, R, C of the base
    second: tuple[float, float, float]  # L, R, C of the tag
    mutual: float
    source: tuple[float, float]  # peak voltage, resistance
    tuning: str = "series"
    store: float = 20e-9
    drop: float = 0.0
    chip_current: float = 0.0
    load: float = np.inf
    diode_slope: float = 0.5


def charging(parts: Parts, end: float, times: np.ndarray) -> np.ndarray:
    """Voltage of the store at ``times``, from rest, the source a cosine switched on at 0."""
    l1, r1, c1 = parts.first
    l2, r2, c2 = parts.second
    m, (peak, rs) = parts.mutual, parts.source
    scale = 1.0 / (l1 * l2 - m * m)

    def rates(time: float, state: np.ndarray) -> list[float]:
        flux1, charge1, flux2, v2, stored = state
        i1, i2 = scale * (l2 * flux1 - m * flux2), scale * (l1 * flux2 - m * flux1)
        drive, v1 = peak * cos(2.0 * pi * FREQUENCY * time), charge1 / c1
        diode = max(v2 - stored - parts.drop, 0.0) / parts.diode_slope
        drawn = (parts.chip_current if stored > 0.0 else 0.0) + stored / parts.load
        if parts.tuning == "series":
            left, into = drive - (rs + r1) * i1 - v1, i1
        else:
            left, into = v1 - r1 * i1, (drive - v1) / rs - i1
        return [left, into, -r2 * i2 - v2, (i2 - diode) / c2, (diode - drawn) / parts.store]

    found = solve_ivp(
        rates,
        (0.0, end),
        np.zeros(5),
        method="LSODA",
        rtol=1e-7,
        atol=[1e-12, 1e-15, 1e-12, 1e-7, 1e-8],
        max_step=PERIOD / 20.0,
        t_eval=times,
    )
    assert found.success, found.message
    return found.y[4]


def cycle_means(parts: Parts, times: np.ndarray) -> np.ndarray:
    """Store's voltage averaged over the cycle about each of ``times``."""
    within = (np.arange(16) + 0.5) / 16.0 - 0.5
    asked = (times[:, None] + within * PERIOD).ravel()
    return charging(parts, float(asked[-1]) + PERIOD, asked).reshape(times.size, -1).mean(axis=1)


@dataclass(frozen=True)
class Answer:
    """A telegram in time: swing of the tag, tone, base coil's voltage (peaks, last millisecond), store at its end."""

    amplitude: float
    frequency: float
    base_voltage: float
    stored: float


def replying(parts: Parts, amplitude: float, start: float, duration: float) -> Answer:
    """The tag's circuit swings freely, topped up by a current in phase with its voltage, until ``duration``.

    The current would outdo a loss of 20 kΩ, and fades as the swing passes ``amplitude``: weak enough to leave a sine.
    Its power comes out of the store. The base's stage is shorted through its resistance.
    """
    l1, r1, c1 = parts.first
    l2, r2, c2 = parts.second
    m, (_, rs) = parts.mutual, parts.source
    scale = 1.0 / (l1 * l2 - m * m)

    def currents(state: np.ndarray) -> tuple[float, float]:
        return scale * (l2 * state[0] - m * state[2]), scale * (l1 * state[2] - m * state[0])

    def rates(_: float, state: np.ndarray) -> list[float]:
        i1, i2 = currents(state)
        _, charge1, _, v2, stored = state
        square = v2 * v2 + l2 / c2 * i2 * i2
        added = 5e-5 * v2 * max(1.25 - square / amplitude**2, 0.0)
        drawn = v2 * added / stored + parts.chip_current
        return [-(rs + r1) * i1 - charge1 / c1, i1, -r2 * i2 - v2, (i2 + added) / c2, -drawn / parts.store]

    last = np.linspace(duration - 1e-3, duration, 8001)
    found = solve_ivp(
        rates,
        (0.0, duration),
        [0.0, 0.0, 0.0, amplitude, start],
        method="DOP853",
        rtol=1e-7,
        atol=[1e-13, 1e-16, 1e-13, 1e-8, 1e-9],
        max_step=PERIOD / 4.0,
        t_eval=last,
    )
    assert found.success, found.message
    i1, _ = currents(found.y)
    voltage, swing = -rs * i1 - found.y[1] / c1, found.y[3]
    rising = np.flatnonzero((swing[:-1] < 0.0) & (swing[1:] >= 0.0))
    crossings = last[rising] - swing[rising] * (last[1] - last[0]) / (swing[rising + 1] - swing[rising])
    whole = slice(rising[0], rising[-1])  # whole cycles
    tone = float((crossings.size - 1) / (crossings[-1] - crossings[0]))
    peak, base = (float(np.sqrt(2.0 * np.mean(part[whole] ** 2))) for part in (swing, voltage))
    return Answer(peak, tone, base, float(found.y[4, -1]))


def last_time_above(parts: Parts, state: tuple[float, float], voltage: float, end: float) -> float:
    """When the base coil's voltage was last above ``voltage``; from coil current and capacitor voltage, drive stopped.

    An infinite source resistance is a stage that opens.
    """
    l1, r1, c1 = parts.first
    _, rs = parts.source

    def rates(_: float, now: np.ndarray) -> list[float]:
        current, v1 = now
        if parts.tuning == "series":
            return [-((r1 + rs) * current + v1) / l1, current / c1]
        return [(v1 - r1 * current) / l1, (-v1 / rs - current) / c1]

    times = np.linspace(0.0, end, 20_001)
    found = solve_ivp(rates, (0.0, end), state, method="DOP853", rtol=1e-10, atol=1e-11, t_eval=times)
    assert found.success, found.message
    current, v1 = found.y
    coil = -rs * current - v1 if parts.tuning == "series" else v1
    above = np.flatnonzero(np.abs(coil) > voltage)
    return float(times[above[-1]]) if above.size else 0.0
