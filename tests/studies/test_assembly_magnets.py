"""Magnets and the correction of a tag, from the study file."""

import pytest

from geometries.errors import GeometryError
from studies.assembly_magnets import LEFT_OUT
from studies.hazards import MAGNET_CAUTION, candidate_cautions
from studies.solving import solved_tag
from studies.specification import Correction
from studies.whole_space import meshed_magnets
from tests.studies.conftest import FaultLister, Reader
from tests.studies.small import SMALL

BAR = """
[[magnets]]
name = "bar"
material = "sintered neodymium-iron-boron"
size = ["2 mm", "3 mm", "8 mm"]
place = ["7 mm", "0 mm", "1 mm"]
"""
STEADY = """
[[magnets]]
name = "tag bar"
size = ["2 mm", "3 mm", "8 mm"]
place = ["7 mm", "0 mm", "1 mm"]
remanence = "1.2 T"
direction = [3, 0, -4]

[[magnets]]
name = "drive pole"
fixed_to = "drive"
shape = "cylinder"
diameter = "12 mm"
height = "8 mm"
place = ["20 mm", "0 mm", "-40 mm"]
remanence = "400 mT"
"""
WITH_STEADY = SMALL.replace("[drive]", STEADY + "\n[drive]", 1)
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


def test_magnets_of_the_tag_and_of_the_drive_with_their_remanence(read: Reader) -> None:
    base = read(WITH_STEADY).base
    (bar,), (pole,) = base.magnets, base.drive_magnets
    assert (bar.remanence, bar.shape, bar.fixed_to, bar.acts) == (1.2, "block", "tag", False)
    assert bar.direction == pytest.approx((0.6, 0.0, -0.8), rel=1e-12, abs=1e-12)
    assert bar.polarisation == pytest.approx((0.72, 0.0, -0.96), rel=1e-12, abs=1e-12)
    assert (pole.remanence, pole.shape, pole.fixed_to) == (0.4, "cylinder", "drive")
    assert (pole.size, pole.direction) == ((12e-3, 12e-3, 8e-3), (0.0, 0.0, 1.0))
    noted = {one.key: one.value for one in base.assumptions}
    assert noted["magnets.tag bar.material"] == "air"
    assert noted["magnets.drive pole.direction"] == "[0, 0, 1]"
    assert "magnets.drive pole.material" not in noted


def test_a_magnet_without_remanence_has_no_steady_field(read: Reader) -> None:
    base = read(WITH_BAR).base
    assert base.magnets[0].remanence == 0.0
    assert base.magnets[0].acts
    assert not any(one.key == "magnets.bar.direction" for one in base.assumptions)


def test_only_what_conducts_or_is_magnetic_is_left_out_of_the_map(read: Reader) -> None:
    assert LEFT_OUT not in read(WITH_STEADY).base.warnings


def test_magnets_of_a_drive_bring_the_caution_too(read: Reader) -> None:
    text = WITH_STEADY.replace(STEADY, STEADY[STEADY.rindex("[[magnets]]") :])
    base = read(text).base
    assert base.magnets == ()
    assert MAGNET_CAUTION in candidate_cautions(base, [])


def test_remanence_can_be_swept(read: Reader) -> None:
    text = SMALL[: SMALL.index("[sweep]")].replace("[drive]", STEADY + "\n[drive]", 1)
    study = read(text + '[sweep]\n"magnets.tag bar.remanence" = ["0 T", "1.2 T"]\n')
    assert [study.candidate(i).magnets[0].remanence for i in range(study.count)] == [0.0, 1.2]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[3, 0, -4]", "[0, 0, 0]", "magnets.tag bar.direction: a vector of no length; three numbers [x, y, z]"),
        ("[3, 0, -4]", "[0, 1]", "magnets.tag bar.direction: a list of 2 numbers; three numbers"),
        ("[3, 0, -4]", '["1 mm", 0, 0]', "a number (of a vector)"),
        ('"1.2 T"', '"3 T"', 'magnets.tag bar.remanence: "3 T" is out of bounds; a flux density of 0 mT to 2500 mT'),
        ('"1.2 T"', "1.2", "magnets.tag bar.remanence: 1.2 has no unit"),
        ('remanence = "1.2 T"\n', "", "magnets.tag bar.material: is missing: without it a magnet needs a remanence"),
        ('remanence = "1.2 T"\n', "", "magnets.tag bar.direction: is given without remanence; both or neither"),
        ('remanence = "400 mT"\n', "", "magnets.drive pole.remanence: is missing: a magnet of the drive acts by its"),
        ('fixed_to = "drive"', 'fixed_to = "motor"', "magnets.drive pole.fixed_to"),
        ('shape = "cylinder"', 'shape = "ring"', 'magnets.drive pole.shape: "ring" is not known here'),
        ('diameter = "12 mm"\n', "", "magnets.drive pole.diameter: is missing: a cylinder needs it; a length"),
        ('shape = "cylinder"\n', "", "magnets.drive pole.size: is missing: a block needs it"),
        ('shape = "cylinder"\n', "", "magnets.drive pole.height: height does not belong to a block; size with it"),
        (
            'fixed_to = "drive"',
            'fixed_to = "drive"\nmaterial = "air"',
            "material does not belong to a magnet of the drive",
        ),
        (
            '"400 mT"',
            '"400 mT"\ndirection = [1, 0, 0]',
            "magnets.drive pole.direction: a cylinder that is not magnetised",
        ),
        ('"-40 mm"]', '"3 mm"]', "magnets.drive pole.place: it reaches 7 mm above the plate's top surface"),
        ('"-40 mm"]', '"-6 mm"]', "magnets.drive pole.place: turning about the base coil's axis, it runs into plate"),
    ],
)
def test_a_faulty_steady_magnet_is_refused_with_its_key(faults: FaultLister, old: str, new: str, said: str) -> None:
    assert said in "\n".join(faults(WITH_STEADY.replace(old, new)))


def test_a_cylinder_that_conducts_is_not_meshed(read: Reader) -> None:
    text = WITH_BAR.replace('size = ["2 mm", "3 mm", "8 mm"]', 'shape = "cylinder"\ndiameter = "2 mm"\nheight = "8 mm"')
    with pytest.raises(GeometryError, match=r"magnets.bar.shape.*meshes blocks alone"):
        meshed_magnets(read(text).base)
    assert [magnet.name for magnet in meshed_magnets(read(WITH_STEADY).base)] == ["tag bar"]
    round_one = STEADY[: STEADY.rindex("[[magnets]]")].replace('["2 mm"', 'shape = "cylinder"\ndiameter = "2 mm"\n#')
    round_one = round_one.replace("size = ", "").replace("direction = [3, 0, -4]", 'height = "8 mm"')
    base = read(SMALL.replace("[drive]", round_one + "\n[drive]", 1)).base
    assert len(base.magnets) == 1
    assert meshed_magnets(base) == ()
    assert len(meshed_magnets(read(WITH_BAR).base)) == 1


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
