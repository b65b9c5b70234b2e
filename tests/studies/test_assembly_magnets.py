"""Magnets and the correction of a tag, from the study file."""

import pytest

from studies.assembly_magnets import LEFT_OUT
from studies.hazards import MAGNET_CAUTION, candidate_cautions
from studies.solving import solved_tag
from studies.specification import Correction
from tests.studies.conftest import FaultLister, Reader
from tests.studies.small import SMALL

BAR = """
[[magnets]]
name = "bar"
material = "sintered neodymium-iron-boron"
size = ["2 mm", "3 mm", "8 mm"]
place = ["7 mm", "0 mm", "1 mm"]
"""
WITH_BAR = SMALL.replace("[drive]", BAR + "\n[drive]", 1)
CORRECTED = 'chip = { load_resistance = "25 kohm", minimum_voltage = "0.2 V" }'


def corrected(text: str, correction: str) -> str:
    return text.replace(CORRECTED, f"{CORRECTED}\ncorrection = {correction}")


def test_a_bar_as_the_file_describes_it(read: Reader) -> None:
    (bar,) = read(WITH_BAR).base.magnets
    assert bar.size == (2e-3, 3e-3, 8e-3)
    assert bar.place == (7e-3, 0.0, 1e-3)
    assert bar.conductivity == pytest.approx(1.0 / 1.4e-6, rel=1e-9, abs=0.0)
    assert bar.material.relative_permeability == 1.05
    assert bar.temperature == 20.0


def test_a_material_by_its_constants(read: Reader) -> None:
    text = WITH_BAR.replace(
        '"sintered neodymium-iron-boron"', '{ conductivity = "5e5 S/m", relative_permeability = 1.1 }'
    )
    (bar,) = read(text).base.magnets
    assert bar.conductivity == pytest.approx(5e5, rel=1e-9, abs=0.0)
    assert bar.material.relative_permeability == 1.1


def test_a_run_with_magnets_warns_that_the_map_leaves_them_out(read: Reader) -> None:
    assert LEFT_OUT in read(WITH_BAR).base.warnings
    assert LEFT_OUT not in read(SMALL).base.warnings
    assert LEFT_OUT not in read(corrected(WITH_BAR, "{ inductance = 0.99 }")).base.warnings


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('["7 mm", "0 mm", "1 mm"]', '["4 mm", "0 mm", "1 mm"]', "magnets.bar.place: it overlaps the tag's winding"),
        ('["7 mm", "0 mm", "1 mm"]', '["7 mm", "0 mm"]', "three lengths [x, y, z]"),
        ('["2 mm", "3 mm", "8 mm"]', '["2 mm", "3 mm", "0 mm"]', "magnets.bar.size"),
        ('"sintered neodymium-iron-boron"', '"neodymium"', 'did you mean "sintered neodymium-iron-boron"'),
        ('"sintered neodymium-iron-boron"', "{}", "a table without constants"),
        ('name = "bar"', 'name = "bar"\nmagnetisation = "1 T"', "magnets.bar.magnetisation"),
    ],
)
def test_a_faulty_magnet_is_refused_with_its_key(faults: FaultLister, old: str, new: str, said: str) -> None:
    assert said in "\n".join(faults(WITH_BAR.replace(old, new)))


def test_two_magnets_have_two_names_and_two_places(faults: FaultLister) -> None:
    text = "\n".join(faults(WITH_BAR.replace(BAR, BAR + BAR)))
    assert '"bar" is the name of another' in text


def test_a_correction_scales_what_is_computed(read: Reader) -> None:
    """L by its factor, M by k's factor and the root of L's, R by what is added."""
    plain = read(SMALL).base
    other = read(corrected(SMALL, '{ inductance = 0.96, coupling = 0.9, added_resistance = "3 ohm" }')).base
    assert other.tag.correction == Correction(0.96, 0.9, 3.0)
    before = solved_tag(plain.tag, plain.frequency, 1e-3)
    after = solved_tag(other.tag, other.frequency, 1e-3)
    assert after.inductance == pytest.approx(0.96 * before.inductance, rel=1e-12, abs=0.0)
    assert after.resistance == pytest.approx(before.resistance + 3.0, rel=1e-12, abs=0.0)
    ratio = after.field.moments.moments[0] / before.field.moments.moments[0]
    assert ratio == pytest.approx(0.9 * 0.96**0.5, rel=1e-12, abs=0.0)


def test_what_a_correction_leaves_out_stays(read: Reader) -> None:
    assert read(corrected(SMALL, "{ coupling = 0.9 }")).base.tag.correction == Correction(coupling=0.9)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("{ inductance = 0 }", "tag.correction.inductance"),
        ("{ coupling = -1 }", "tag.correction.coupling"),
        ("{ added_resistance = 3 }", "has no unit"),
        ("{ resistance = 3 }", "tag.correction.resistance"),
    ],
)
def test_a_faulty_correction_is_refused(faults: FaultLister, given: str, said: str) -> None:
    assert said in "\n".join(faults(corrected(SMALL, given)))


def test_magnets_bring_their_caution(read: Reader) -> None:
    assert MAGNET_CAUTION in candidate_cautions(read(WITH_BAR).base, [])
    assert MAGNET_CAUTION not in candidate_cautions(read(SMALL).base, [])
