"""The can round a tag in the study file: where it comes to lie, and what it is refused with."""

from collections.abc import Callable

import pytest

from geometries.tag import Tag
from studies.assembly_tag import tag_extent
from studies.study import Study

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]

CAN = '\n[tag.shield]\nmaterial = "copper"\ninner_diameter = "8 mm"\nwall_thickness = "0.5 mm"\nheight = "7 mm"\n'


def shielded(full: str, can: str) -> str:
    """The full vocabulary's tag in a can, its map raised so that the larger tag stays clear of the plate."""
    return full.replace("\n[drive]", f"{can}\n[drive]").replace('from = "5 mm"', 'from = "6 mm"')


def tag_of(study: Study) -> Tag:
    tag = study.base.tag.construction
    assert tag is not None
    return tag


@pytest.mark.parametrize(
    ("more", "bottom", "closed"),
    [
        ("", -3.75e-3, (True, False)),  # inside 6.5 mm, the tag in its middle
        ('open = "top"\ngap = "1 mm"', -3.5e-3, (True, False)),  # tag 4 mm high, 1 mm under it, 0.5 mm of floor
        ('open = "bottom"\ngap = "1 mm"', -3.5e-3, (False, True)),
        ('open = "both"', -3.5e-3, (False, False)),
        ('open = "none"', -3.5e-3, (True, True)),
    ],
)
def test_where_the_can_lies(read: Reader, full: str, more: str, bottom: float, closed: tuple[bool, bool]) -> None:
    can = tag_of(read(shielded(full, f"{CAN}{more}\n"))).shield
    assert can is not None
    assert can.bottom == pytest.approx(bottom, rel=1e-12, abs=0.0)
    assert can.top - can.bottom == pytest.approx(7e-3, rel=1e-12, abs=0.0)
    assert (can.closed_bottom, can.closed_top) == closed
    assert can.outer_radius == pytest.approx(4.5e-3, rel=1e-12, abs=0.0)
    assert sum(r == 0.0 for r, _ in can.outline) == 2 * sum(closed)


def test_the_tag_is_as_large_as_its_can(read: Reader, full: str) -> None:
    base = read(shielded(full, CAN)).base
    assert tag_of(read(shielded(full, CAN))).outer_radius == pytest.approx(4.5e-3, rel=1e-12, abs=0.0)
    assert tag_extent(base.tag).half_height == pytest.approx(3.75e-3, rel=1e-12, abs=0.0)


def test_a_stock_part_in_a_can(read: Reader, first_look: str) -> None:
    base = read(first_look.replace("[tag]\n", f"[tag]\nshield = {{ {', '.join(CAN.split(chr(10))[2:-1])} }}\n")).base
    assert base.tag.part is not None
    assert base.tag.part.shield is not None
    assert tag_extent(base.tag).radius == pytest.approx(4.5e-3, rel=1e-12, abs=0.0)


REFUSED = [
    (
        CAN.replace('"8 mm"', '"5.8 mm"'),
        ["tag.shield: it overlaps the core by 0.16 mm² of their section; its inside, 5.8 mm across"],
    ),
    (
        CAN.replace('"7 mm"', '"4.1 mm"') + 'gap = "0.1 mm"\nopen = "none"\n',
        ['tag.shield.gap: gap does not belong to a shield with open = "none"'],
    ),
    (CAN.replace('"7 mm"', '"0.5 mm"'), ["tag.shield.height: 0.5 mm was given; it must be above 0.5 mm"]),
    (
        CAN.replace('"copper"', '"glass"'),
        ["tag.shield.material: 'glass' neither conducts nor is magnetic", "relative_permeability other than 1"],
    ),
    (CAN.replace('"copper"', "{ relative_permeability = 1 }"), ["tag.shield.material: ", "neither conducts nor"]),
    (CAN.replace('"copper"', "{}"), ["tag.shield.material: a table without constants"]),
    (CAN.replace("material", "materal"), ["tag.shield.materal: is not a key", "did you mean material"]),
    (CAN + 'open = "left"\n', ['tag.shield.open: "left" is not known here; one of top, bottom, both, none']),
]


@pytest.mark.parametrize(("can", "clauses"), REFUSED)
def test_what_a_can_is_refused_with(faults: FaultLister, full: str, can: str, clauses: list[str]) -> None:
    told = "\n".join(faults(shielded(full, can)))
    for clause in clauses:
        assert clause in told


def test_a_can_that_overlaps_the_winding(faults: FaultLister, full: str) -> None:
    told = "\n".join(faults(shielded(full, CAN.replace('"8 mm"', '"4.8 mm"'))))
    assert "tag.shield: it overlaps the winding by" in told


def test_a_ferrite_can_above_its_curie_point_is_warned_about(read: Reader, full: str) -> None:
    """As a core is: what a state of heat does to a tag is an answer, no fault of the file."""
    can = CAN.replace('"copper"', '{ relative_permeability = 900, curie_temperature = "200 degC" }')
    hot = shielded(full, can).replace('"tag" = "60 degC"', '"tag" = "210 degC"')
    texts = read(hot, "temperatures=hot").base.warnings
    assert any(
        "is above the Curie point of constants of tag.shield.material, 200 degC: the can is no longer magnetic" in text
        for text in texts
    )
