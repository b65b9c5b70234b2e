"""What an eye would find fault with in a figure: texts cut off by its edge, texts on one another."""

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text


def texts_of(figure: Figure) -> list[Text]:
    """All texts that are drawn; those of ticks outside their axis' limits are not."""
    FigureCanvasAgg(figure).draw()
    found = [text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]
    ticks = {
        id(label)
        for axes in figure.axes
        for axis in (axes.xaxis, axes.yaxis)
        for tick in axis.get_major_ticks()
        for label in (tick.label1, tick.label2)
        if not min(axis.get_view_interval()) - 1e-9 <= tick.get_loc() <= max(axis.get_view_interval()) + 1e-9
    }
    return [text for text in found if id(text) not in ticks]


def cut_texts(figure: Figure) -> list[str]:
    """Texts that reach beyond the figure."""
    wide, high = figure.bbox.width, figure.bbox.height
    cut = []
    for text in texts_of(figure):
        box = text.get_window_extent()
        if box.x0 < 0.0 or box.y0 < 0.0 or box.x1 > wide or box.y1 > high:
            cut.append(text.get_text())
    return cut


def overlapping_texts(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes share more than a sliver."""
    boxes = [(text.get_text(), text.get_window_extent().padded(-1.5)) for text in texts_of(figure)]
    return [
        (first, second)
        for number, (first, box) in enumerate(boxes)
        for second, other in boxes[number + 1 :]
        if box.overlaps(other)
    ]
