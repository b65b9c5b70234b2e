"""Coils that share a factorisation against the total field of each; and which ones are solved by themselves."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fem.base_solution import BaseSolution
from fem.coil_family import FamilyCoil
from fem.errors import AccuracyError
from geometries.materials import Material
from geometries.stack import Solid, Stack
from studies import shared_field as module
from studies.assembly_coil import winding_section
from studies.evaluation import Evaluation, evaluated
from studies.shared_field import shared_field
from studies.solving import base_field, nominal_tag
from studies.specification import Candidate
from studies.study import read_study
from tests.studies.conftest import LIBRARY

BENCH = (LIBRARY / "culture-bench.toml").read_text(encoding="utf-8")
DRAWN = """
[sampling]
method = "latin hypercube"
count = 1000
seed = 4

[sweep]
"base_coil.mean_diameter" = { from = "28 mm", to = "74 mm" }
"base_coil.radial_build" = { from = "2.6 mm", to = "5 mm" }
"base_coil.clearance" = { from = "0.5 mm", to = "1.5 mm" }
"base_coil.turns" = { from = 40, to = 70 }

"""
SWEEP, REQUIRE = BENCH.index("[sweep]"), BENCH.index("[require]")
ALUMINIUM = Material("aluminium", resistivity_20=2.8e-8)


@pytest.fixture
def candidate(read) -> Candidate:
    """The bench's base design, its field to be shared."""
    return replace(read(BENCH).base, formulation="reaction field")


def shared(candidate: Candidate) -> FamilyCoil | None:
    coil = candidate.coil
    section = winding_section(coil, candidate.stack, float(coil.turns or 1))
    return shared_field(candidate, nominal_tag(candidate.tag), section)


def beside(candidate: Candidate, inner: float, outer: float, bottom: float, top: float) -> Candidate:
    """The same with an aluminium ring [m]."""
    ring = Solid("ring", ALUMINIUM, ((inner, bottom), (outer, bottom), (outer, top), (inner, top)))
    return replace(candidate, stack=Stack(candidate.stack.layers, (*candidate.stack.solids, ring)))


# --- which ones are solved by themselves ---------------------------------------------------------------------------


def test_the_bench_s_coils_share_a_field(candidate):
    found = shared(candidate)
    assert isinstance(found, FamilyCoil)
    wider = shared(replace(candidate, coil=replace(candidate.coil, mean_diameter=0.050)))
    assert wider is not None
    assert wider.family is found.family
    assert max(found.inductance_error, *found.field_errors) <= 0.5 * candidate.accuracy


def test_the_total_field_is_taken_where_the_candidate_says_so(candidate):
    section = winding_section(candidate.coil, candidate.stack, 64.0)
    assert isinstance(base_field(candidate, section), FamilyCoil)
    assert isinstance(base_field(replace(candidate, formulation="total field"), section), BaseSolution)


def test_a_coil_beside_a_solid_is_solved_by_itself(candidate):
    assert shared(beside(candidate, 0.024, 0.027, -0.009, -0.0045)) is None
    assert shared(beside(candidate, 0.060, 0.065, -0.009, -0.0045)) is not None


def test_a_tag_in_a_well_is_solved_by_itself(candidate):
    assert shared(beside(candidate, 0.045, 0.060, 0.0005, 0.020)) is None


def test_a_solid_on_the_plate_below_the_tag_s_lowest_place_does_not_spoil_the_field(candidate):
    # It stands where the plate's field is looked at: either by itself, or told right.
    coated = beside(candidate, 0.045, 0.060, 0.0, 0.0005)
    found = shared(coated)
    if found is not None:
        section = winding_section(coated.coil, coated.stack, 64.0)
        alone = base_field(replace(coated, formulation="total field"), section)
        outer = found.family.problem.cell.outer_radius
        assert found.greatest_on_plate(outer) == pytest.approx(alone.greatest_on_plate(outer), rel=0.02, abs=0.0)


def test_where_nothing_acts_there_is_nothing_to_share(candidate):
    assert shared(replace(candidate, stack=Stack(candidate.stack.layers[:1]))) is None


def test_a_winding_that_touches_what_acts_is_solved_by_itself(candidate):
    section = winding_section(candidate.coil, candidate.stack, 64.0)
    heater = candidate.stack.layers[1].mid_height
    touching = section.raised(heater - section.top)
    assert shared_field(candidate, nominal_tag(candidate.tag), touching) is None


def test_a_family_that_cannot_be_solved_leaves_its_coils_to_themselves(candidate, monkeypatch):
    def refused(problem):
        raise AccuracyError("too fine")

    monkeypatch.setattr(module, "coil_family", refused)
    assert shared(replace(candidate, accuracy=1.2e-3)) is None


def test_a_coil_whose_error_is_above_the_accuracy_is_solved_by_itself(candidate, monkeypatch):
    good = shared(candidate)
    assert good is not None
    limit = max(good.inductance_error, *good.field_errors)
    same = module._family
    # The same family, asked for where it states a little more, then a little less than its share of the accuracy.
    problem = good.family.problem
    monkeypatch.setattr(module, "_family", lambda _: same(problem))
    assert shared(replace(candidate, accuracy=0.98 * limit / module.STATED_SHARE)) is None
    assert shared(replace(candidate, accuracy=1.02 * limit / module.STATED_SHARE)) is not None
    for error in (replace(good, inductance_error=1.0), replace(good, field_errors=(0.0, 0.0, 1.0))):
        stub = type("Family", (), {"coil": lambda _, section, told=error: told})()
        monkeypatch.setattr(module, "_family", lambda _, stub=stub: stub)
        assert shared(candidate) is None


# --- results -------------------------------------------------------------------------------------------------------

CHECKED = 20


@cache
def drawn(number: int, formulation: str) -> Evaluation:
    """One of twenty of the thousand coils, by either way."""
    study = STUDY[0]
    index = number * (study.count // CHECKED)
    return evaluated(replace(study.candidate(index), formulation=formulation))


STUDY = []


@pytest.fixture(scope="module")
def thousand(tmp_path_factory):
    file = tmp_path_factory.mktemp("drawn") / "study.toml"
    bench = BENCH[:SWEEP].replace("count = 56", "count = 5").replace("count = 31", "count = 3")  # maps take long
    file.write_text(bench + DRAWN + BENCH[REQUIRE:], encoding="utf-8")
    STUDY[:] = [read_study(file)]
    return STUDY[0]


def test_a_thousand_coils_share_their_fields(thousand):
    assert thousand.count == 1000
    assert thousand.formulation == "reaction field"


def mutual(evaluation: Evaluation) -> np.ndarray:
    """M at the required places [H]."""
    return np.array([place.mutual_inductance for place in evaluation.places])


@pytest.mark.slow
@pytest.mark.parametrize("number", range(CHECKED))
def test_twenty_of_a_thousand_coils_are_within_the_accuracy_of_their_total_fields(thousand, number):
    one, other = drawn(number, "reaction field"), drawn(number, "total field")
    accuracy = one.candidate.accuracy
    assert isinstance(one.coils.base.field, FamilyCoil)
    assert isinstance(other.coils.base.field, BaseSolution)
    assert one.row["base_inductance_H"] == pytest.approx(other.row["base_inductance_H"], rel=accuracy, abs=0.0)
    assert np.abs(mutual(one) / mutual(other) - 1.0).max() <= accuracy
    assert np.abs(mutual(one) / mutual(other) - 1.0).max() > 0.0
    # 1e-3 of M is 0.009 dB, and as much of the base coil's resistance the same again.
    for place, same in zip(one.places, other.places, strict=True):
        assert place.margin == pytest.approx(same.margin, rel=0.0, abs=0.02)
