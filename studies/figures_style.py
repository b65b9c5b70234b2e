"""How all pictures look, and how they are saved: readable at page width, in grey, and the same bytes every time."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter

from fem.arrays import Array

INK, QUIET = "#1c2529", "#5d6a70"
HUE = "#0f5a63"
"""The one hue of margins and coupling; its tints differ in lightness, so that they survive a grey print."""

TINTS = ("#dceaea", "#b2d0d2", "#7fb0b4")
"""Margin 0 to 3, 3 to 6, above 6 dB."""

DEPTH = LinearSegmentedColormap.from_list(
    "depth", ["#f2f8f7", "#c9dfdf", "#93bfc3", "#5a98a0", "#2c6f7a", "#0e4752", "#06262d"]
)
"""Light to dark in one hue, lightness falling all the way."""

Drawn = tuple[Figure, str]
"""A figure and its finding."""

WIDTH = 8.8
"""Of a picture [inch]."""

DASHES: tuple[tuple[float, ...], ...] = ((), (6.0, 2.0), (1.5, 1.5), (8.0, 2.0, 1.5, 2.0))

_STYLE = {
    "font.family": "DejaVu Sans",  # comes with matplotlib; has µ, Ω and the minus sign
    "font.size": 9.5,
    "axes.titlesize": 10.5,
    "axes.titleweight": "bold",
    "axes.titlepad": 10.0,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "hatch.linewidth": 0.4,
    "svg.fonttype": "path",  # a page that looks the same wherever it is read
    "svg.hashsalt": "trivet",
}
PROLOGUE = '<?xml version="1.0" encoding="utf-8"?>\n'
_NO_METADATA = {"Date": None, "Creator": None, "Format": None, "Type": None}
_RESOLUTION = 160


@contextmanager
def styled() -> Iterator[None]:
    """Settings in force while pictures are made."""
    with matplotlib.rc_context(_STYLE):  # type: ignore[arg-type]
        yield


def svg_text(figure: Figure) -> str:
    """A figure as SVG that can stand inside an HTML page: no prologue, no metadata."""
    file = BytesIO()
    figure.savefig(file, format="svg", metadata=_NO_METADATA)
    text = file.getvalue().decode("utf-8")
    return text[text.index("<svg") :]


def with_own_ids(svg: str, key: str) -> str:
    """The same picture with every id under ``key``, so that several can stand in one page."""
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{key}-\1"', svg)
    svg = re.sub(r'((?:xlink:)?href)="#([^"]+)"', rf'\1="#{key}-\2"', svg)
    return re.sub(r"url\(#([^)]+)\)", rf"url(#{key}-\1)", svg)


def save_png(figure: Figure, path: Path) -> None:
    """Write a figure as PNG, whatever ``path`` ends in."""
    FigureCanvasAgg(figure)
    figure.savefig(path, format="png", dpi=_RESOLUTION, metadata={"Software": None})


def save_figure(figure: Figure, path: Path) -> None:
    """Write a figure as PNG where ``path`` ends so, else as SVG."""
    if path.suffix.lower() == ".png":
        save_png(figure, path)
    else:
        path.write_text(f"{PROLOGUE}{svg_text(figure)}", encoding="utf-8")


def watts(value: float, _: int) -> str:
    """A power with as many digits as it takes: ``100 mW``, ``2 W``."""
    return f"{value * 1e3:g} mW" if value < 1.0 else f"{value:g} W"


def plain_ticks(axis: object, values: Array, count: int = 7) -> None:
    """Round numbers, written out, on a logarithmic axis."""
    nodes = [n * 10.0**power for power in range(-3, 6) for n in (1, 1.5, 2, 3, 4, 5, 7)]
    known = [node for node in nodes if values[0] <= node <= values[-1]]
    step = max(1, len(known) // count)
    axis.set_ticks(known[::step])  # type: ignore[attr-defined]
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))  # type: ignore[attr-defined]
    axis.set_minor_formatter(NullFormatter())  # type: ignore[attr-defined]


def bare(axes: Axes) -> None:
    """Take the frame's upper and right side away."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def titled(figure: Figure, title: str) -> Drawn:
    """The figure with its finding above it."""
    figure.text(0.02, 0.97, title, fontsize=10.5, fontweight="bold", va="top", wrap=True)
    return figure, title
