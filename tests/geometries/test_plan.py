"""What is to be meshed of a stack, a coil and a tag, and how finely."""

from dataclasses import replace
from math import hypot

import pytest

from geometries.constants import skin_depth
from geometries.materials import Material
from geometries.plan import (
    BASE_WINDING,
    COARSE_CORNER,
    FINE_CORNER,
    OUTER_RADIUS_FACTOR,
    TAG_CORE,
    TAG_WINDING,
    acts,
    axis_plan,
    base_plan,
    is_sheet,
    stack_regions,
    stack_sheets,
    tag_plan,
    tag_regions,
)
from geometries.section import WindingSection
from geometries.stack import Layer, Solid, Stack
from geometries.tag import DrumCore, Tag

FREQUENCY = 134.2e3
COIL = WindingSection(0.0205, 0.0235, -0.008, -0.005)
ALUMINIUM = Material("aluminium", resistivity_20=2.8e-8)
STEEL = Material("steel", resistivity_20=7.2e-7, relative_permeability=50.0)
FERRITE = Material("ferrite", relative_permeability=900.0)
DRUM = Tag(WindingSection(0.0018, 0.0035, -0.0018, 0.0018), 300, DrumCore(FERRITE, 0.003, 0.004, 0.008, 0.001))
DEPTH = skin_depth(FREQUENCY, 1.0 / 2.8e-8)


def layer(kind="foil", material=ALUMINIUM, thickness=2e-5, **changes):
    sizes = {"ribbon_width": 2.5e-3, "pitch": 4e-3} if kind in ("meander", "rings") else {}
    return Layer("one", kind, material, -0.002, thickness, 0.07, **(sizes | changes))


@pytest.mark.parametrize(
    ("what", "expected"),
    [
        (layer(), True),
        (layer(thickness=0.999 * DEPTH / 3.0), True),
        (layer(thickness=1.001 * DEPTH / 3.0), False),
        (layer(material=STEEL, thickness=1e-6), False),
        (layer("solid"), False),
        (layer("meander", thickness=1e-3), True),
        (layer("rings"), True),
        (layer("gap", None), False),
        (layer(material=Material("mica")), False),
    ],
    ids=["thin foil", "just thin", "just thick", "magnetic", "solid", "meander", "rings", "gap", "insulator"],
)
def test_what_becomes_a_line_of_the_mesh(what, expected):
    assert is_sheet(what, FREQUENCY) is expected


def test_heat_makes_a_foil_thin():
    # Its resistivity grows, and the skin depth with it.
    warm = replace(ALUMINIUM, temperature_coefficient=0.004)
    thickness = 1.2 * DEPTH / 3.0
    assert not is_sheet(layer(material=warm, thickness=thickness), FREQUENCY)
    assert is_sheet(layer(material=warm, thickness=thickness, temperature=300.0), FREQUENCY)


def test_only_what_acts_is_meshed():
    assert not acts(0.0, False)
    assert acts(1.0, False)
    assert acts(0.0, True)
    stack = Stack(
        (
            Layer("plate", "solid", Material("glass"), 0.0, 4e-3, 0.09),
            Layer("gap", "gap", None, -4e-3, 1e-3, 0.09),
            Layer("pan", "solid", ALUMINIUM, -5e-3, 1e-3, 0.09),
            layer("meander"),
        ),
        (
            Solid("brick", Material("ceramic"), ((0.0, -0.03), (0.01, -0.03), (0.01, -0.02))),
            Solid("yoke", FERRITE, ((0.0, -0.03), (0.01, -0.03), (0.01, -0.02))),
        ),
    )
    assert [r.name for r in stack_regions(stack, FREQUENCY)] == ["layer pan", "solid yoke"]
    assert [s.name for s in stack_sheets(stack, FREQUENCY)] == ["layer one"]


def test_sheet_lies_at_the_layer_s_middle():
    sheet = stack_sheets(Stack((layer(thickness=3e-5, inner_radius=0.01),)), FREQUENCY)[0]
    assert (sheet.inner_radius, sheet.outer_radius) == (0.01, 0.07)
    assert sheet.height == pytest.approx(-0.002 - 1.5e-5, rel=1e-12, abs=0.0)


def test_conductors_are_as_fine_as_their_skin():
    thick = stack_regions(Stack((layer("solid", thickness=4e-3),)), FREQUENCY)[0]
    assert thick.surface_size == pytest.approx(1.2 * DEPTH, rel=1e-12, abs=0.0)
    assert thick.corner_size == pytest.approx(0.5 * DEPTH, rel=1e-12, abs=0.0)
    assert thick.relaxes
    # A body thinner than that is as fine as it is thin; a magnetic one has a smaller skin depth.
    assert stack_regions(Stack((layer("solid", thickness=1e-4),)), FREQUENCY)[0].surface_size == pytest.approx(1e-4)
    steel = stack_regions(Stack((layer("solid", STEEL, 4e-3),)), FREQUENCY)[0]
    assert steel.surface_size == pytest.approx(1.2 * skin_depth(FREQUENCY, 1.0 / 7.2e-7, 50.0), rel=1e-12, abs=0.0)


def test_tag_is_drawn_at_its_height():
    winding, core = tag_regions(DRUM, 0.025, FREQUENCY)
    assert (winding.name, core.name) == (TAG_WINDING, TAG_CORE)
    assert winding.outline == DRUM.section.raised(0.025).corners
    assert min(z for _, z in core.outline) == pytest.approx(0.022, rel=1e-12, abs=0.0)
    assert max(z for _, z in core.outline) == pytest.approx(0.028, rel=1e-12, abs=0.0)
    assert len(tag_regions(replace(DRUM, core=None), 0.025, FREQUENCY)) == 1


def test_core_corners_are_finer_than_its_edges():
    # Its shortest edge is the flange, 1 mm thick.
    assert tag_regions(DRUM, 0.0, FREQUENCY)[1].corner_size == pytest.approx(FINE_CORNER * 1e-3, rel=1e-9, abs=0.0)
    assert tag_regions(DRUM, 0.0, FREQUENCY, COARSE_CORNER)[1].corner_size == pytest.approx(
        COARSE_CORNER * 1e-3, rel=1e-9, abs=0.0
    )
    assert tag_regions(DRUM, 0.0, FREQUENCY)[1].surface_size == pytest.approx(0.5e-3, rel=1e-9, abs=0.0)


STACK = Stack((layer(),), (Solid("pan", ALUMINIUM, ((0.0, -0.03), (0.05, -0.03), (0.05, -0.028), (0.0, -0.028))),))


@pytest.mark.parametrize(
    "plan",
    [base_plan(STACK, COIL, FREQUENCY), tag_plan(DRUM, FREQUENCY), axis_plan(STACK, COIL, DRUM, 0.04, FREQUENCY)],
    ids=["base", "tag", "axis"],
)
def test_outer_half_circle_is_centred_and_far_from_everything(plan):
    corners = [corner for region in plan.regions for corner in region.outline]
    corners += [(sheet.outer_radius, sheet.height) for sheet in plan.sheets]
    heights = [z for _, z in corners]
    assert plan.centre == pytest.approx(0.5 * (min(heights) + max(heights)), abs=1e-15)
    reach = max(hypot(r, z - plan.centre) for r, z in corners)
    assert plan.outer_radius == pytest.approx(OUTER_RADIUS_FACTOR * reach, rel=1e-12, abs=0.0)


def test_what_each_plan_holds():
    assert [r.name for r in base_plan(STACK, COIL, FREQUENCY).regions] == [BASE_WINDING, "solid pan"]
    assert [r.name for r in tag_plan(DRUM, FREQUENCY).regions] == [TAG_WINDING, TAG_CORE]
    whole = axis_plan(STACK, COIL, DRUM, 0.04, FREQUENCY)
    assert [r.name for r in whole.regions] == [BASE_WINDING, "solid pan", TAG_WINDING, TAG_CORE]
    assert [s.name for s in whole.sheets] == ["layer one"]
    assert tag_plan(DRUM, FREQUENCY).sheets == ()
