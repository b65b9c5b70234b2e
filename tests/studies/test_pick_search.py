"""The search on closed forms: what is best is known, and what it costs is counted."""

from collections.abc import Sequence
from pathlib import Path

import pytest

from studies.errors import RunError
from studies.pick_search import aims, front, search
from studies.pick_space import Space, in_steps, space_of
from studies.stored import StoredDesign
from studies.study import Study, read_study, study_of
from studies.verdict import Check

LIBRARY = Path(__file__).parents[2] / "studies" / "library"
DEMO = LIBRARY / "culture-bench.toml"


@pytest.fixture(scope="module")
def study() -> Study:
    return read_study(
        DEMO,
        [
            'sweep={"base_coil.mean_diameter"={from="24 mm",to="74 mm",count=2},'
            '"base_coil.turns"={from=20,to=90,count=2},"base_coil.under"=["plate","heater"]}'
        ],
    )


@pytest.fixture(scope="module")
def space(study: Study) -> Space:
    return space_of(study, 120)


class Hill:
    """Margin highest at a diameter of 55 mm and 70 turns; power falls with turns; no more than 75 turns allowed."""

    def __init__(self, space: Space) -> None:
        self.space = space
        self.solved: list[int] = []

    def __call__(self, indices: Sequence[int]) -> list[StoredDesign]:
        self.solved += indices
        return [self._one(index) for index in indices]

    def _one(self, index: int) -> StoredDesign:
        diameter, turns, under = (value for _, value in self.space.study.swept(index))
        margin = 9.0 - (100.0 * (float(diameter) - 0.055)) ** 2 - abs(float(turns) - 70.0) / 10.0
        margin -= 0.5 if under == "heater" else 0.0
        over = float(turns) > 75.0
        check = Check(
            "coil_voltage", "at_most", 75.0, float(turns), not over, 1.0 - 75.0 / float(turns) if over else 0.0
        )
        row = {"margin_dB": margin, "input_power_W": 10.0 / float(turns)}
        return StoredDesign(index, str(index), "done", "", row, (check,))


def test_finds_the_best_of_the_space_in_a_fraction_of_it(space: Space) -> None:
    for seed in range(3):
        hill = Hill(space)
        found = aims(front(search(space, hill, 140, seed))[0])
        assert found.margin == pytest.approx(9.0, abs=0.003)  # a step of the diameter costs as much
        assert len(hill.solved) == len(set(hill.solved)) == 140 < space.count / 100


def test_the_same_seed_searches_the_same_way(space: Space) -> None:
    one, other, third = Hill(space), Hill(space), Hill(space)
    search(space, one, 40, 3)
    search(space, other, 40, 3)
    search(space, third, 40, 4)
    assert one.solved == other.solved != third.solved


def test_a_space_smaller_than_the_tries_is_computed_whole() -> None:
    small = space_of(
        read_study(
            DEMO,
            [
                'sweep={"base_coil.mean_diameter"=["40 mm","55 mm"],"base_coil.turns"=[40,70,90],'
                '"base_coil.under"=["plate","heater"]}'
            ],
        ),
        20,
    )
    hill = Hill(small)
    tried = search(small, hill, 20, 0)
    assert sorted(hill.solved) == list(range(12))
    kept = front(tried)
    passing = [aims(one) for one in tried if one.passed]
    beaten = [one for one in passing if any(other.beats(one) for other in passing)]
    assert {(one.margin, one.power) for one in passing if one not in beaten} == {
        (aims(one).margin, aims(one).power) for one in kept
    }
    assert all(one.passed for one in kept)


def test_points_and_numbers_of_a_space_go_together(space: Space) -> None:
    for index in (0, 1, 17, space.count - 1):
        assert space.index(space.point(index)) == index
    inner = space.point(space.count // 2)
    assert all(sum(a != b for a, b in zip(inner, other, strict=True)) == 1 for other in space.neighbours(inner, 1))


@pytest.mark.parametrize(
    ("given", "first", "last", "count"),
    [
        ({"from": "24 mm", "to": "74 mm", "count": 6}, "24 mm", "74 mm", 101),
        ({"from": 20, "to": 110}, 20, 110, 91),
        ({"from": "1 mm", "to": "2.05 mm"}, "1 mm", "2.05 mm", 106),
        ({"from": 90, "to": 20}, 20, 90, 71),
        ({"from": "1 mm", "to": "2.003 mm"}, "1 mm", "2.003 mm", 102),
    ],
)
def test_a_range_goes_in_round_steps_from_end_to_end(
    given: dict[str, object], first: object, last: object, count: int
) -> None:
    values = in_steps(given)
    assert (values[0], values[-1], len(values)) == (first, last, count)


def test_a_study_that_sweeps_nothing_is_told(study: Study) -> None:
    text = DEMO.read_text()
    start, end = text.index("[sweep]"), text.index("[require]")
    nothing = study_of(text[:start] + text[end:], DEMO)
    with pytest.raises(RunError, match="sweeps nothing"):
        space_of(nothing, 10)
