"""Labels set beside a drawing so that none lies on another."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Label:
    """A text and the point it belongs to, in the units of the drawing."""

    text: str
    x: float
    y: float

    @property
    def lines(self) -> int:
        """Lines of its text."""
        return self.text.count("\n") + 1


def place_labels(
    labels: Sequence[Label], bottom: float, top: float, line_height: float, space: float
) -> list[tuple[Label, float]]:
    """Heights of the labels' middles, as near to their points as can be without one lying on another.

    Parameters
    ----------
    labels : sequence of Label
        In any order.
    bottom, top : float
        Between which the labels are kept where they have room.
    line_height, space : float
        Of one line of text, and least between two labels.

    Returns
    -------
    list of (Label, float)
        From the lowest to the highest.
    """
    ordered = sorted(labels, key=lambda label: label.y)
    sizes = [label.lines * line_height + space for label in ordered]
    groups: list[tuple[float, int, int]] = []  # bottom edge, first and last label
    for number in range(len(ordered)):
        groups.append((_edge(ordered, sizes, number, number, bottom, top), number, number))
        while len(groups) > 1 and _top(groups[-2], sizes) > groups[-1][0]:
            first, last = groups[-2][1], groups[-1][2]
            groups[-2:] = [(_edge(ordered, sizes, first, last, bottom, top), first, last)]
    return [placed for group in groups for placed in _heights(ordered, sizes, group)]


def _top(group: tuple[float, int, int], sizes: Sequence[float]) -> float:
    edge, first, last = group
    return edge + sum(sizes[first : last + 1])


def _edge(ordered: Sequence[Label], sizes: Sequence[float], first: int, last: int, bottom: float, top: float) -> float:
    """Bottom edge of a pile of labels that is, on the average, level with its points; within the bounds if it fits."""
    below, wanted = 0.0, 0.0
    for number in range(first, last + 1):
        wanted += ordered[number].y - (below + 0.5 * sizes[number])
        below += sizes[number]
    return max(bottom, min(wanted / (last - first + 1), top - below))


def _heights(
    ordered: Sequence[Label], sizes: Sequence[float], group: tuple[float, int, int]
) -> list[tuple[Label, float]]:
    edge, first, last = group
    found = []
    for number in range(first, last + 1):
        found.append((ordered[number], edge + 0.5 * sizes[number]))
        edge += sizes[number]
    return found
