"""Pictures of the guide, each with its finding in a sentence."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from fem.arrays import Array
from studies.engineering import engineering
from studies.figures_plane import bound_text
from studies.figures_style import DASHES, HUE, INK, QUIET, TINTS, WIDTH, Drawn, bare, plain_ticks, titled, watts
from studies.guide import Curve, Guide, crossing

ALIKE = 1.05
"""Greatest over least voltage along a curve up to which it is told as one."""

NAMES = {
    "ampere-turns": "same ampere-turns",
    "power": "same input power",
    "source voltage": "same source voltage",
    "inductance and current": "same inductance and current",
}


def diameter_picture(found: Guide) -> Drawn:
    """Reading height against diameter, each curve with something kept; closed-form optima beside the computed ones."""
    figure = Figure(figsize=(WIDTH, 4.8))
    axes = figure.add_axes((0.08, 0.12, 0.66, 0.74))
    for curve, dashes in zip(found.by_diameter, DASHES, strict=True):
        colour = HUE if curve.name == "inductance and current" else INK
        axes.plot(curve.at * 1e3, curve.axis * 1e3, color=colour, dashes=dashes, linewidth=1.8)
        _end_text(axes, curve.axis[-1] * 1e3, NAMES[curve.name], colour)
        best, ray = curve.best, crossing(curve, found.middle)
        if best is not None:
            axes.plot([best[0] * 1e3], [best[1] * 1e3], "o", color=colour, zorder=5)
        if ray is not None:
            axes.plot([ray[0] * 1e3], [ray[1] * 1e3], "x", color=colour, markersize=9, zorder=5)
    axes.plot([], [], "o", color=INK, label="best, computed")
    axes.plot([], [], "x", color=INK, markersize=9, label="best by closed form, coil and tag alone")
    axes.legend(loc="upper left", frameon=False, fontsize=9.0)
    axes.set_xscale("log")
    plain_ticks(axes.xaxis, found.by_diameter[0].at * 1e3)
    axes.set_xlabel("mean diameter of the base coil [mm]")
    axes.set_ylabel("read height on the axis [mm]")
    bare(axes)
    _spread_texts(axes)
    return titled(figure, diameter_finding(found))


def nothing_read(found: Guide) -> dict[str, str]:
    """Pictures with no reading height in them, by their key, and why."""
    heights = {
        "diameter": ([curve.axis for curve in found.by_diameter], "the tag is read at no diameter looked at"),
        "power": ([found.by_power.axis], "the base design is read at no power looked at"),
        "turns": ([curve.axis for curve in found.by_turns], "the tag is read with no number of turns looked at"),
        "leaning": ([found.leaning.heights], "the base design is read nowhere, upright or leaning"),
    }
    return {key: why for key, (some, why) in heights.items() if not any(np.isfinite(one).any() for one in some)}


def diameter_finding(found: Guide) -> str:
    """The picture in a sentence."""
    parts = []
    for curve in found.by_diameter:
        best = curve.best
        last = curve.at[np.isfinite(curve.axis)][-1:] * 1e3
        at = f"{best[0] * 1e3:.0f} mm" if best is not None else f"{last[0]:.0f} mm or more" if last.size else "none"
        parts.append(f"{NAMES[curve.name].removeprefix('same ')} {at}")
    return f"The best mean diameter depends on what is kept: {', '.join(parts)}"


def volts_picture(found: Guide) -> Drawn:
    """Coil voltage and tuning capacitance along each of the curves over the diameter."""
    figure = Figure(figsize=(WIDTH, 4.2))
    left, right = figure.add_axes((0.08, 0.13, 0.33, 0.7)), figure.add_axes((0.5, 0.13, 0.24, 0.7))
    for curve, dashes in zip(found.by_diameter, DASHES, strict=True):
        colour = HUE if curve.name == "inductance and current" else INK
        volts = np.array([taken["coil_voltage"] for taken in curve.taken])
        left.plot(curve.at * 1e3, volts, color=colour, dashes=dashes, linewidth=1.6)
        right.plot(curve.at * 1e3, curve.capacitance * 1e9, color=colour, dashes=dashes, linewidth=1.6)
        right.plot([], [], color=colour, dashes=dashes, label=NAMES[curve.name].replace(" and ", "\nand "))
    for axes, label in ((left, "coil voltage, peak [V]"), (right, "tuning capacitance [nF]")):
        axes.set_xscale("log")
        axes.set_yscale("log")
        plain_ticks(axes.xaxis, found.by_diameter[0].at * 1e3, 4)
        axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axes.yaxis.set_minor_formatter(FuncFormatter(lambda value, _: f"{value:g}" if f"{value:e}"[0] in "25" else ""))
        axes.set_xlabel("mean diameter [mm]")
        axes.set_ylabel(label)
        bare(axes)
    figure.legend(*right.get_legend_handles_labels(), loc="center right", frameon=False, fontsize=9.0)
    stands = [taken["coil_voltage"] for taken in found.by_diameter[-1].taken]
    alike = max(stands) < ALIKE * min(stands)
    told = f"{engineering(stands[0], 'V', 3)} whatever its size" if alike else _range(found.by_diameter[-1])
    title = (
        f"At the same inductance and current the coil stands at {told}; at the same power it is "
        f"{_range(found.by_diameter[1])}"
    )
    return titled(figure, title)


def _range(curve: Curve) -> str:
    volts = [taken["coil_voltage"] for taken in curve.taken]
    return f"{engineering(min(volts), 'V', 3)} to {engineering(max(volts), 'V', 3)}"


def power_picture(found: Guide) -> Drawn:
    """Reading height against input power, with the law far from the coil beside it."""
    curve = found.by_power
    figure = Figure(figsize=(WIDTH, 3.8))
    axes = figure.add_axes((0.08, 0.15, 0.66, 0.68))
    axes.plot(curve.at, curve.axis * 1e3, color=HUE, linewidth=1.8)
    _end_text(axes, curve.axis[-1] * 1e3, "on the axis, upright", HUE)
    axes.plot(curve.at, curve.worst * 1e3, color=HUE, dashes=DASHES[1], linewidth=1.6)
    _end_text(axes, curve.worst[-1] * 1e3, "at the worst offset\nand tilt asked for", HUE)
    power, height = found.taken["input_power"], found.base.reached(found.source_voltage).axis
    if height is not None:
        law = (height + found.middle) * (curve.at / power) ** (1.0 / 6.0) - found.middle
        axes.plot(curve.at, law * 1e3, color=QUIET, dashes=DASHES[2], linewidth=1.4)
        _end_text(axes, law[-1] * 1e3, "sixth root of the power,\nthe law far off", QUIET)
    for bound, used in zip(found.plane.bounds, _used(found), strict=True):
        at = float(np.exp(np.interp(0.0, np.log(used), np.log(curve.at)))) if used[0] < 1.0 < used[-1] else None
        if at is not None:
            axes.axvline(at, color=INK, linewidth=0.8)
            axes.text(at, 0.02, bound_text(bound) + " ", rotation=90, ha="right", va="bottom", fontsize=8.5,
                      transform=axes.get_xaxis_transform())  # fmt: skip
    axes.set_xscale("log")
    axes.xaxis.set_major_formatter(FuncFormatter(watts))
    axes.set_xlabel("input power, no tag there")
    axes.set_ylabel("read height [mm]")
    bare(axes)
    _spread_texts(axes)
    return titled(figure, power_finding(found))


def _used(found: Guide) -> list[Array]:
    """Each bounded quantity along the curve over power, over its bound [1]."""
    return [
        np.array([taken[bound.quantity] / bound.value for taken in found.by_power.taken])
        for bound in found.plane.bounds
    ]


def power_finding(found: Guide) -> str:
    """What doubling the power buys, in a sentence."""
    curve, power = found.by_power, found.taken["input_power"]
    once, twice = np.interp(np.log([power, 2.0 * power]), np.log(curve.at), curve.axis * 1e3)
    if not np.isfinite((once, twice)).all():
        read = curve.at[np.isfinite(curve.axis)]
        least, own = engineering(float(read[0]), "W", 3), engineering(power, "W", 3)
        return f"The base design is read from {least} on; it takes {own}"
    gain = 100.0 * (twice / once - 1.0)
    doubled = engineering(2.0 * power, "W", 3)
    return f"Twice the power, {doubled}, takes the read height from {once:.1f} to {twice:.1f} mm, {gain:.0f} % more"


def turns_picture(found: Guide) -> Drawn:
    """Reading height against the inductance that turns give the base design's section."""
    figure = Figure(figsize=(WIDTH, 3.8))
    axes = figure.add_axes((0.08, 0.15, 0.66, 0.68))
    for curve, dashes in zip(found.by_turns, DASHES, strict=False):
        axes.plot(curve.at * 1e6, curve.axis * 1e3, color=HUE, dashes=dashes, linewidth=1.8)
        _end_text(axes, curve.axis[-1] * 1e3, NAMES[curve.name].replace("same ", "same\n"), HUE)
    room = found.base.with_turns(found.base.room).base.inductance * 1e6
    if room < found.by_turns[0].at[-1] * 1e6:
        axes.axvspan(room, found.by_turns[0].at[-1] * 1e6, facecolor="none", edgecolor=QUIET, hatch="//", linewidth=0.0)
        axes.text(room, 0.05, f" more than\n {found.base.room} turns\n do not fit", va="bottom", fontsize=9.0,
                  transform=axes.get_xaxis_transform())  # fmt: skip
    axes.axvline(found.base.base.inductance * 1e6, color=INK, linewidth=0.8)
    axes.text(
        found.base.base.inductance * 1e6, 0.03, " base design", fontsize=9.0, transform=axes.get_xaxis_transform()
    )
    axes.set_xscale("log")
    plain_ticks(axes.xaxis, found.by_turns[0].at * 1e6)
    axes.set_xlabel("inductance as installed, by its turns [µH]")
    axes.set_ylabel("read height on the axis [mm]")
    bare(axes)
    _spread_texts(axes)
    best = found.by_turns[0].best
    here = found.base.base.inductance
    title = (
        f"On this drive the height is greatest with {engineering(best[0], 'H', 3)}, {best[1] * 1e3:.1f} mm; the base "
        f"design has {engineering(here, 'H', 3)}"
        if best is not None
        else "On this drive the height has no greatest value over the turns looked at"
    )
    return titled(figure, title)


def costs_picture(found: Guide) -> Drawn:
    """What each thing around costs in reading height, and what another place of the coil would."""
    known = [(cost.name, None if cost.reached is None else cost.reached.axis) for cost in found.costs]
    figure = Figure(figsize=(WIDTH, 0.9 + 0.42 * len(known)))
    axes = figure.add_axes((0.24, 0.24, 0.66, 0.56))
    base = known[0][1] or 0.0
    for row, (_, height) in enumerate(known):
        if height is None:
            axes.text(0.0, row, " not read, or cannot be computed", va="center", fontsize=9.0, color=QUIET)
            continue
        axes.barh(row, height * 1e3, height=0.6, color=HUE if row == 0 else TINTS[1])
        change = "" if row == 0 else f" ({1e3 * (height - base):+.1f})".replace("-", "−")
        axes.text(height * 1e3, row, f" {height * 1e3:.1f} mm{change}", va="center", fontsize=9.0)
    axes.set_yticks(range(len(known)), [name for name, _ in known])
    axes.set_ylim(len(known) - 0.5, -0.5)
    axes.set_xlim(0.0, 1.25e3 * max(height or 0.0 for _, height in known) or 1.0)
    axes.set_xlabel("read height on the axis [mm]")
    bare(axes)
    return titled(figure, costs_finding(known))


def costs_finding(known: Sequence[tuple[str, float | None]]) -> str:
    """The picture in a sentence: what costs most."""
    base = known[0][1]
    if base is None:
        return "The base design is read nowhere on the axis"
    named = [(name, height) for name, height in known[1:] if name.startswith("without")]
    taken = [(height - base, name) for name, height in named if height is not None]
    alone = [one for one in taken if "all" not in one[1]] or taken
    if not alone:
        return "Nothing around the coil takes anything from the read height"
    most, name = max(alone)
    without = f"{(base + most) * 1e3:.1f} mm"
    return f"Most is taken by the {name.removeprefix('without ')}: {most * 1e3:.1f} mm of the {without} without it"


def leaning_picture(found: Guide) -> Drawn:
    """Reading height against offset for several tilts, each the worst way."""
    leaning = found.leaning
    figure = Figure(figsize=(WIDTH, 3.8))
    axes = figure.add_axes((0.08, 0.15, 0.74, 0.68))
    for tilt, heights, dashes in zip(leaning.tilts, leaning.heights, DASHES, strict=False):
        if not np.isfinite(heights).any():
            continue
        axes.plot(leaning.offsets * 1e3, heights * 1e3, color=HUE, dashes=dashes, linewidth=1.8)
        last = int(np.flatnonzero(np.isfinite(heights))[-1])
        words = "upright" if tilt == 0.0 else _degrees(tilt)
        axes.annotate(words, (leaning.offsets[last] * 1e3, heights[last] * 1e3), (4, 0), textcoords="offset points",
                      va="center", color=HUE)  # fmt: skip
    axes.set_xlabel("offset of the tag from the axis [mm]")
    axes.set_ylabel("read height [mm]")
    axes.set_ylim(bottom=0.0)
    bare(axes)
    return titled(figure, leaning_finding(found))


def leaning_finding(found: Guide) -> str:
    """What offset and tilt cost, in a sentence."""
    leaning = found.leaning
    centred = leaning.heights[0, 0]
    if not np.isfinite(centred):
        return "The tag is read nowhere on the axis"
    upright = "" if leaning.tilts[0] == 0.0 else f" at {_degrees(leaning.tilts[0])}"
    words = [f"{centred * 1e3:.0f} mm on the axis{upright}"]
    for tilt, heights in zip(leaning.tilts[1:], leaning.heights[1:], strict=True):
        left = f"leaves {heights[0] * 1e3:.0f} mm" if np.isfinite(heights[0]) else "loses it"
        words.append(f"{_degrees(tilt)} of tilt {left}")
    return "; ".join(words)


def _degrees(tilt: float) -> str:
    return f"{np.degrees(tilt):.3g}°"


def _end_text(axes: Axes, height: float, words: str, colour: str) -> None:
    if np.isfinite(height):
        axes.text(1.015, height, words, transform=axes.get_yaxis_transform(), va="center", color=colour, fontsize=9.0)


def _spread_texts(axes: Axes) -> None:
    """Move the words at the right edge apart where they would lie on each other."""
    low, high = axes.get_ylim()
    at_edge = [text for text in axes.texts if text.get_position()[0] == 1.015]
    words = sorted(at_edge, key=lambda one: float(one.get_position()[1]))
    rooms = [(0.075 + 0.06 * text.get_text().count("\n")) * (high - low) for text in words]
    places = [float(text.get_position()[1]) for text in words]
    for i in range(1, len(words)):
        places[i] = max(places[i], places[i - 1] + 0.5 * (rooms[i] + rooms[i - 1]))
    for i in reversed(range(len(words))):
        above = high if i + 1 == len(words) else places[i + 1] - 0.5 * (rooms[i] + rooms[i + 1])
        places[i] = min(places[i], above)
    for text, place in zip(words, places, strict=True):
        text.set_position((1.015, place))
