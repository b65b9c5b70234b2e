"""Places in a well: the study file's checks, and the map against the volume integral there."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fem.near_places import _gathered
from fem.sources import Rings
from fem.volume_integral import volume_mutual_inductance
from studies.coupling import coupling_of
from studies.solving import SolvedBase, solved_coils
from studies.study import Study, read_study
from tests.studies.conftest import LIBRARY
from tests.studies.small import SMALL

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]

BLOCK = (LIBRARY / "heat-block.toml").read_text(encoding="utf-8")
REFUSED = [
    ('"8 mm"]\ntilt', '"30 mm"]\ntilt', "map.offset: 30 mm off the axis the tag runs into solid block"),
    ('hole_diameter = "36 mm"', "", "map.height: the tag would stand in solid block or pass through it"),
    ('height = "12 mm", offset = "3 mm"', 'height = "12 mm", offset = "24 mm"', "map.offset: 24 mm off the axis"),
]


@pytest.mark.parametrize(("before", "after", "told"), REFUSED)
def test_a_tag_that_would_run_into_the_block_is_refused(
    faults: FaultLister, before: str, after: str, told: str
) -> None:
    text = BLOCK.replace('"8 mm", "12 mm", "16 mm"', '"5 mm", "12 mm", "16 mm"') if not after else BLOCK
    assert before in text
    found = faults(text.replace(before, after))
    assert len(found) == 1
    assert told in found[0]


def test_the_offset_advised_is_taken(read: Reader, faults: FaultLister) -> None:
    wide = BLOCK.replace('"8 mm"]\ntilt', '"30 mm"]\ntilt')
    advised = faults(wide)[0].rpartition("up to ")[2]
    assert 10.0 < float(advised.split()[0]) < 20.0
    read(BLOCK.replace('"8 mm"]\ntilt', f'"{advised}"]\ntilt'))


def thinned(rings: Rings | None) -> Rings:
    assert rings is not None
    return _gathered((rings,))


@pytest.mark.slow
def test_the_map_in_the_well_is_the_volume_integral() -> None:
    candidate = read_study(LIBRARY / "heat-block.toml", ("study.accuracy=0.05",)).base
    coils = solved_coils(candidate)
    coupling = coupling_of(candidate, coils)
    heights, offsets, tilts = np.array([0.008, 0.02]), np.array([0.0, 0.008]), np.array([0.0, 0.35])
    found = coupling.grid(heights, offsets, tilts).mutual_inductance
    ratio = coils.near.map_ratio(heights)
    assert coupling.near_tag.beside is not None
    for place in ((0, 1, 1),):
        height, offset, tilt = heights[place[0]], offsets[place[1]], tilts[place[2]]
        tag = replace(coils.tag.field, core=thinned(coils.tag.field.core), winding=thinned(coils.tag.field.winding))
        whole = volume_mutual_inductance(coils.base.field.sources, tag, height, offset, tilt)
        whole *= coils.tag.tag.turns * coils.base.turns * ratio[place[0]]
        assert abs(found[place] / whole - 1.0) < 1e-4


BATH = """[[solids]]
name = "bath"
material = "saline"
shape = "bath"
diameter = "70 mm"
height = "40 mm"

[base_coil]"""
"""Round the small study's tag."""


def bath_study(material: str) -> str:
    return SMALL.replace("[base_coil]", BATH.replace("saline", material), 1)


@pytest.mark.slow
def test_a_liquid_round_the_tag_corrects_m_and_widens_its_error(read: Reader) -> None:
    candidate = read(bath_study("sea water")).base
    coupling = coupling_of(candidate, solved_coils(candidate))
    assert coupling.liquid is not None
    height = np.array([0.015])
    share = coupling.liquid.share(height)[0]
    assert 1e-5 < abs(share) < 1e-2
    dry = coupling_of(candidate, replace(coupling.coils, base=without_liquid(coupling.coils.base)))
    grids = [c.grid(height, np.array([0.0]), np.array([0.0])).mutual_inductance[0, 0, 0] for c in (coupling, dry)]
    assert grids[0] / grids[1] == pytest.approx(1.0 + share, rel=1e-9, abs=0.0)
    errors = [c.relative_error(height, False)[0] for c in (coupling, dry)]
    assert errors[0] - errors[1] == pytest.approx(abs(share), rel=1e-9, abs=0.0)


def without_liquid(base: SolvedBase) -> SolvedBase:
    return replace(base, field=replace(base.field, sources=base.field.sources[:1]))


def test_a_metal_bath_round_the_tag_is_refused_with_the_bound(faults: FaultLister) -> None:
    told = faults(bath_study("gallium alloy"))
    assert len(told) == 1
    assert "map.height: the tag would stand in solid bath or pass through it" in told[0]
    assert "a liquid round the tag may conduct up to 123.266 S/m at this size" in told[0]
