"""The loss ladder and the response picture: each step against a study solved that way, and what the pictures say."""

import numpy as np
import pytest

from studies.evaluation import Evaluation
from studies.figures_link import ladder_finding, loss_ladder, response
from studies.ladder import STEPS
from studies.rows import number
from studies.stored import StoredDesign
from tests.studies.conftest import Evaluator

PAN = (
    'solids=[{ name = "pan", material = "aluminium", '
    'outline = [["0 mm", "-14 mm"], ["60 mm", "-14 mm"], ["60 mm", "-12 mm"], ["0 mm", "-12 mm"]] }]'
)
PLACE = 'require.places=[{ height = "12 mm", offset = "6 mm", tilt = "20 deg" }]'
CENTRED = 'require.places=[{ height = "12 mm" }]'
POWER = "tag.chip.minimum_voltage=3 V"


@pytest.fixture(scope="session")
def stepped(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of(PAN, PLACE, POWER)


def rungs(found: Evaluation) -> list[float]:
    return [number(found.row, f"ladder_{step}_dB") for step, _ in STEPS if found.row[f"ladder_{step}_dB"] is not None]


def test_in_air_is_a_study_with_nothing_around(stepped: Evaluation, evaluation_of: Evaluator) -> None:
    """The small study's plate neither conducts nor magnetises: without the pan it is air."""
    air = evaluation_of(CENTRED, POWER)
    # 0.05 dB: the small study solves its fields to 2 %; the winding's proximity loss is taken as installed.
    assert rungs(stepped)[0] == pytest.approx(number(air.row, "margin_dB"), abs=0.05, rel=0.0)


def test_installed_and_detuned_is_the_study_on_the_axis(stepped: Evaluation, evaluation_of: Evaluator) -> None:
    centred = evaluation_of(PAN, CENTRED, POWER)
    assert rungs(stepped)[2] == pytest.approx(number(centred.row, "margin_dB"), abs=1e-6, rel=0.0)
    assert rungs(stepped)[0] > rungs(stepped)[1] + 0.2


def test_displaced_is_the_tuned_margin_and_the_last_is_as_fitted(stepped: Evaluation) -> None:
    assert rungs(stepped)[3] == pytest.approx(number(stepped.row, "margin_tuned_dB"), abs=1e-9, rel=0.0)
    assert rungs(stepped)[4] == pytest.approx(number(stepped.row, "margin_as_fitted_dB"), abs=1e-9, rel=0.0)
    assert rungs(stepped)[4] < rungs(stepped)[3]


def test_the_pictures_are_drawn_with_their_findings(stepped: Evaluation) -> None:
    stored = StoredDesign(0, "base", "done", "", stepped.row)
    ladder, swing = loss_ladder(stored), response(stepped.candidate, stored)
    assert ladder is not None
    assert swing is not None
    assert ladder[1].startswith(
        f"From {rungs(stepped)[0]:.1f} dB in air to {rungs(stepped)[-1]:.1f} dB: most is lost by"
    )
    assert "At 124.2 kHz the base is " in swing[1]
    curve = swing[0].axes[0].lines[0].get_ydata()
    assert float(np.max(curve)) == pytest.approx(0.0, abs=0.05)


def test_the_costliest_step_is_named() -> None:
    assert ladder_finding([("a", 10.0), ("b", 9.0), ("c", -1.0)]).endswith("most is lost by “c”, 10.0 dB")


def test_the_last_step_is_drawn_where_another_state_is_worse() -> None:
    rungs = {"ladder_in_air_dB": 9.0, "ladder_as_fitted_dB": 5.0}
    for worst, words in ((5.0, "to 5.0 dB"), (4.0, "to 4.0 dB")):
        drawn = loss_ladder(StoredDesign(0, "base", "done", "", rungs | {"ladder_worst_state_dB": worst}))
        assert drawn is not None
        assert words in drawn[1]
        assert len(drawn[0].axes[0].texts) == 2 * (3 if worst < 5.0 else 2)


def test_other_states_are_drawn_thin_and_named(stepped: Evaluation) -> None:
    stored = StoredDesign(0, "base", "done", "", stepped.row)
    cold = stepped.row | {"state": "cold", "base_resistance_ohm": 0.5 * number(stepped.row, "base_resistance_ohm")}
    drawn = response(stepped.candidate, stored, (stepped.row, cold))
    assert drawn is not None
    axes = drawn[0].axes[0]
    as_given, thin = axes.lines[0].get_ydata(), axes.lines[1].get_ydata()
    assert float(np.max(thin)) > float(np.max(as_given)) + 1.0
    assert axes.get_ylim()[1] > float(np.max(thin))
    assert "thin: cold" in [text.get_text() for text in axes.texts]


def test_nothing_is_drawn_of_nothing() -> None:
    assert loss_ladder(StoredDesign(0, "base", "done", "", {})) is None
