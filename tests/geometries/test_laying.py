"""Turns between wires that touch, against windings laid out turn by turn."""

from itertools import product
from math import floor, sqrt

import numpy as np
import pytest

from geometries.errors import GeometryError
from geometries.laying import BEND_RADIUS_RATIO, LAYINGS, Laying, least_bend_radius, neighbour_turns, turns_a_layer
from geometries.materials import find_material
from geometries.section import WindingSection
from geometries.wire import Wire

STEPS = 8
"""Places a turn at which the wire is looked at."""

LATTICES = (("square", 1.0, 0.0), ("grooves behind", 0.5 * sqrt(3.0), -0.5), ("grooves ahead", 0.5 * sqrt(3.0), 0.5))
"""Distance of two layers, and how far every other one is moved along the axis, in wire diameters."""


def laid_out(turns: int, layer_turns: int, laying: Laying, pitch: float, shift: float) -> np.ndarray:
    """Turns along the wire, and place (axial, radial), of points of a wire of diameter 1, each turn helical."""
    along = np.arange(turns * STEPS + 1) / STEPS
    places = []
    for layer in range(-(-turns // layer_turns)):
        inside = along[(along >= layer * layer_turns) & (along <= (layer + 1) * layer_turns)]
        axial = inside - layer * layer_turns
        if laying == "layers" and layer % 2:
            axial = layer_turns - axial
        places += [(s, x + shift * (layer % 2), layer * pitch) for s, x in zip(inside, axial, strict=True)]
    return np.array(places)


def most_between(turns: int, layer_turns: int, laying: Laying, pitch: float, shift: float) -> float:
    """Most turns of wire between two points of it that lie at one angle and touch."""
    places = laid_out(turns, layer_turns, laying, pitch, shift)
    most = 0.0
    for step in range(STEPS):
        here = places[np.round(places[:, 0] * STEPS) % STEPS == step]
        apart = here[:, None, :] - here[None, :, :]
        touching = np.hypot(apart[..., 1], apart[..., 2]) < 1.0 + 1e-9
        most = max(most, float(np.where(touching, apart[..., 0], 0.0).max()))
    return most


@pytest.mark.parametrize(("turns", "layer_turns"), [*product((1, 2, 3, 7, 12, 13, 14, 23, 24, 30, 41), (1, 2, 4, 12))])
@pytest.mark.parametrize("laying", ["layers", "layers with return"])
def test_the_count_is_the_worst_of_windings_laid_out(turns: int, layer_turns: int, laying: Laying) -> None:
    worst = max(most_between(turns, layer_turns, laying, pitch, shift) for _, pitch, shift in LATTICES)
    assert neighbour_turns(turns, layer_turns, laying) == worst


def test_numbers_of_touching_turns_differ_by_one_less() -> None:
    """Every turn as a ring in its place: the textbook drawing of layers wound back and forth, or with a return."""

    def widest(layer_turns: int, layers: int, back_and_forth: bool) -> int:
        ring = {}
        for layer, place in product(range(layers), range(layer_turns)):
            backward = back_and_forth and layer % 2
            ring[layer * layer_turns + place] = (layer_turns - 1 - place if backward else place, layer)
        pairs = product(ring.items(), repeat=2)
        return max(i - j for (i, (x, y)), (j, (u, v)) in pairs if abs(x - u) + abs(y - v) == 1)

    assert widest(6, 4, True) == neighbour_turns(24, 6, "layers") - 1 == 11
    assert widest(6, 4, False) == neighbour_turns(24, 6, "layers with return") - 1 == 6


def test_as_it_falls_the_first_turn_may_touch_the_last() -> None:
    assert neighbour_turns(64, 10, "random") == 64


def test_no_laying_has_more_between_than_a_random_one() -> None:
    for turns, layer_turns, laying in product((1, 2, 5, 64), (1, 3, 80), LAYINGS):
        assert 1 <= neighbour_turns(turns, layer_turns, laying) <= turns


@pytest.mark.parametrize(
    ("length", "diameter"),
    [(3e-3, 0.3e-3), (6.3e-3, 0.3e-3), (8.1e-3, 0.3e-3), (2.99e-3, 0.3e-3), (0.2e-3, 0.3e-3), (7e-3, 1e-3)],
)
def test_turns_a_layer(length: float, diameter: float) -> None:
    section = WindingSection(20e-3, 23e-3, -length, 0.0)
    assert turns_a_layer(section, diameter) == max(1, floor(length * 1e9 + 0.5) // floor(diameter * 1e9 + 0.5))


def test_bends_are_as_given_or_by_the_usual_ratio() -> None:
    wire = Wire(find_material("copper"), 0.25e-3, 0.30e-3)
    assert least_bend_radius(wire) == pytest.approx(BEND_RADIUS_RATIO * 0.3e-3, rel=1e-12, abs=0.0)
    assert least_bend_radius(Wire(wire.conductor, 0.25e-3, 0.30e-3, minimum_bend_radius=25e-3)) == 25e-3


def test_what_cannot_be_wound_is_refused() -> None:
    with pytest.raises(GeometryError, match=r"base_coil.turns: 0 turns, 4 a layer, were given; both must be at least"):
        neighbour_turns(0, 4, "layers")
    with pytest.raises(GeometryError, match=r'base_coil.laying: "heap" was given; one of layers, layers with return'):
        neighbour_turns(3, 4, "heap")  # type: ignore[arg-type]
    with pytest.raises(GeometryError, match="a wire of 0 m cannot be wound"):
        turns_a_layer(WindingSection(20e-3, 23e-3, -3e-3, 0.0), 0.0)


@pytest.mark.parametrize("count", range(2, 40))
def test_whole_layers_count_whole_wherever_the_section_lies(count: int) -> None:
    """Sizes typed in millimetres: the length comes back from its two ends with an error of rounding."""
    top, length = -4.52e-3, float(f"{count * 0.3e-3:.6g}")
    assert turns_a_layer(WindingSection(20e-3, 23e-3, top - length, top), 0.3e-3) == count
