"""Sampled sweeps: points spread through the ranges, the same ones every time."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from geometries.errors import GeometryError
from studies.checking import check_lines
from studies.faults import StudyFaults
from studies.store import study_hash
from studies.study import Study, study_of
from studies.swept import swept_axes

SWEEP = """
[sweep]
"base_coil.mean_diameter" = { from = "30 mm", to = "60 mm" }
"base_coil.turns" = { from = 40, to = 49 }
"base_coil.under" = ["plate", "heater"]
"""


def sampling(method="latin hypercube", count=40, seed=3):
    return f'[sampling]\nmethod = "{method}"\ncount = {count}\nseed = {seed}\n'


@pytest.fixture
def file(full):
    """The full vocabulary with three sampled keys in place of its sweep and its states."""
    head, _, tail = full.partition("[sweep]")
    require = "[require]" + tail.partition("[require]")[2] if "[require]" in tail else ""
    return head.partition("[temperatures")[0] + require.partition("[temperatures")[0] + SWEEP


@pytest.mark.parametrize("method", ["latin hypercube", "sobol"])
def test_points_fill_the_ranges_evenly(read, file, method):
    study = read(file + sampling(method))
    diameters, turns, under = (np.array(values) for _, values in study.axes)
    assert study.count == 40
    assert diameters.min() >= 0.030
    assert diameters.max() <= 0.060
    # A latin hypercube has one point in each of as many equal parts; Sobol's first 32 points likewise in 32 parts.
    parts = 40 if method == "latin hypercube" else 32
    assert len({int(v) for v in (diameters[:parts] - 0.030) / 0.030 * parts}) == parts
    assert set(turns) == set(range(40, 50))
    if method == "latin hypercube":
        assert set(Counter(turns.tolist()).values()) == {4}
        assert Counter(under.tolist()) == {"plate": 20, "heater": 20}


def test_each_candidate_takes_its_own_point(read, file):
    study = read(file + sampling())
    for index in (0, 17, 39):
        coil = study.candidate(index).coil
        swept = dict(study.swept(index))
        assert swept == {key: values[index] for key, values in study.axes}
        assert (coil.mean_diameter, coil.turns, coil.under) == tuple(swept.values())
    assert study.design_name(39) == "c0040"
    with pytest.raises(IndexError):
        study.candidate(40)


def test_same_seed_same_points_and_another_seed_others(read, file):
    first, again, other = (read(file + sampling(seed=seed)).axes for seed in (3, 3, 4))
    assert first == again
    assert first[0][1] != other[0][1]


def test_points_come_back_from_the_text_as_run(read, file):
    study = read(file + sampling())
    assert read(study.text).axes == study.axes


def test_values_have_six_digits_and_the_units_of_the_file(read, file):
    axis = swept_axes(read(file + sampling()))[0]
    assert axis.unit == "mm"
    assert all(text.endswith(" mm") and len(text.removesuffix(" mm")) <= 7 for text in axis.texts)


def test_a_sampled_list_keeps_its_few_values(read, file):
    assert swept_axes(read(file + sampling()))[2].texts in (("plate", "heater"), ("heater", "plate"))


def test_check_tells_of_the_sampling(read, file):
    lines = "\n".join(check_lines(read(file + sampling())))
    assert "Sampled: 40 points by latin hypercube, seed 3" in lines
    assert "Swept: base_coil.under, among heater, plate" in lines
    assert "Designs: 40," in lines


def test_impossible_points_are_failed_candidates(read, file):
    study = read(file.replace("to = 49", "to = 400") + sampling())
    impossible = 0
    for index in range(study.count):
        try:
            study.candidate(index)
        except GeometryError:
            impossible += 1
    assert 0 < impossible < study.count


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        (SWEEP + "[sampling]\ncount = 4\n", ["sampling.method: is missing"]),
        (SWEEP + sampling("random"), ['sampling.method: "random" is not known here', "latin hypercube"]),
        (SWEEP + sampling(count=0), ["sampling.count: 0 is out of bounds"]),
        (SWEEP + sampling(count=2_000_000), ["sampling.count: 2000000 is out of bounds"]),
        (SWEEP + sampling(count=400_000), ["sampling.count: 400000 designs with 3 swept keys each; at most 333333"]),
        (SWEEP + sampling() + "points = 3\n", ["sampling.points: is not a key known here"]),
        ("sampling = 3\n", ["sampling: a number where a table belongs"]),
        (sampling(), ["sampling: there is no [sweep] to sample"]),
        (
            SWEEP.replace('to = "60 mm"', 'to = "60 mm", count = 4') + sampling(),
            ["mean_diameter", "a range with count", "sampling.count says how many points"],
        ),
        (SWEEP.replace('"60 mm"', '"30 mm"') + sampling(), ["mean_diameter", "a range whose ends are the same"]),
        (SWEEP.replace('"60 mm"', '"60 ohm"') + sampling(), ["mean_diameter", "60 ohm"]),
        (SWEEP, ["mean_diameter", "a range without count"]),
        (SWEEP + sampling(seed=-1), ["sampling.seed: -1 is out of bounds", "of 0 to 4294967295"]),
        (
            SWEEP + '"sampling.count" = [3, 4]\n' + sampling(),
            ["sampling cannot be swept: it says how all of the sweep"],
        ),
    ],
)
def test_faults(faults, file, tables, words):
    text = file.replace(SWEEP, "")
    text = tables + text if tables.startswith("sampling") else text + tables
    told = "\n".join(faults(text))
    assert all(word in told for word in words), told


def test_a_faulty_sweep_is_not_called_missing(faults, file):
    axis = '[sweep]\n"base_coil.mean_diameter" = { from = "30 mm", to = "60 mm", count = 4 }\n'
    (told,) = faults(file.replace(SWEEP, axis) + sampling())
    assert "a range with count" in told


DEMO = Path(__file__).parents[2] / "studies" / "library" / "culture-bench.toml"


def listed(sweep: str, table: str = 'method = "listed"') -> Study:
    text = DEMO.read_text(encoding="utf-8")
    text = text[: text.index("[sweep]")] + text[text.index("[require]") :]
    return study_of(f"{text}\n[sweep]\n{sweep}\n[sampling]\n{table}\n", DEMO)


TWO = '"base_coil.mean_diameter" = ["40 mm", "50 mm", "40 mm"]\n"base_coil.turns" = [64, 64, 50]'


def test_listed_designs_take_the_nth_value_of_every_list() -> None:
    study = listed(TWO)
    assert study.count == 3
    assert [dict(study.swept(index)) for index in range(3)] == [
        {"base_coil.mean_diameter": 0.04, "base_coil.turns": 64},
        {"base_coil.mean_diameter": 0.05, "base_coil.turns": 64},
        {"base_coil.mean_diameter": 0.04, "base_coil.turns": 50},
    ]
    assert study.candidate(2).coil.turns == 50


def test_lists_of_other_lengths_and_a_count_beside_them_are_told() -> None:
    with pytest.raises(StudyFaults) as told:
        listed(TWO + '\n"drive.supply" = ["3 V", "4 V"]', 'method = "listed"\ncount = 3')
    text = str(told.value)
    assert "2 values" in text
    assert "sampling.count" in text


def test_listed_designs_have_a_folder_of_their_own() -> None:
    product = '"base_coil.mean_diameter" = ["40 mm", "50 mm"]\n"base_coil.turns" = [64, 50]'
    text = DEMO.read_text(encoding="utf-8")
    text = text[: text.index("[sweep]")] + text[text.index("[require]") :]
    assert study_hash(listed(product)) != study_hash(study_of(f"{text}\n[sweep]\n{product}\n", DEMO))
