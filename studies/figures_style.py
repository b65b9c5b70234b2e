"""How all pictures look, and how they are saved: readable at page width, in grey, and the same bytes every time."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

INK, QUIET = "#1c2529", "#5d6a70"
HUE = "#0f5a63"
"""The one hue of margins and coupling; its tints differ in lightness, so that they survive a grey print."""

TINTS = ("#dceaea", "#b2d0d2", "#7fb0b4")
"""Margin 0 to 3, 3 to 6, above 6 dB."""

DEPTH = LinearSegmentedColormap.from_list(
    "depth", ["#f2f8f7", "#c9dfdf", "#93bfc3", "#5a98a0", "#2c6f7a", "#0e4752", "#06262d"]
)
"""Light to dark in one hue, lightness falling all the way."""

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
