"""Random candidates: base coil, stack, tag and places drawn from a seed; every dimension is invented."""

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from geometries.checks import design_faults, tag_faults
from geometries.materials import find_material
from geometries.section import WindingSection
from geometries.stack import Layer, LayerKind, Solid, Stack
from geometries.tag import DrumCore, Outline, RodCore, Tag
from geometries.wire import Wire
from studies.assembly_coil import room_below, winding_section
from studies.specification import (
    Candidate,
    ChipSpecification,
    CoilSpecification,
    DriveSpecification,
    LinkSpecification,
    MapGrid,
    Place,
    Requirement,
    TagSpecification,
)

HEATERS: tuple[LayerKind, ...] = ("foil", "meander", "open spiral", "shorted spiral", "rings")
BELOW = {
    "none": 0.18,
    "pan of aluminium": 0.18,
    "pan of austenitic steel": 0.18,
    "pan of mild steel": 0.05,
    "heat block": 0.18,
    "ferrite disc": 0.23,
}
"""What lies under the coil or round it, with its share of the designs; mild steel costs most by far."""

WIRE = Wire(find_material("copper"), 0.2e-3, 0.23e-3)

Draw = np.random.Generator


@dataclass(frozen=True, slots=True)
class RandomDesign:
    """A candidate, its two places (on the axis and off it, at one height) and what it is in words."""

    candidate: Candidate
    places: tuple[Place, Place]
    words: str


def random_design(seed: int, number: int) -> RandomDesign:
    """The ``number``-th design of a seed: it does not hang on those before it. What cannot be built is drawn again."""
    draw = np.random.default_rng([seed, number])
    while True:
        design = _drawn(draw, number)
        candidate = design.candidate
        section = winding_section(candidate.coil, candidate.stack, float(candidate.coil.turns or 1))
        assert candidate.tag.construction is not None, "random tags are constructions"
        faults = design_faults(candidate.stack, section, WIRE, candidate.coil.turns)
        if not faults and not tag_faults(candidate.tag.construction):
            return design


def _drawn(draw: Draw, number: int) -> RandomDesign:
    coil = CoilSpecification(
        turns=int(draw.integers(10, 60)),
        inductance=None,
        mean_diameter=draw.uniform(22e-3, 75e-3),
        radial_build=draw.uniform(1.5e-3, 5e-3),
        winding_length=draw.uniform(1.5e-3, 6e-3),
        under="plate",
        clearance=draw.uniform(0.2e-3, 1.5e-3),
        wire=WIRE,
    )
    heater = str(draw.choice(["none", *HEATERS]))
    layers = _layers(draw, coil, heater)
    if heater != "none" and draw.random() < 0.6:
        coil = replace(coil, under="heater")
    below = str(draw.choice(list(BELOW), p=list(BELOW.values())))
    stack = Stack(layers, _solids(draw, coil, layers, below))
    tag, core = _tag(draw)
    places, grid = _places(draw, tag, coil)
    accuracy = float(10.0 ** draw.uniform(-3.0, -2.0))
    candidate = Candidate(
        f"{number:03d}", (), draw.uniform(100e3, 150e3), accuracy, stack, coil,
        TagSpecification(tag, None, ChipSpecification(25e3, 3.0, None, 1e3)),
        DriveSpecification("full", 5.0, 6.4, 6.0, None),
        LinkSpecification("half-duplex", "series", 150e-9, 35e-3, 1e-3, 70.0),
        grid, Requirement(places),
    )  # fmt: skip
    where = "" if heater == "none" else f", coil under the {coil.under}"
    return RandomDesign(candidate, places, f"heater: {heater}{where}; below: {below}; tag: {core}")


def _layers(draw: Draw, coil: CoilSpecification, heater: str) -> tuple[Layer, ...]:
    """Plate, room for the coil, heater: both sides of the heater are free for it."""
    thickness, radius = draw.uniform(3e-3, 6e-3), draw.uniform(45e-3, 90e-3)
    plate = Layer("plate", "solid", find_material("glass-ceramic"), 0.0, thickness, 0.09)
    if heater == "none":
        return (plate,)
    top = plate.bottom - draw.choice([0.0, room_below(coil)])
    inner = draw.choice([0.0, 0.0, 8e-3])
    kind: LayerKind = next(known for known in HEATERS if known == heater)
    if kind == "foil":
        material, sheet = (find_material("nickel-chromium 80/20"), 10.0 ** draw.uniform(-5.0, -3.5))
        return (plate, Layer("heater", kind, material, top, sheet, radius, inner, 300.0))
    width = draw.uniform(1.5e-3, 4e-3)
    pitch = width * draw.uniform(1.1, 2.0)
    sheet = 10.0 ** draw.uniform(-5.0, -3.7)
    material = find_material("nickel-chromium 80/20")
    return (plate, Layer("heater", kind, material, top, sheet, radius, inner, 300.0, width, pitch))


def _solids(draw: Draw, coil: CoilSpecification, layers: tuple[Layer, ...], below: str) -> tuple[Solid, ...]:
    """What lies under or round the coil; ``below`` is one of BELOW."""
    if below == "none":
        return ()
    section = winding_section(coil, Stack(layers), float(coil.turns or 1))
    floor = min(section.bottom, *(layer.bottom for layer in layers))
    top = floor - draw.uniform(1e-3, 15e-3)
    if below == "ferrite disc":
        reach = section.outer_radius * draw.uniform(0.9, 1.5)
        hole = draw.choice([0.0, 0.4 * section.inner_radius])
        outline = _ring(hole, reach, top - draw.uniform(1.5e-3, 4e-3), top)
        return (Solid("disc", find_material(str(draw.choice(["ferrite", "manganese-zinc ferrite"]))), outline),)
    if below == "heat block":
        hole = section.outer_radius + draw.uniform(3e-3, 15e-3)
        ceiling = layers[-1].bottom - 0.5e-3
        outline = _ring(hole, hole + draw.uniform(10e-3, 30e-3), ceiling - draw.uniform(8e-3, 20e-3), ceiling)
        return (Solid("block", find_material("aluminium"), outline, 200.0),)
    material = find_material(below.removeprefix("pan of "))
    return (Solid("pan", material, _pan(draw, section, top), 60.0),)


def _ring(inner: float, outer: float, bottom: float, top: float) -> Outline:
    return ((inner, bottom), (outer, bottom), (outer, top), (inner, top))


def _pan(draw: Draw, section: WindingSection, top: float) -> Outline:
    """A floor with its upper side at ``top``, half of the time with an upright rim."""
    wall, radius = draw.uniform(1e-3, 3e-3), section.outer_radius + draw.uniform(5e-3, 40e-3)
    low = top - wall
    if draw.random() < 0.5:
        return _ring(0.0, radius, low, top)
    rim = top + draw.uniform(3e-3, 15e-3)
    return ((0.0, low), (radius + wall, low), (radius + wall, rim), (radius, rim), (radius, top), (0.0, top))


def _tag(draw: Draw) -> tuple[Tag, str]:
    kind = str(draw.choice(["drum core", "rod core", "air core"]))
    ferrite = find_material(str(draw.choice(["ferrite", "manganese-zinc ferrite"])))
    turns = float(draw.integers(50, 400))
    if kind == "drum core":
        flange, height = draw.uniform(4e-3, 10e-3), draw.uniform(3e-3, 8e-3)
        post, thickness = flange * draw.uniform(0.3, 0.55), height * draw.uniform(0.12, 0.25)
        room = height - 2.0 * thickness
        core = DrumCore(ferrite, post, room, flange, thickness)
        half = 0.5 * room * draw.uniform(0.8, 0.98)
        inner = 0.5 * post * draw.uniform(1.02, 1.15)
        section = WindingSection(inner, inner + (0.5 * flange - inner) * draw.uniform(0.5, 0.95), -half, half)
        return Tag(section, turns, core, None, 20.0), kind
    radius = draw.uniform(0.5e-3, 2.5e-3)
    length = radius * draw.uniform(3.0, 10.0)
    half = 0.5 * length * draw.uniform(0.3, 0.95)
    section = WindingSection(radius * 1.1, radius * 1.1 + draw.uniform(0.3e-3, 2e-3), -half, half)
    rod = RodCore(ferrite, 2.0 * radius, length) if kind == "rod core" else None
    return Tag(section, turns, rod, None, 20.0), kind


def _places(draw: Draw, tag: Tag, coil: CoilSpecification) -> tuple[tuple[Place, Place], MapGrid]:
    """One height on the axis and off it, within a map that starts lower and ends higher."""
    lowest = tag.sphere_radius + draw.uniform(1e-3, 10e-3)
    height = lowest * draw.uniform(1.0, 2.5)
    offset, tilt = draw.uniform(0.0, 0.6) * coil.mean_diameter, draw.uniform(-0.5, 0.5) * pi / 2.0
    grid = MapGrid((lowest, 3.0 * lowest), (0.0, offset), tuple(sorted((0.0, tilt))))
    return (Place(height, 0.0, 0.0), Place(height, offset, tilt)), grid
