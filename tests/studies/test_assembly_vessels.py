"""Vessels and pucks as a study file gives them: what they become, what is assumed, what they are refused with."""

from collections.abc import Callable
from math import radians

import pytest

from geometries.pucks import Puck
from geometries.vessels import Vessel
from studies.study import Study
from tests.studies.small import SMALL

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]

PUCK = '[puck]\nlength = "30 mm"\ndiameter = "12 mm"\n'
BEAKER = '[[vessels]]\nname = "glass"\nstandard = "ISO 3819 low form"\nsize = "250 ml"\n'
OWN = '[[vessels]]\nname = "glass"\nouter_diameter = "80 mm"\nheight = "90 mm"\n'
SOLIDS = """
[[solids]]
name = "lid"
shape = "disc"
material = "glass"
diameter = "60 mm"
thickness = "3 mm"
top = "3 mm"
"""


def with_parts(text: str) -> str:
    return SMALL.replace("[base_coil]", text + "\n[base_coil]", 1)


def test_a_standard_gives_the_sizes_and_the_rest_is_assumed(read: Reader) -> None:
    base = read(with_parts(BEAKER + PUCK)).base
    assert base.vessels == (Vessel("glass", "flat", 70e-3, 95e-3, pytest.approx(1.1e-3), pytest.approx(1.1e-3)),)
    assert base.puck == Puck("bar", 30e-3, 12e-3, 6e-3)
    assumed = {assumption.key: assumption.value for assumption in base.assumptions}
    assert assumed["vessels.glass.bottom_thickness"] == "1.1 mm"
    assert assumed["puck.tag_place.height"] == "6 mm"
    assert "puck.wander" in assumed


def test_what_is_given_is_taken(read: Reader) -> None:
    vessel = OWN + 'shape = "round"\nwall_thickness = "3 mm"\nbottom_thickness = "4 mm"\nneck = "29/32"\n'
    place = 'tag_place = { height = "5 mm", along = "6 mm", tilt = "90 deg" }\n'
    disc = f'[puck]\nshape = "disc"\ndiameter = "40 mm"\nheight = "12 mm"\n{place}'
    base = read(with_parts(vessel + disc + 'spindle_offset = "5 mm"\nwander = "1 mm"\n')).base
    assert base.vessels[0] == Vessel("glass", "round", 80e-3, 90e-3, 3e-3, 4e-3, pytest.approx(26e-3))
    assert base.puck == Puck("disc", 40e-3, 12e-3, 5e-3, 6e-3, pytest.approx(radians(90.0)), 5e-3, 1e-3)


def test_a_neck_of_a_standard_is_its_outside_less_two_walls(read: Reader) -> None:
    text = (
        '[[vessels]]\nname = "glass"\nstandard = "ISO 1773 round-bottom"\nsize = "500 ml"\nwall_thickness = "1.5 mm"\n'
    )
    assert read(with_parts(text + PUCK)).base.vessels[0].neck_diameter == pytest.approx(31e-3)


def test_a_flat_bottomed_flask_is_a_ball_less_what_its_flat_takes(read: Reader) -> None:
    text = '[[vessels]]\nname = "glass"\nstandard = "ISO 1773 flat-bottom"\nsize = "500 ml"\nflat = "60 mm"\n'
    (flask,) = read(with_parts(text + PUCK)).base.vessels
    cut = 52.5e-3 - (52.5e-3**2 - 30e-3**2) ** 0.5
    assert (flask.shape, flask.outer_diameter, flask.flat) == ("flask", pytest.approx(105e-3), 60e-3)
    assert flask.height == pytest.approx(170e-3 - cut)
    own = OWN + 'shape = "flask"\nflat = "50 mm"\n'
    assert read(with_parts(own + PUCK)).base.vessels[0].height == 90e-3, "an own height is what it is"


def test_without_a_puck_a_file_reads_as_before(read: Reader) -> None:
    base = read(with_parts(OWN)).base
    assert base.puck is None
    assert base.vessels == (Vessel("glass", "flat", 80e-3, 90e-3, 2e-3),)
    assert [a.key for a in base.assumptions if a.key.startswith("vessels")] == [
        "vessels.glass.shape",
        "vessels.glass.wall_thickness",
    ]


def test_a_puck_can_be_swept(read: Reader) -> None:
    text = with_parts(BEAKER + PUCK).replace("[sweep]", '[sweep]\n"puck.spindle_offset" = ["0 mm", "6 mm"]', 1)
    study = read(text)
    offsets = {study.candidate(i).puck.spindle_offset for i in (0, 6)}  # type: ignore[union-attr]
    assert offsets == {0.0, 6e-3}


REFUSED = [
    (BEAKER.replace("250 ml", "300 ml"), ['vessels.glass.size: ISO 3819 low form has no size "300 ml" here', "250 ml"]),
    (BEAKER.replace("250 ml", "250 cl"), ["vessels.glass.size: ", "no nominal size", "whole millilitres"]),
    (BEAKER.replace("low form", "lowform"), ["vessels.glass.standard: ", 'did you mean "ISO 3819 low form"']),
    (BEAKER + 'height = "9 mm"\n', ["vessels.glass.height: both height and a standard are given"]),
    (BEAKER.replace('size = "250 ml"\n', ""), ["vessels.glass.standard: standard is given without size"]),
    ('[[vessels]]\nname = "glass"\n', ["vessels.glass.outer_diameter: is missing", "standard and size"]),
    (OWN + 'neck = "29/33"\n', ['vessels.glass.neck: no joint is called "29/33"', 'did you mean "29/32"']),
    (OWN + 'neck = "90 mm"\n', ["vessels.glass.neck: a bore of 90 mm in a vessel 76 mm wide inside"]),
    (OWN + 'shape = "conical"\n', ["vessels.glass.neck: a conical vessel leans towards its neck"]),
    (OWN + 'stands = "on a shelf"\n', ["vessels.glass.stands: ", '"on the plate", or "in "']),
    (OWN + 'stands = "in block"\n', ['vessels.glass.stands: no solid is called "block"', "one of lid"]),
    (OWN + 'stands = "in lid"\n', ["vessels.glass.stands: solid lid has no well"]),
    (
        '[[vessels]]\nname = "glass"\nstandard = "ISO 4797 round-bottom"\nsize = "500 ml"\n',
        ["vessels.glass.neck: is missing: ISO 4797 round-bottom has several"],
    ),
    (BEAKER.replace("3819 low form", "1773 flat-bottom"), ["vessels.glass.flat: is missing: how wide the flat is"]),
    (OWN + 'shape = "flask"\n', ["vessels.glass.flat: is missing: how wide the flat is"]),
    (OWN + 'flat = "40 mm"\n', ["vessels.glass.flat: only a flask has a flat in its ball"]),
    (OWN + 'shape = "flask"\nflat = "80 mm"\n', ["vessels.glass.flat: a flat of 80 mm on a flask 80 mm wide"]),
    (
        OWN + 'shape = "flask"\nflat = "20 mm"\nwall_thickness = "3 mm"\nbottom_thickness = "1 mm"\n',
        ["vessels.glass.bottom_thickness: 1 mm leaves no level floor inside", "more than 1.73 mm"],
    ),
]


@pytest.mark.parametrize(("text", "clauses"), REFUSED)
def test_what_a_vessel_is_refused_with(faults: FaultLister, text: str, clauses: list[str]) -> None:
    found = faults(with_parts(SOLIDS + text + PUCK))
    assert any(all(clause in line for clause in clauses) for line in found), found
    assert len(found) <= 2


BAD_PUCKS = [
    ("", ["puck.length: is missing: a bar needs it"]),
    ('length = "30 mm"\nheight = "9 mm"\n', ["puck.height: height does not belong to a bar"]),
    ('shape = "disc"\n', ["puck.height: is missing: a disc needs it"]),
    ('shape = "cross"\n', ['puck.shape: "cross" is not known here']),
    ('length = "9 mm"\n', ["puck.length: a bar of 9 mm is shorter than it is thick"]),
    ('length = "30 mm"\ntag_place = { height = "10 mm" }\n', ["puck.tag_place: the tag, 8 mm × 2 mm, reaches"]),
    ('length = "30 mm"\ntag_place = { along = "14 mm" }\n', ["puck.tag_place: the tag", "all inside"]),
]


@pytest.mark.parametrize(("text", "clauses"), BAD_PUCKS)
def test_what_a_puck_is_refused_with(faults: FaultLister, text: str, clauses: list[str]) -> None:
    found = faults(with_parts(f'{OWN}[puck]\ndiameter = "12 mm"\n{text}'))
    assert any(all(clause in line for clause in clauses) for line in found), found


def test_a_puck_needs_a_vessel(faults: FaultLister) -> None:
    assert "puck: a puck without any vessel to lie in" in faults(with_parts(PUCK))[0]
