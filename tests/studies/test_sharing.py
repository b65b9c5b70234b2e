"""Which candidates share a field, how fields are solved for, and that a result says by which way it was computed."""

from dataclasses import replace

import pytest

from studies.pieces import piece_key
from studies.sharing import MANY_COILS, field_axes, field_count, fitting_formulation, shared_field, shared_stack
from studies.work import key_of
from tests.studies.small import SMALL

BASE = SMALL[: SMALL.index("[sweep]")]
FEW = BASE + '[sweep]\n"base_coil.mean_diameter" = { from = "30 mm", to = "60 mm", count = 9 }\n'


def swept(count: int, *more: str) -> str:
    diameters = f'"base_coil.mean_diameter" = {{ from = "30 mm", to = "60 mm", count = {count} }}'
    return BASE + "\n".join(["[sweep]", diameters, *more]) + "\n"


def said(text: str, formulation: str) -> str:
    return text.replace("accuracy = 0.02", f'accuracy = 0.02\nformulation = "{formulation}"')


@pytest.mark.parametrize(("count", "expected"), [(MANY_COILS - 1, "total field"), (MANY_COILS, "reaction field")])
def test_many_coils_to_a_stack_are_solved_together(read, count, expected):
    study = read(swept(count))
    assert study.formulation == expected
    assert {study.candidate(index).formulation for index in (0, count - 1)} == {expected}


def test_coils_count_by_the_stack(read):
    stacks = '"layers.plate.thickness" = ["4 mm", "5 mm", "6 mm"]'
    assert read(swept(3 * MANY_COILS // 4, stacks)).formulation == "total field"
    assert read(swept(MANY_COILS, stacks)).formulation == "reaction field"


def test_candidates_that_share_a_coil_s_field_do_not_count(read):
    turns = '"base_coil.turns" = { from = 20, to = 60, count = 41 }'
    study = read(swept(4, turns))
    assert study.count > MANY_COILS
    assert field_count(study) == 4
    assert study.formulation == "total field"
    assert field_axes(study) == (0,)


def test_drawn_coils_count_too(read):
    drawn = '[sampling]\nmethod = "latin hypercube"\n'
    text = BASE + drawn.replace("\n", f"\ncount = {2 * MANY_COILS}\n", 1)
    text += '[sweep]\n"base_coil.mean_diameter" = { from = "30 mm", to = "60 mm" }\n'
    study = read(text)
    assert study.count == 2 * MANY_COILS
    assert study.formulation == "reaction field"
    assert field_axes(study) == ()


@pytest.mark.parametrize("formulation", ["total field", "reaction field"])
@pytest.mark.parametrize("count", [3, 2 * MANY_COILS])
def test_what_the_file_says_wins(read, formulation, count):
    study = read(said(swept(count), formulation))
    assert fitting_formulation(study) == study.formulation == formulation
    assert study.base.formulation == study.candidate(count - 1).formulation == formulation


def test_another_formulation_is_refused_with_both_words(faults):
    (line,) = faults(said(FEW, "boundary elements"))
    assert "study.formulation" in line
    assert "total field" in line
    assert "reaction field" in line


def test_formulation_is_part_of_a_piece_s_key(read):
    few = read(FEW).candidate(3)
    assert piece_key(few, "") != piece_key(replace(few, formulation="reaction field"), "")
    by_total, by_reaction = (key_of(read(said(FEW, one)), 3)[0] for one in ("total field", "reaction field"))
    assert by_total == piece_key(few, "")
    assert by_reaction == piece_key(replace(few, formulation="reaction field"), "")


def test_groups_are_by_the_stack_where_coils_share_a_factorisation(read):
    more = '"layers.plate.thickness" = ["4 mm", "5 mm"]', '"base_coil.turns" = [40, 50]'
    study = read(said(swept(3, *more), "reaction field"))
    assert [study.swept_axes[axis].path[0] for axis in field_axes(study)] == ["layers"]
    study = read(said(swept(3, *more), "total field"))
    assert [study.swept_axes[axis].path[0] for axis in field_axes(study)] == ["base_coil", "layers"]


def test_what_candidates_share(read):
    one = read(FEW).candidate(0)
    wound = replace(one, coil=replace(one.coil, turns=50))
    wider = replace(one, coil=replace(one.coil, mean_diameter=0.05))
    other = replace(one, frequency=1.3e5)
    assert shared_field(one) == shared_field(wound) != shared_field(wider)
    assert shared_stack(one) == shared_stack(wider) != shared_stack(other)
    assert shared_field(None) is shared_stack(None) is None
    # Without a radial build the section follows from the turns.
    built = replace(one, coil=replace(one.coil, radial_build=None))
    assert shared_field(built) != shared_field(replace(built, coil=replace(built.coil, turns=50)))
