"""Readings from a bench drawn over what is computed, and what is left of them."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.arrays import Array
from studies.bench_fit import Compared, Fitted
from studies.bench_model import BenchModel
from studies.bench_port import MeasuredPort
from studies.bench_texts import LABELS
from studies.engineering import tilt_text
from studies.figures_style import HUE, INK, QUIET
from studies.measured_list import AT_PLACE, Reading

POINTS = 60
MARKS = "osD^vP"
DASHES: tuple[tuple[int, tuple[int, ...]], ...] = ((0, ()), (0, (6, 2)), (0, (2, 2)), (0, (8, 2, 2, 2)), (0, (1, 1)))
MOST_LINES = 5
SCALES = {
    "coupling_coefficient": (100.0, "k [%]"),
    "mutual_inductance": (1e6, "M [µH]"),
    "chip_voltage": (1.0, "chip voltage [V peak]"),
    "margin": (1.0, "margin [dB]"),
}

Line = tuple[float, float]
"""Offset and tilt, [m] and [rad]."""


def overlay_picture(model: BenchModel, fitted: Fitted, title: str) -> tuple[Figure, str] | None:
    """Readings with two standard uncertainties over computed curves, a panel a quantity; None without places."""
    shown = [name for name in (*AT_PLACE, "margin") if any(one.quantity == name for one in fitted.compared)]
    if not shown:
        return None
    tall = 0.9 + 3.1 * len(shown)
    figure = Figure(figsize=(8.8, tall))
    for place, name in enumerate(shown):
        bottom = (0.55 + 3.1 * (len(shown) - 1 - place)) / tall
        axes = figure.add_axes((0.085, bottom, 0.885, 2.55 / tall))
        _overlay(axes, model, fitted, name)
        if place == 0:
            axes.set_title(title, loc="left")
        if place == len(shown) - 1:
            axes.set_xlabel("height read off, of the tag coil's centre above the plate [mm]")
    return figure, title


def _overlay(axes: Axes, model: BenchModel, fitted: Fitted, quantity: str) -> None:
    some = [one for one in fitted.compared if one.quantity == quantity]
    lines = list(dict.fromkeys((one.reading.offset, one.reading.tilt) for one in some))
    heights = [one.reading.height for one in some if one.reading.height is not None]
    ends = min(heights), max(heights)
    dense = np.linspace(*ends, POINTS) if ends[1] > ends[0] else np.array([ends[0]])
    factor, label = SCALES[quantity]
    for number, line in enumerate(lines[:MOST_LINES]):
        before, after = (_curve(model, line, dense, quantity, values) for values in ({}, _values(fitted)))
        dash = DASHES[number % len(DASHES)]
        axes.plot(1e3 * dense, factor * after, color=HUE, lw=1.6, ls=dash, label=f"{_line_text(line)}, as found")
        axes.plot(1e3 * dense, factor * before, color=QUIET, lw=0.9, ls=dash)
        _marks(axes, [one for one in some if (one.reading.offset, one.reading.tilt) == line], number, factor)
    axes.plot([], [], color=QUIET, lw=0.9, label="grey: as the study has it")
    if quantity == "margin":
        axes.axhline(0.0, color=INK, lw=0.8)
        axes.plot([], [], "o", color=INK, mfc=INK, ms=5, label="was read")
        axes.plot([], [], "o", color=INK, mfc="none", ms=5, label="was not read")
    axes.set_ylabel(label)
    axes.legend(loc="upper right", facecolor="white", edgecolor="none", framealpha=0.9, fontsize=8.5)
    _open(axes)


def _marks(axes: Axes, some: list[Compared], number: int, factor: float) -> None:
    mark = MARKS[number % len(MARKS)]
    heights = np.array([1e3 * (one.reading.height or 0.0) for one in some])
    if some and some[0].plain:
        for one, height in zip(some, heights, strict=True):
            axes.plot(height, one.after, mark, color=INK, mfc=INK if one.measured else "none", ms=5)
        return
    values = factor * np.array([one.measured for one in some])
    bars = 2.0 * values * np.array([0.0 if one.clamped else one.sigma for one in some])
    axes.errorbar(heights, values, bars, fmt=mark, color=INK, mfc="white", ms=5, lw=1.0, capsize=2.5)


def _values(fitted: Fitted) -> dict[str, float]:
    return {one.unknown.key: one.value for one in fitted.unknowns}


def _curve(model: BenchModel, line: Line, heights: Array, quantity: str, values: dict[str, float]) -> Array:
    read = True if quantity == "margin" else None
    wanted = {} if read else {quantity: 1.0}
    asked = model.asked([Reading(0, float(height), *line, wanted, read) for height in heights])
    found = np.array([one[quantity] for one in asked.predicted(values)])
    clamp = model.candidate.tag.chip.clamp_voltage
    return np.minimum(found, clamp) if quantity == "chip_voltage" and clamp is not None else found


def _line_text(line: Line) -> str:
    offset = "on the axis" if line[0] == 0.0 else f"{line[0] * 1e3:.3g} mm off"
    return offset if line[1] == 0.0 else f"{offset}, tilt {tilt_text(line[1])}"


def residual_picture(fitted: Fitted) -> tuple[Figure, str] | None:
    """Measured over computed in per cent, two standard uncertainties as bars, a row a reading."""
    some = [one for one in fitted.compared if not one.plain and not one.clamped]
    if not some:
        return None
    kinds = list(dict.fromkeys(one.quantity for one in some))
    some.sort(key=lambda one: (kinds.index(one.quantity), one.reading.height or 0.0, one.reading.offset))
    figure = Figure(figsize=(8.8, 3.6))
    axes = figure.add_axes((0.085, 0.24, 0.885, 0.64))
    axes.axhline(0.0, color=INK, lw=0.8)
    start = 0
    for number, kind in enumerate(kinds):
        these = [one for one in some if one.quantity == kind]
        at = np.arange(start, start + len(these))
        values, bars = (100.0 * np.array(v) for v in ([o.residual for o in these], [2.0 * o.sigma for o in these]))
        axes.errorbar(at, values, bars, fmt=MARKS[number % len(MARKS)], color=INK, mfc="white", ms=5, lw=1, capsize=2.5)
        across = axes.get_xaxis_transform()
        along, turn = ("center", 0) if len(kinds) < 4 else ("right", 25)
        axes.text(
            at.mean(), -0.06, LABELS[kind], transform=across, ha=along, va="top", fontsize=8.5, rotation=turn,
            rotation_mode="anchor", color=INK,
        )  # fmt: skip
        start += len(these) + 1
    axes.set_xticks([])
    axes.set_ylabel("measured over computed [%]")
    _open(axes)
    rms = float(np.sqrt(np.mean([one.residual**2 for one in some])))
    title = f"What is left: {100 * rms:.2g} % rms of {len(some)} readings"
    axes.set_title(title, loc="left")
    return figure, title


def port_picture(port: MeasuredPort, frequency: float, computed: dict[str, float]) -> tuple[Figure, str]:
    """L, R and k of a measured one-port or two-port against frequency; what is computed at the carrier as a cross."""
    k = port.coupling_coefficient
    rows = [("base coil", 0)] + ([("tag", 1)] if k is not None else [])
    panels = len(rows) * 2 + (k is not None)
    figure = Figure(figsize=(8.8, 0.9 + 1.7 * panels))
    tall = 0.9 + 1.7 * panels
    drawn = []
    for name, side in rows:
        key = "base" if side == 0 else "tag"
        drawn.append((1e6 * port.inductances[side], f"L, {name} [µH]", 1e6, f"{key}_inductance"))
        drawn.append((port.resistances[side], f"R, {name} [Ω]", 1.0, f"{key}_resistance"))
    if k is not None:
        drawn.append((100.0 * k, "k [%]", 100.0, "coupling_coefficient"))
    for place, (values, label, factor, name) in enumerate(drawn):
        axes = figure.add_axes((0.1, (0.55 + 1.7 * (panels - 1 - place)) / tall, 0.87, 1.3 / tall))
        axes.plot(1e-3 * port.frequencies, values, color=HUE, lw=1.5)
        axes.axvline(1e-3 * frequency, color=QUIET, lw=0.9, ls=(0, (4, 2)))
        if name in computed:
            axes.plot(1e-3 * frequency, factor * computed[name], "x", color=INK, ms=7, mew=1.6)
        axes.set_ylabel(label)
        _open(axes)
        if place == panels - 1:
            axes.set_xlabel("frequency [kHz]; dashed: the carrier; cross: computed as found")
    title = f"{port.file}: L, R{' and k' if k is not None else ''} against frequency"
    figure.suptitle(title, x=0.02, y=0.995, ha="left", fontsize=10.5, fontweight="bold")
    return figure, title


def _open(axes: Axes) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
