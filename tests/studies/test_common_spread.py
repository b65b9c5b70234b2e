"""A stock part's unknown inside is one factor on k: two designs with the same part differ by less than it."""

from dataclasses import replace
from math import log10
from pathlib import Path

import numpy as np
import pytest

from geometries.parts import part_constructions
from studies.compared import Side, sides
from studies.comparing import common_spread, compared, error_in_decibels, relative_error
from studies.evaluation import evaluated
from studies.figures_compare import ratio_of
from studies.study import read_study
from tests.studies.compared_runs import stored_run
from tests.studies.small import SMALL

DRUM = SMALL[SMALL.index("turns = 300\ncore") : SMALL.index("chip =")]
PART = 'part = { inductance = "2.7 mH", dc_resistance = "11 ohm", diameter = "6 mm", height = "5 mm" }\n'
WITH_PART = SMALL[: SMALL.index("[sweep]")].replace(DRUM, PART).replace('"0.2 V"', '"3 V"')
LOWER = WITH_PART.replace('clearance = "0.5 mm"', 'clearance = "4 mm"')


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Side, ...]:
    folder = tmp_path_factory.mktemp("spread")
    texts = {"first": WITH_PART, "lower": LOWER, "other": LOWER.replace('"11 ohm"', '"12 ohm"')}
    return sides(tuple(str(stored_run(folder / name, text)) for name, text in texts.items()))


@pytest.mark.slow
def test_the_difference_is_that_of_every_construction_the_part_may_have(pair: tuple[Side, ...], tmp_path: Path) -> None:
    found = compared(pair[:2]).pairs[0]
    assert found.spread > 0.05
    assert found.coupling_change is not None
    changes, levels = [], []
    for built in part_constructions(pair[0].candidate.tag.part):  # type: ignore[arg-type]
        k = []
        for name, text in (("first", WITH_PART), ("lower", LOWER)):
            file = tmp_path / f"{name}.toml"
            file.write_text(text, encoding="utf-8")
            base = read_study(file).base
            turns = replace(built, turns=300.0, series_resistance=11.0)
            k.append(
                float(
                    evaluated(replace(base, tag=replace(base.tag, part=None, construction=turns))).row[
                        "coupling_coefficient"
                    ]
                )
            )  # type: ignore[arg-type]
        levels.append(k[0])
        changes.append(20.0 * log10(k[1] / k[0]))
    assert max(levels) / min(levels) - 1.0 > 0.5 * found.spread  # the constructions do differ
    assert max(abs(change - found.coupling_change) for change in changes) < found.coupling_error
    assert found.coupling_error < float(error_in_decibels(np.array(found.spread)))
    assert not found.within_error


@pytest.mark.slow
def test_what_is_common_is_left_out_of_every_error(pair: tuple[Side, ...]) -> None:
    first, lower, other = pair
    spread = common_spread(first, lower)
    assert spread == first.stored.row["tag_spread"] == lower.stored.row["tag_spread"]
    assert common_spread(first, other) == 0.0
    assert np.allclose(relative_error(first) - relative_error(first, spread), spread, rtol=0.0, atol=1e-12)
    ratio = ratio_of(first, lower)
    assert ratio is not None
    assert (np.abs(ratio[0]) > ratio[1]).all()
    known = ratio_of(first, other)
    assert known is not None
    assert (known[1] > float(error_in_decibels(np.array(spread)))).all()
