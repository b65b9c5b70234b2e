"""The tag in the steady field of magnets: unbiased, biased, saturated."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest

from fem.core_bias import AppliedField, core_bias
from fem.magnet_field import magnet_flux_density
from geometries.magnet import Magnet, Triple
from geometries.materials import Material
from studies.bias import (
    BiasedTags,
    bias_columns,
    bias_places,
    bias_warnings,
    biased_specification,
    biased_tags,
    greatest_bias,
    saturated_specification,
)
from studies.solving import solved_tag
from studies.specification import Candidate, Place
from studies.study import read_study
from tests.studies.conftest import LIBRARY, Reader
from tests.studies.small import SMALL

AIR = Material("air")
CORE = """core = "drum"
centre_post_diameter = "2 mm"
centre_post_height = "2.4 mm"
flange_diameter = "6 mm"
flange_thickness = "0.8 mm"
winding_inner_diameter = "2.4 mm"
winding_outer_diameter = "5.2 mm"
"""
CORED = SMALL.replace('core = "none"\nwinding_inner_diameter = "4 mm"\nwinding_outer_diameter = "8 mm"\n', CORE)
PART = 'part = { inductance = "2.7 mH", dc_resistance = "11 ohm", diameter = "6 mm", height = "5 mm" }\n'
Z: Triple = (0.0, 0.0, 1.0)


def bar(place: Triple, remanence: float = 1.2, direction: Triple = Z, carrier: str = "tag") -> Magnet:
    """A cube of 6 mm of a tag or a drive."""
    size = (6e-3, 6e-3, 6e-3)
    found = Magnet("bar", AIR, size, place, remanence=remanence, direction=direction)
    return replace(found, fixed_to="drive") if carrier == "drive" else found


@pytest.fixture
def cored(read: Reader) -> Candidate:
    return read(CORED).base


def tags_of(candidate: Candidate) -> BiasedTags:
    found = biased_tags(candidate)
    assert found is not None
    return found


def with_drive(candidate: Candidate, *magnets: Magnet) -> Candidate:
    return replace(candidate, drive_magnets=magnets)


def test_nothing_is_biased_without_a_magnet_a_remanence_or_a_core(cored: Candidate, read: Reader) -> None:
    magnet = bar((0.0, 0.0, 0.03))
    assert biased_tags(cored) is None
    assert biased_tags(replace(cored, magnets=(replace(magnet, remanence=0.0),))) is None
    assert biased_tags(replace(read(SMALL).base, magnets=(magnet,))) is None
    hot = read(CORED, "tag.temperature=200 degC").base
    assert biased_tags(replace(hot, magnets=(magnet,))) is None


def test_the_three_states_and_their_columns(cored: Candidate) -> None:
    tags = tags_of(replace(cored, magnets=(bar((0.0, 0.0, 16e-3)),)))
    row = bias_columns(tags, cored.frequency)
    assert row["bias_flux_density_T"] == pytest.approx(tags.bias.applied.axial, rel=1e-12, abs=0.0)
    assert row["bias_transverse_flux_density_T"] == pytest.approx(0.0, abs=1e-12)
    assert tags.bias.core is not None
    assert row["core_incremental_permeability"] == tags.bias.core.permeability
    assert row["bias_core_flux_density_T"] == row["bias_least_core_flux_density_T"] == tags.bias.core.state.flux_density
    found = [row[f"tag_{state}_inductance_H"] for state in ("unbiased", "biased", "saturated")]
    assert found == sorted(found, reverse=True)
    omega = 2.0 * pi * cored.frequency
    assert row["tag_biased_q"] == pytest.approx(
        omega * row["tag_biased_inductance_H"] / row["tag_biased_resistance_ohm"], rel=1e-12, abs=0.0
    )
    assert tags.saturated.core_resistance == pytest.approx(0.0, abs=1e-9)
    assert tags.bias.place is None


@pytest.mark.slow
def test_inductance_falls_to_that_of_the_coil_in_air_as_the_bias_grows(cored: Candidate) -> None:
    """A solved drum core, biased by a magnet that grows; at the end its coil is as without the core."""
    unbiased = solved_tag(cored.tag, cored.frequency, 5e-3)
    built = cored.tag.construction
    assert built is not None
    bare = solved_tag(replace(cored.tag, construction=replace(built, core=None)), cored.frequency, 5e-3)
    found = [unbiased.inductance]
    for axial in (3e-3, 8e-3, 0.02, 0.04, 0.08, 0.2, 1.0, 5.0):
        bias = core_bias(unbiased.tag, AppliedField(axial, 0.0), cored.tag.temperature)
        assert bias is not None
        tag = biased_specification(cored.tag, bias.permeability)
        found.append(solved_tag(tag, cored.frequency, 5e-3).inductance)
    assert np.all(np.diff(found) < 0.0)
    assert found[0] > 5.0 * bare.inductance
    assert found[-1] == pytest.approx(bare.inductance, rel=2e-3, abs=0.0)
    saturated = solved_tag(saturated_specification(cored.tag), cored.frequency, 5e-3)
    assert saturated.inductance == pytest.approx(bare.inductance, rel=2e-3, abs=0.0)


@pytest.mark.slow
def test_a_stock_part_keeps_its_turns_when_biased(read: Reader) -> None:
    start = CORED.index("turns = 300")
    text = CORED[:start] + PART + CORED[CORED.index('chip = { load_resistance = "25') :]
    part = read(text).base.tag
    unbiased, saturated = (solved_tag(one, 134.2e3, 2e-2) for one in (part, saturated_specification(part)))
    assert saturated.tag.turns == pytest.approx(unbiased.tag.turns, rel=1e-12, abs=0.0)
    assert saturated.inductance < 0.3 * unbiased.inductance


def test_a_hot_part_is_biased_from_its_hot_permeability_and_keeps_its_cold_one(read: Reader) -> None:
    hot = read(CORED, "tag.temperature=100 degC").base.tag
    biased = biased_specification(hot, 50.0)
    assert biased.cold_core == hot.cold_core
    assert biased.cold_core is not None
    assert biased.cold_core.relative_permeability == 700.0


def test_a_drive_s_magnet_is_strongest_at_the_lowest_place(cored: Candidate) -> None:
    low, high = Place(8e-3, 0.0, 0.0), Place(40e-3, 0.0, 0.0)
    places = replace(cored.require, places=(high, low))
    candidate = with_drive(replace(cored, require=places), bar((0.0, 0.0, -30e-3), carrier="drive"))
    assert bias_places(candidate)[0].height == min(cored.grid.heights) == 6e-3
    bias = tags_of(candidate).bias
    assert bias.place == Place(6e-3, 0.0, 0.0)
    assert bias.core is not None
    assert 0.0 < bias.least_flux_density < 0.3 * bias.core.state.flux_density


def test_the_drive_is_turned_round_to_where_it_is_worst(cored: Candidate) -> None:
    """A pole off the axis: the tag at the same offset stands over it in one direction, whichever that is."""
    place = replace(cored.require, places=(Place(8e-3, 20e-3, 0.0),))
    base = replace(cored, require=place)
    tag = solved_tag(base.tag, base.frequency, 1e-2)
    found = [
        greatest_bias(with_drive(base, bar(at, carrier="drive")), tag)
        for at in ((20e-3, 0.0, -20e-3), (0.0, -20e-3, -20e-3), (-20e-3, 0.0, -20e-3))
    ]
    above = magnet_flux_density(bar((0.0, 0.0, -20e-3)), np.array([0.0, 0.0, 8e-3]))[2]
    for bias in found:
        assert bias.place == place.places[0]
        assert bias.applied.axial == pytest.approx(above, rel=0.02, abs=0.0)
        assert bias.applied.axial == pytest.approx(found[0].applied.axial, rel=1e-9, abs=0.0)


def test_a_leaning_tag_sees_a_vertical_field_by_its_cosine(cored: Candidate) -> None:
    """From far below the field is the same all over the tag."""
    far = Magnet("far", AIR, (0.1, 0.1, 0.1), (0.0, 0.0, -1.0), remanence=1.2, fixed_to="drive")
    tilt = radians(30.0)
    require = replace(cored.require, places=(Place(8e-3, 0.0, tilt),))
    base = with_drive(replace(cored, require=require, grid=replace(cored.grid, heights=(0.5,))), far)
    tag = solved_tag(base.tag, base.frequency, 1e-2)
    field = magnet_flux_density(far, np.array([0.0, 0.0, 8e-3]))[2]
    tilted = greatest_bias(base, tag)
    assert tilted.place == require.places[0]
    assert tilted.applied.axial == pytest.approx(field * np.cos(tilt), rel=1e-2, abs=0.0)
    assert tilted.applied.transverse == pytest.approx(field * np.sin(tilt), rel=1e-2, abs=0.0)


def test_a_leaning_tag_leans_outward(cored: Candidate) -> None:
    """A field that points away from the axis runs along a tag that leans outward by 90 degrees."""
    pole = bar((0.0, 0.0, -10e-3), carrier="drive")
    place = Place(8e-3, 30e-3, 0.5 * pi)
    base = with_drive(replace(cored, require=replace(cored.require, places=(place,))), pole)
    base = replace(base, grid=replace(base.grid, heights=(0.5,)))
    tag = solved_tag(base.tag, base.frequency, 1e-2)
    radial = magnet_flux_density(pole, np.array([30e-3, 0.0, 8e-3]))[0]
    assert radial > 0.0
    assert greatest_bias(base, tag).applied.axial == pytest.approx(radial, rel=0.05, abs=0.0)


def test_fields_of_tag_and_drive_add_up_along_the_axis(cored: Candidate) -> None:
    tag = solved_tag(cored.tag, cored.frequency, 1e-2)
    own, drive = bar((0.0, 0.0, 20e-3)), bar((0.0, 0.0, -30e-3), carrier="drive")
    require = replace(cored.require, places=(Place(6e-3, 0.0, 0.0),))
    base = replace(cored, require=require)
    alone = [greatest_bias(replace(base, magnets=(own,)), tag), greatest_bias(with_drive(base, drive), tag)]
    both = greatest_bias(with_drive(replace(base, magnets=(own,)), drive), tag)
    assert both.applied.axial == pytest.approx(sum(one.applied.axial for one in alone), rel=1e-9, abs=0.0)


def test_a_core_more_than_half_saturated_is_told_with_its_numbers(cored: Candidate) -> None:
    strong = tags_of(replace(cored, magnets=(bar((0.0, 0.0, 10e-3)),)))
    (text,) = bias_warnings(strong)
    assert strong.bias.core is not None
    assert f"{100.0 * strong.bias.core.state.saturated_share:.3g} % of saturation" in text
    assert "% less than unbiased" in text
    weak = tags_of(replace(cored, magnets=(bar((0.0, 0.0, 40e-3)),)))
    assert weak.bias.core is not None
    assert weak.bias.core.state.saturated_share < 0.5
    assert bias_warnings(weak) == ()


def test_a_core_whose_saturation_is_not_known_is_told_and_left(read: Reader) -> None:
    text = CORED.replace("[drive]", "[drive]", 1).replace(
        "turns = 300\n", "turns = 300\nmaterial = { relative_permeability = 900, loss_factor = 0.01 }\n", 1
    )
    candidate = replace(read(text).base, magnets=(bar((0.0, 0.0, 10e-3)),))
    tags = tags_of(candidate)
    assert tags.biased is tags.biased_specification is tags.bias.core is None
    row = bias_columns(tags, candidate.frequency)
    assert "core_incremental_permeability" not in row
    assert "tag_biased_inductance_H" not in row
    assert row["tag_saturated_inductance_H"] < row["tag_unbiased_inductance_H"]
    (said,) = bias_warnings(tags)
    assert "gives no saturation_flux_density" in said
    assert f"{1e3 * tags.bias.applied.axial:.3g} mT along" in said


def test_a_saturation_given_in_the_file_counts(read: Reader, faults: object) -> None:
    given = '{ relative_permeability = 900, saturation_flux_density = "0.3 T" }'
    text = CORED.replace("turns = 300\n", f"turns = 300\nmaterial = {given}\n", 1)
    built = read(text).base.tag.construction
    assert built is not None
    assert built.core is not None
    assert built.core.material.saturation(20.0) == 0.3
    alone = text.replace("relative_permeability = 900, ", 'conductivity = "1 S/m", ')
    assert "saturation_flux_density: is given without relative_permeability" in "\n".join(faults(alone))  # type: ignore[operator]


@pytest.mark.slow
def test_the_worked_example_says_what_is_computed() -> None:
    """The numbers of docs/examples/bar-magnets.md."""
    base = read_study(LIBRARY / "bar-magnets.toml", ()).base
    page = (LIBRARY.parents[1] / "docs" / "examples" / "bar-magnets.md").read_text(encoding="utf-8")
    tags = tags_of(base)
    core, biased = tags.bias.core, tags.biased
    assert core is not None
    assert biased is not None
    assert f"{1e3 * tags.bias.applied.transverse:.1f} mT across" in page
    alone = greatest_bias(replace(base, drive_magnets=()), tags.unbiased)
    assert f"{1e3 * alone.applied.transverse:.1f} mT of it from the bars" in page
    assert tags.bias.applied.axial == pytest.approx(0.0, abs=1e-9)
    share = f"{core.state.flux_density:.3f} T in the post, {100.0 * core.state.saturated_share:.1f} % of saturation"
    row = bias_columns(tags, base.frequency)
    assert f"| biased: {share} | {core.permeability:.1f} | {1e3 * biased.inductance:.3f} mH" in page
    for state in ("unbiased", "biased", "saturated"):
        inductance, quality = row[f"tag_{state}_inductance_H"], row[f"tag_{state}_q"]
        assert isinstance(inductance, float)
        assert f"{1e3 * inductance:.4g} mH | {quality:.3g} |" in page
    detuned = 100.0 * ((tags.unbiased.inductance / biased.inductance) ** 0.5 - 1.0)
    assert f"{detuned:.0f} % too high" in page
    along = replace(base, magnets=tuple(replace(one, direction=Z) for one in base.magnets), drive_magnets=())
    bias = greatest_bias(along, tags.unbiased)
    assert bias.core is not None
    assert f"their {-1e3 * bias.applied.axial:.1f} mT along" in page
    assert f"({bias.core.state.flux_density:.3f} T, permeability {bias.core.permeability:.3g})" in page
