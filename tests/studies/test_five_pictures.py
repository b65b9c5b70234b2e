"""The five pictures that decide a review: their order, their findings, what is said where one is missing."""

import json
from dataclasses import replace
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest
from click.testing import CliRunner

from links.limits import reference_level_public
from studies.command import main
from studies.figures import DECIDING, Subject, base_source, candidate_pictures, scene_of_result
from studies.figures_link import response
from studies.figures_person import draw_public_level
from studies.figures_plane import plane_finding, plane_picture
from studies.figures_style import styled
from studies.findings import findings, worst_state_of_reach
from studies.outputs import PLANE
from studies.person_field import bench_of, reaches
from studies.reach_plane import Bound, Plane, plane_from, plane_record
from studies.rows import number
from studies.running import Outcome, run_study
from studies.store import arrays_of, read_run
from studies.stored_plane import keep_plane, plane_kept
from studies.study import read_study
from tests.studies.made_runs import arrays_for, bench, done
from tests.studies.seen import cut_texts, overlapping_texts
from tests.studies.small import SMALL


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """A small run whose wire is warm, so that there are two states: as given, and cold."""
    folder = tmp_path_factory.mktemp("five")
    text = SMALL.replace("[40, 60, 300]", "[60, 300]").replace("overall_diameter", "temperature = 90, overall_diameter")
    (folder / "small.toml").write_text(text.replace("= 90,", '= "90 degC",'), encoding="utf-8")
    return run_study(read_study(folder / "small.toml"), folder / "run", 1, fresh=False)


@pytest.fixture(scope="module")
def subject(outcome: Outcome) -> Subject:
    best = findings(outcome.run).best
    assert best is not None
    return Subject(best, outcome.run.study.candidate(best.index), arrays_of(outcome.run, best))


@pytest.fixture(scope="module")
def kept(outcome: Outcome, subject: Subject) -> Plane:
    found = plane_kept(outcome.run, subject.stored)
    assert isinstance(found, Plane)
    return found


def test_the_five_open_the_report_in_their_order(outcome: Outcome) -> None:
    page = outcome.report.read_text(encoding="utf-8")
    places = [page.index(f'id="{key}-') for key in DECIDING]
    assert list(DECIDING) == ["section", "profile", "ladder", "plane", "response"]
    assert places == sorted(places)
    assert places[-1] < page.index('id="field-')
    assert "is not drawn" not in page
    for key in DECIDING:
        assert (outcome.run.folder / "figures" / f"{key}.png").is_file()


def test_each_is_titled_with_its_finding_and_the_worst_case(subject: Subject, kept: Plane) -> None:
    pictures = {picture.key: picture for picture in candidate_pictures(subject, kept).pictures}
    row = subject.stored.row
    worst = f"{row['margin_dB']:.1f} dB at {row['worst_place']}"
    assert worst in pictures["section"].title
    assert worst in pictures["ladder"].title
    state = worst_state_of_reach(subject.stored, subject.arrays.states)
    heights = {row["state"]: row["required_read_height_m"] for row in subject.arrays.states}
    assert len(set(heights.values())) == 2
    assert heights[state] == min(heights.values())
    assert pictures["profile"].title.endswith(f"{row['required_line']}, {state}")
    assert "the tag is read up to" in pictures["plane"].title
    assert "cold" in pictures["response"].title or "no other state" in pictures["response"].title
    for picture in pictures.values():
        assert cut_texts(picture.figure) == [], picture.key
        assert overlapping_texts(picture.figure) == [], picture.key


def test_the_plane_goes_through_the_design_itself(subject: Subject, kept: Plane) -> None:
    """At the design's own diameter and power the plane's height is that of the run, whose turns come to the same."""
    column = int(np.argmin(np.abs(kept.diameters - kept.diameter)))
    line = int(np.argmin(np.abs(np.log(kept.powers / kept.power))))
    assert kept.diameters[column] == pytest.approx(kept.diameter, rel=1e-5, abs=0.0)
    assert kept.power == pytest.approx(number(subject.stored.row, "input_power_W"), rel=0.2, abs=0.0)
    reach = number(subject.stored.row, "required_read_height_m")
    assert kept.heights[line, column] == pytest.approx(reach, rel=5e-3, abs=0.0)


def test_a_plane_comes_back_from_its_record(kept: Plane) -> None:
    heights = kept.heights.copy()
    heights[0, 0] = np.nan
    hole = replace(kept, heights=heights)
    again = plane_from(json.loads(json.dumps(plane_record(hole), allow_nan=False)))
    for name in Plane.__slots__:
        if name == "bounds":
            assert again.bounds == hole.bounds
        else:
            np.testing.assert_allclose(getattr(again, name), getattr(hole, name), rtol=1e-5, atol=0.0)
    with pytest.raises(ValueError, match="reshape"):
        plane_from(plane_record(hole) | {"heights": [[0.05, 0.06]]})


def test_a_plane_is_computed_once(outcome: Outcome, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: object) -> Plane:
        raise AssertionError("computed again")

    monkeypatch.setattr("studies.stored_plane.plane_of", refuse)
    before = (outcome.run.folder / PLANE).read_bytes()
    keep_plane(outcome.run)
    assert (outcome.run.folder / PLANE).read_bytes() == before


def test_what_cannot_be_computed_is_told_and_the_run_goes_on(
    outcome: Outcome, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copytree(outcome.run.folder, tmp_path / "run")
    (tmp_path / "run" / PLANE).unlink()

    def fail(_: object) -> Plane:
        raise ArithmeticError("no such <coil>")

    monkeypatch.setattr("studies.stored_plane.plane_of", fail)
    run = read_run(tmp_path / "run")
    keep_plane(run)
    best = findings(run).best
    assert best is not None
    reason = plane_kept(run, best)
    assert isinstance(reason, str)
    assert "no such <coil>" in reason
    done_again = CliRunner().invoke(main, ["report", str(tmp_path / "run")])
    assert done_again.exit_code == 0
    page = (tmp_path / "run" / "report.html").read_text(encoding="utf-8")
    assert "Reading height over diameter and power is not drawn: it could not be computed" in page
    assert "no such &lt;coil&gt;" in page
    assert not (tmp_path / "run" / "figures" / "plane.png").exists()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "the run holds none"),
        ("{", "the run holds none"),
        ('{"design": "c0099", "found": {}}', "the run holds that of c0099"),
        ('{"design": "DESIGN", "found": {"diameter": 1}}', "plane.json is broken"),
    ],
)
def test_a_missing_or_broken_plane_is_told(
    outcome: Outcome, subject: Subject, tmp_path: Path, content: str | None, words: str
) -> None:
    copytree(outcome.run.folder, tmp_path / "run")
    (tmp_path / "run" / PLANE).unlink()
    if content is not None:
        (tmp_path / "run" / PLANE).write_text(content.replace("DESIGN", subject.stored.design), encoding="utf-8")
    reason = plane_kept(read_run(tmp_path / "run"), subject.stored)
    assert isinstance(reason, str)
    assert words in reason


def test_a_row_without_ladder_and_parts_says_what_is_missing() -> None:
    study = bench()
    candidate = study.candidate(0)
    shown = candidate_pictures(Subject(done(study, 0), candidate, arrays_for(candidate)), "it was not asked for")
    assert [sentence.split(" is not drawn: ")[0] for sentence in shown.missing] == [
        "The loss ladder",
        "Reading height over diameter and power",
        "Base and tag response",
    ]
    assert shown.missing[1].endswith(": it was not asked for.")


def test_a_plane_where_nothing_is_read_or_nothing_else_can_be_built_is_no_picture(kept: Plane) -> None:
    blind = replace(kept, heights=np.full_like(kept.heights, np.nan))
    assert plane_picture(blind) == "the tag is read at no diameter and power looked at"
    alone = replace(kept, diameters=kept.diameters[:1])
    assert plane_picture(alone) == "no other diameter can be built in its place"


def test_a_limit_on_the_power_stops_too(kept: Plane) -> None:
    """The line of a power's own limit lies level, and where it is the tightest it stops every diameter."""
    limit = Bound("input_power", 2.0 * kept.powers[0], "require.at_most.input_power")
    used = np.broadcast_to(kept.powers[:, None] / limit.value, kept.heights.shape)
    bound = replace(
        kept,
        bounds=(limit,),
        used=used[None, :, :],
        most_power=np.full(kept.diameters.size, limit.value),
        most_height=kept.heights[1],
        room=np.zeros(kept.diameters.size),
    )
    assert plane_finding(bound).endswith("where input power " + f"{limit.value:.3g} W stops it")


def test_the_section_shows_where_the_public_level_is(subject: Subject) -> None:
    """Along the drawn line the field, summed anew from the loops, is the reference level (ICNIRP 2010, table 7)."""
    from studies.drawing import section_figure, view_of

    whole, scene = base_source(subject), scene_of_result(subject)
    assert whole is not None
    source = replace(whole, ampere_turns=0.1 * whole.ampere_turns)  # all of the line is then in view
    with styled():
        view = view_of(scene)
        _, axes = section_figure(view)
        assert draw_public_level(axes, scene, source, view, [])
    level = reference_level_public(134.2e3)
    assert level == pytest.approx(27e-6, rel=1e-12, abs=0.0)
    line = np.concatenate([p.vertices for c in axes.collections for p in c.get_paths() if len(p.vertices)]) * 1e-3
    above = line[(line[:, 0] > 2e-3) & (line[:, 1] > 3e-3)]
    assert len(above) > 20
    size = source.loops.size(above[:, 0], above[:, 1]) * source.ampere_turns / np.sqrt(2.0)
    assert size == pytest.approx(np.full(len(above), level), rel=0.02, abs=0.0)
    bench_here = bench_of(scene.candidate.stack, scene.section)
    (reach,) = reaches(source.loops, scene.section, bench_here, source.ampere_turns, (27e-6,))
    assert line[:, 1].max() == pytest.approx(reach.height, rel=0.02, abs=0.0)
    weak = replace(source, ampere_turns=1e-6)
    assert not draw_public_level(axes, scene, weak, view, [])


def test_the_response_names_the_state_that_takes_most(subject: Subject) -> None:
    """A state whose tuning capacitor is a tenth larger is off resonance: it takes most from the base."""
    far = dict(subject.arrays.states[-1]) | {"state": "off", "tuning_capacitance_F": 1.1 * _capacitance(subject)}
    made = response(subject.candidate, subject.stored, (*subject.arrays.states, far))
    assert made is not None
    title = made[1].replace("−", "-")
    assert "\nworst state, off: base -" in title


def _capacitance(subject: Subject) -> float:
    return number(subject.stored.row, "tuning_capacitance_F")
