"""Faults of a design and of a tag: what a buildable one passes, and what each broken one is told, key and text."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometries.checks import design_faults, tag_faults
from geometries.errors import GeometryError, PackingError
from geometries.materials import Material, find_material
from geometries.section import WindingSection
from geometries.stack import Layer, Solid, Stack
from geometries.tag import DrumCore, RodCore, Tag
from geometries.wire import Wire

MM = 1e-3
COPPER, ALUMINIUM, CERAMIC = (find_material(name) for name in ("copper", "aluminium", "glass-ceramic"))
NICHROME, FERRITE = find_material("nickel-chromium 80/20"), find_material("ferrite")

PLATE = Layer("plate", "solid", CERAMIC, 0.0, 4 * MM, 90 * MM)
HEATER = Layer(
    "heater", "meander", NICHROME, -4 * MM, 0.02 * MM, 75 * MM, temperature=400.0, ribbon_width=2.5 * MM, pitch=4 * MM
)
PAN = Solid("pan", ALUMINIUM, ((0.0, -40 * MM), (80 * MM, -40 * MM), (80 * MM, -38 * MM), (0.0, -38 * MM)))
STACK = Stack((PLATE, HEATER), (PAN,))
SECTION = WindingSection(20.5 * MM, 23.5 * MM, -7.52 * MM, -4.52 * MM)
WIRE = Wire(COPPER, 0.25 * MM, 0.30 * MM, temperature=250.0)
DRUM = DrumCore(FERRITE, 2 * MM, 2.4 * MM, 6 * MM, 0.8 * MM)
TAG = Tag(WindingSection(1.2 * MM, 2.6 * MM, -1 * MM, 1 * MM), 300, DRUM, series_resistance=30.0)


def told(faults: tuple[GeometryError, ...]) -> list[tuple[str, str]]:
    return [(fault.key, fault.message) for fault in faults]


def faults(stack: Stack = STACK, section: WindingSection = SECTION, wire: Wire = WIRE, turns: int | None = 64) -> Any:
    return told(design_faults(stack, section, wire, turns))


def with_heater(**changes: Any) -> Stack:
    return Stack((PLATE, replace(HEATER, **changes)), (PAN,))


def with_solid(outline: Any, name: str = "block") -> Stack:
    return Stack((PLATE, HEATER), (PAN, Solid(name, ALUMINIUM, outline)))


def ring(r0: float, r1: float, z0: float, z1: float) -> Any:
    return tuple((r * MM, z * MM) for r, z in ((r0, z0), (r1, z0), (r1, z1), (r0, z1)))


def test_the_documented_design_and_tag_can_be_built() -> None:
    assert design_faults(STACK, SECTION, WIRE, 64) == ()
    assert design_faults(STACK, SECTION, WIRE, None) == ()
    assert tag_faults(TAG) == ()


def test_bodies_may_touch() -> None:
    against_heater = SECTION.raised(0.5 * MM)
    assert faults(section=against_heater) == []
    sleeve = ring(23.5, 25.0, -38.0, -4.02)  # on the pan, under the heater, round the winding
    assert faults(with_solid(sleeve)) == []


def test_a_gap_may_hold_the_winding_and_solids() -> None:
    gap = Layer("gap", "gap", None, -4.02 * MM, 30 * MM, 90 * MM)
    nothing = replace(gap, name="nothing", thickness=0.0)
    assert faults(Stack((PLATE, HEATER, gap, nothing), (PAN,))) == []


def test_a_solid_above_the_plate_is_allowed() -> None:
    assert faults(with_solid(ring(0.0, 30.0, 0.0, 5.0))) == []


@pytest.mark.parametrize(
    ("changes", "key", "message"),
    [
        ({"pitch": 2 * MM}, "pitch", "2 mm was given; it must be at least the ribbon's width of 2.5 mm"),
        ({"pitch": None}, "pitch", "a layer of kind 'meander' needs it"),
        ({"ribbon_width": None}, "ribbon_width", "a layer of kind 'meander' needs it"),
        ({"ribbon_width": 0.0}, "ribbon_width", "0 mm was given; it must be above 0"),
        (
            {"inner_radius": 73 * MM},
            "ribbon_width",
            "2.5 mm was given; it must not be above the layer's extent from inner to outer radius, 2 mm",
        ),
        (
            {"inner_radius": 80 * MM},  # told once, not of the ribbon's room too
            "outer_diameter",
            "150 mm was given; it must be above the inner diameter of 160 mm",
        ),
        ({"thickness": 0.0}, "thickness", "0 mm was given; a layer's must be above 0"),
        ({"inner_radius": -1 * MM}, "inner_diameter", "-2 mm was given; it must not be below 0"),
        ({"material": None}, "material", "a layer of kind 'meander' needs a material"),
        (
            {"material": CERAMIC},
            "material",
            "'glass-ceramic' does not conduct; a layer of kind 'meander' must",
        ),
        ({"temperature": -300.0}, "temperature", "-300 degC was given; it must not be below -273.15 degC"),
        (
            {"material": Material("carbon", 1e-5, -5e-3), "temperature": 400.0},
            "temperature",
            "carbon: its linear law of resistivity, -0.005 per K from 20 °C, gives nothing positive at 400 °C",
        ),
    ],
)
def test_faults_of_a_layer(changes: dict[str, Any], key: str, message: str) -> None:
    assert faults(with_heater(**changes)) == [(f"layers.heater.{key}", message)]


def test_a_layer_inside_out_is_told_once() -> None:
    stack = Stack((replace(PLATE, inner_radius=95 * MM), HEATER), (PAN,))
    assert faults(stack) == [
        ("layers.plate.outer_diameter", "180 mm was given; it must be above the inner diameter of 190 mm")
    ]


@pytest.mark.parametrize(
    ("section", "key", "message"),
    [
        (
            WindingSection(-1 * MM, 5 * MM, -9 * MM, -6 * MM),
            "radial_build",
            "6 mm leaves no hole at a mean diameter of 4 mm; it must be below 4 mm",
        ),
        (
            WindingSection(0.0, 4 * MM, -9 * MM, -6 * MM),
            "radial_build",
            "4 mm leaves no hole at a mean diameter of 4 mm; it must be below 4 mm",
        ),
        (WindingSection(-2 * MM, 2 * MM, -9 * MM, -6 * MM), "mean_diameter", "0 mm was given; it must be above 0"),
        (WindingSection(20 * MM, 20 * MM, -9 * MM, -6 * MM), "radial_build", "0 mm was given; it must be above 0"),
        (WindingSection(20 * MM, 23 * MM, -6 * MM, -9 * MM), "winding_length", "-3 mm was given; it must be above 0"),
    ],
)
def test_faults_of_the_winding_section(section: WindingSection, key: str, message: str) -> None:
    assert faults(section=section, turns=None) == [(f"base_coil.{key}", message)]


def test_a_winding_in_a_layer_is_told_to_go_under_it() -> None:
    assert faults(section=SECTION.raised(3.0 * MM)) == [
        (
            "base_coil.under",
            "the winding, from height -1.52 mm down to -4.52 mm, overlaps layer 'plate', from 0 mm down to -4 mm, "
            "by 7.44 mm² of their section; lay it under that layer or leave a gap for it",
        ),
        (
            "base_coil.under",
            "the winding, from height -1.52 mm down to -4.52 mm, overlaps layer 'heater', from -4 mm down to -4.02 mm, "
            "by 0.06 mm² of their section; lay it under that layer or leave a gap for it",
        ),
    ]


def test_a_winding_in_a_solid() -> None:
    assert faults(with_solid(ring(22.0, 30.0, -20.0, -6.0))) == [
        (
            "solids.block.outline",
            "it overlaps the base coil's winding (radius 20.5 mm to 23.5 mm, height -7.52 mm to -4.52 mm) by "
            "2.28 mm² of their section",
        )
    ]


def test_solids_and_layers_in_each_other() -> None:
    assert faults(with_solid(ring(30.0, 40.0, -39.0, -3.0))) == [
        ("solids.block.outline", "it overlaps layer 'plate' by 10 mm² of their section"),
        ("solids.block.outline", "it overlaps layer 'heater' by 0.2 mm² of their section"),
        ("solids.block.outline", "it overlaps solid 'pan' by 10 mm² of their section"),
    ]


def test_a_solid_colder_than_can_be() -> None:
    cold = replace(PAN, temperature=-274.0)
    assert faults(Stack((PLATE, HEATER), (cold,))) == [
        ("solids.pan.temperature", "-274 degC was given; it must not be below -273.15 degC")
    ]


def test_an_improper_outline_is_told_and_not_compared() -> None:
    crossed = ((0.0, -30 * MM), (60 * MM, -6 * MM), (60 * MM, -30 * MM), (0.0, -6 * MM))
    found = faults(with_solid(crossed))
    assert [key for key, _ in found] == ["solids.block.outline"]
    assert found[0][1].endswith("it must not cross or touch itself")
    assert faults(with_solid(((-1 * MM, 0.0), (0.0, 0.0), (0.0, 1 * MM)))) == [
        ("solids.block.outline", "the corner (-1 mm, 0 mm) lies across the axis; radii must not be negative")
    ]


@pytest.mark.parametrize(
    ("changes", "key", "message"),
    [
        (
            {"overall_diameter": 0.24 * MM},
            "overall_diameter",
            "0.24 mm was given; with its covering the wire cannot be thinner than its bare diameter of 0.25 mm",
        ),
        ({"diameter": 0.0}, "diameter", "0 mm was given; it must be above 0"),
        (
            {"overall_diameter": 3.2 * MM},
            "overall_diameter",
            "3.2 mm was given; it must not be above the winding's narrow side of 3 mm",
        ),
        ({"conductor": CERAMIC}, "conductor", "'glass-ceramic' does not conduct; a wire must"),
        ({"temperature": -300.0}, "temperature", "-300 degC was given; it must not be below -273.15 degC"),
    ],
)
def test_faults_of_the_wire(changes: dict[str, Any], key: str, message: str) -> None:
    wire = replace(WIRE, **changes)
    assert faults(wire=wire) == [(f"base_coil.wire.{key}", message)]
    assert told(tag_faults(replace(TAG, wire=wire)))[0][0] == f"tag.wire.{key}"


def test_turns_that_do_not_fit_or_are_none() -> None:
    packed = design_faults(STACK, SECTION, WIRE, 105)
    assert [type(fault) for fault in packed] == [PackingError]
    assert packed[0].key == "base_coil.turns"
    assert "it holds 95" in packed[0].message
    assert faults(turns=0) == [("base_coil.turns", "0 turns were given; there must be at least 1")]


def test_all_faults_are_told_at_once() -> None:
    stack = Stack((PLATE, replace(HEATER, pitch=1 * MM)), (replace(PAN, outline=PAN.outline[:2]),))
    keys = [key for key, _ in faults(stack, SECTION, replace(WIRE, overall_diameter=0.2 * MM), 400)]
    assert keys == [
        "layers.heater.pitch", "solids.pan.outline", "base_coil.wire.overall_diameter", "base_coil.turns"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "key", "message"),
    [
        ({"turns": 0.0}, "turns", "0 turns were given; there must be more than 0"),
        ({"series_resistance": -1.0}, "series_resistance", "-1 ohm was given; it must not be below 0"),
        (
            {"section": WindingSection(0.9 * MM, 2.6 * MM, -1 * MM, 1 * MM)},
            "winding_inner_diameter",
            "1.8 mm was given; the winding must lie round the centre post of 2 mm",
        ),
        (
            {"section": WindingSection(1.2 * MM, 3.1 * MM, -1 * MM, 1 * MM)},
            "winding_outer_diameter",
            "6.2 mm was given; it must not be above the flanges' 6 mm",
        ),
        (
            {"section": WindingSection(1.2 * MM, 2.6 * MM, -1.3 * MM, 1.3 * MM)},
            "winding_length",
            "2.6 mm was given; it must not be above the centre post's height of 2.4 mm, the room between the flanges",
        ),
        (
            {"section": WindingSection(1.2 * MM, 1.2 * MM, -1 * MM, 1 * MM)},
            "winding_outer_diameter",
            "2.4 mm was given; it must be above the winding's inner diameter of 2.4 mm",
        ),
        (
            {"section": WindingSection(1.2 * MM, 2.6 * MM, -1 * MM, 1.2 * MM)},
            "winding_length",
            "the winding's middle lies at 0.1 mm; a tag's coil is centred on 0",
        ),
        (
            {"section": WindingSection(-0.1 * MM, 2.6 * MM, -1 * MM, 1 * MM)},
            "winding_inner_diameter",
            "-0.2 mm was given; it must not be below 0",
        ),
        (
            {"section": WindingSection(1.2 * MM, 2.6 * MM, 0.0, 0.0)},
            "winding_length",
            "0 mm was given; it must be above 0",
        ),
        (
            {"core": replace(DRUM, flange_diameter=2 * MM)},
            "flange_diameter",
            "2 mm was given; it must be above the centre post's diameter of 2 mm",
        ),
        ({"core": replace(DRUM, flange_thickness=0.0)}, "flange_thickness", "0 mm was given; it must be above 0"),
        ({"core": replace(DRUM, centre_post_height=0.0)}, "centre_post_height", "0 mm was given; it must be above 0"),
        (
            {"core": RodCore(FERRITE, 2.5 * MM, 10 * MM)},
            "winding_inner_diameter",
            "2.4 mm was given; the winding must lie round the rod of 2.5 mm",
        ),
        ({"core": RodCore(FERRITE, 0.0, 10 * MM)}, "rod_diameter", "0 mm was given; it must be above 0"),
        ({"core": RodCore(FERRITE, 2 * MM, -1 * MM)}, "rod_length", "-1 mm was given; it must be above 0"),
    ],
)
def test_faults_of_a_tag(changes: dict[str, Any], key: str, message: str) -> None:
    assert told(tag_faults(replace(TAG, **changes))) == [(f"tag.{key}", message)]


def test_a_tag_winding_may_fill_its_window_and_need_no_core() -> None:
    full = WindingSection(1 * MM, 3 * MM, -1.2 * MM, 1.2 * MM)
    assert tag_faults(replace(TAG, section=full)) == ()
    assert tag_faults(replace(TAG, core=None)) == ()
    assert tag_faults(replace(TAG, core=RodCore(FERRITE, 2.4 * MM, 1 * MM))) == ()


def test_a_tag_s_turns_are_packed_with_its_own_wire() -> None:
    fine = Wire(COPPER, 0.06 * MM, 0.075 * MM)
    assert tag_faults(replace(TAG, wire=fine)) == ()
    packed = tag_faults(replace(TAG, wire=fine, turns=600))
    assert [(type(fault), fault.key) for fault in packed] == [(PackingError, "tag.turns")]


@given(r0=st.integers(0, 60), build=st.integers(1, 30), z0=st.integers(-60, 20), height=st.integers(1, 30))
def test_any_square_solid_is_refused_exactly_where_it_reaches_into_something(
    r0: int, build: int, z0: int, height: int
) -> None:
    """Millimetre cells counted one by one, against a stack whose bodies lie on whole millimetres."""
    plate = replace(PLATE, outer_radius=40 * MM)
    pan = replace(PAN, outline=ring(0, 50, -40, -38))
    section = WindingSection(20 * MM, 23 * MM, -9 * MM, -6 * MM)
    cells = {(r, z) for r in range(r0, r0 + build) for z in range(z0, z0 + height)}
    hits = [
        any(r < 40 and -4 <= z < 0 for r, z in cells),
        any(r < 50 and -40 <= z < -38 for r, z in cells),
        any(20 <= r < 23 and -9 <= z < -6 for r, z in cells),
    ]
    block = Solid("block", ALUMINIUM, ring(r0, r0 + build, z0, z0 + height))
    found = design_faults(Stack((plate,), (pan, block)), section, WIRE, 64)
    assert len(found) == sum(hits)
    assert {fault.key for fault in found} <= {"solids.block.outline"}
