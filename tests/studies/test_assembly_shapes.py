"""Solids by the name of their shape: what they become, what is assumed, what they are refused with."""

from collections.abc import Callable

import pytest

from geometries.shapes import Well, block_outline, revolved_volume
from studies.study import Study

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]

PAN = 'outline = [["0 mm", "-40 mm"], ["80 mm", "-40 mm"], ["80 mm", "-38 mm"], ["0 mm", "-38 mm"]]  # r, z'
SHAPES = [
    ('shape = "disc"\ndiameter = "160 mm"\nthickness = "2 mm"\ntop = "-38 mm"', 40.2124e-6),
    ('shape = "pan"\nouter_diameter = "160 mm"\nheight = "20 mm"\nwall_thickness = "2 mm"\nbottom = "-60 mm"', 58.1e-6),
    ('shape = "heat block"\nouter_diameter = "100 mm"\nheight = "60 mm"\nwell_diameter = "40 mm"', 454.484e-6),
    ('shape = "bath"\ndiameter = "80 mm"\nheight = "60 mm"\nround_bottom = true', 234.572e-6),
]


def shaped(full: str, text: str) -> str:
    """The full vocabulary with the pan given another way, of glass, which does not bar the tag's way."""
    return full.replace(PAN, text).replace('material = "aluminium"', 'material = "glass"')


@pytest.mark.parametrize(("text", "volume"), SHAPES)
def test_a_shape_takes_the_place_of_corners(read: Reader, full: str, text: str, volume: float) -> None:
    solid = read(shaped(full, text)).base.stack.solids[0]
    assert revolved_volume(solid.outline) == pytest.approx(volume, rel=1e-3, abs=0.0)
    assert solid.shape == text.split('"')[1]


def test_a_block_stands_on_the_plate_with_a_hemispherical_well_unless_told(read: Reader, full: str) -> None:
    base = read(shaped(full, SHAPES[2][0])).base
    assert base.stack.solids[0].outline == block_outline(0.1, 0.06, 0.0, Well(0.04, 0.02))
    assumed = {assumption.key: assumption.value for assumption in base.assumptions}
    assert assumed["solids.pan.bottom"] == "0 mm"
    assert assumed["solids.pan.well_depth"] == "20 mm"


BLOCK = 'shape = "heat block"\nouter_diameter = "100 mm"\nheight = "60 mm"\n'
REFUSED = [
    ("", ["solids.pan: neither outline nor shape is given"]),
    (f'{PAN}\nshape = "disc"', ["solids.pan.shape: both outline and shape are given"]),
    ('shape = "heatblock"', ['solids.pan.shape: "heatblock" is not known here', 'did you mean "heat block"']),
    ('shape = "disc"\ndiameter = "9 mm"\ntop = "0 mm"', ["solids.pan.thickness: is missing: a disc needs it"]),
    (f"{BLOCK}round_bottom = true", ["solids.pan.round_bottom: round_bottom does not belong to a heat block"]),
    (f'{BLOCK}well_depth = "9 mm"', ["solids.pan.well_depth: well_depth is given without well_diameter"]),
    (
        f'{BLOCK}well_diameter = "40 mm"\nwell_depth = "60 mm"',
        ["solids.pan.well_depth: 60 mm was given; it must be below the height of 60 mm"],
    ),
    (f'{BLOCK}well_diameter = "40 mm"\nwell_depth = "19 mm"', ["solids.pan.well_depth: 19 mm", "20 mm"]),
    (f'{BLOCK}bottom = "-1 mm"', ["solids.pan.shape: it overlaps layer 'plate' by 50 mm² of their section"]),
]


@pytest.mark.parametrize(("text", "clauses"), REFUSED)
def test_what_a_shape_is_refused_with(faults: FaultLister, full: str, text: str, clauses: list[str]) -> None:
    told = faults(shaped(full, text))
    assert len(told) == 1
    for clause in clauses:
        assert clause in told[0]


def test_a_size_beside_an_outline_is_refused(faults: FaultLister, full: str) -> None:
    told = faults(shaped(full, f'{PAN}\nheight = "3 mm"'))
    assert told[0].endswith("solids.pan.height: height does not belong to an outline; no size beside an outline")
