"""``trivet compare``: what differs, what it costs, and its numbers against the runs' own tables."""

import csv
import json
import re
import shutil
from math import log10, radians
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray
from click.testing import CliRunner, Result

from studies.command import main
from studies.compared import Side, sides
from studies.figures_compare import common_places, ladder_difference, masked, ratio_of
from studies.figures_planes import height_error, heights_at, planes_beside
from studies.ladder import STEPS
from studies.pieces import piece_key
from studies.reach_plane import Bound, Plane, plane_of
from studies.specification import Candidate
from tests.studies.compared_runs import PLAIN, reduced_bench, stored_run
from tests.studies.seen import cut_texts
from tests.studies.small import SMALL

TURNS = SMALL[: SMALL.index("[sweep]")] + '[sweep]\n"base_coil.turns" = [40, 60, 300]\n'


_PLANES: dict[str, Plane] = {}


@pytest.fixture(autouse=True)
def planes_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each design's plane is solved once for all tests of this file."""

    def once(candidate: Candidate) -> Plane:
        key = piece_key(candidate, "")
        if key not in _PLANES:
            _PLANES[key] = plane_of(candidate)
        return _PLANES[key]

    monkeypatch.setattr("studies.stored_plane.plane_of", once)


def invoked(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["compare", *(str(one) for one in arguments)])


def as_json(*arguments: str | Path) -> dict[str, Any]:
    done = invoked(*arguments, "--json")
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Small runs by their names."""
    folder = tmp_path_factory.mktemp("compare")
    stored_run(folder / "plain", PLAIN)
    stored_run(folder / "wide", PLAIN.replace('mean_diameter = "40 mm"', 'mean_diameter = "50 mm"'))
    stored_run(folder / "same", PLAIN.replace('"40 mm"', '"4 cm"').replace('name = "small"', 'name = "other"'))
    stored_run(folder / "asked_higher", PLAIN.replace('height = "15 mm"', 'height = "20 mm"'))
    stored_run(folder / "carrier", PLAIN.replace("134.2 kHz", "125 kHz"))
    stored_run(folder / "turns", TURNS)
    stored_run(folder / "demanding", TURNS.replace('"200 V"', '"20 V"'))
    stored_run(folder / "part", TURNS, designs=1)
    other_map = PLAIN.replace('{ from = "6 mm", to = "30 mm", count = 4 }', '["10 mm", "14 mm", "40 mm"]')
    stored_run(folder / "other_map", other_map.replace('"0 mm", "8 mm"', '"0 mm", "6 mm", "12 mm"'))
    return folder


def row_of(run: Path, design: str = "c0001") -> dict[str, str]:
    with (run / "designs.csv").open(encoding="utf-8", newline="") as file:
        return next(row for row in csv.DictReader(file) if row["design"] == design)


def test_a_run_against_itself_is_the_same(runs: Path) -> None:
    done = invoked(runs / "plain", runs / "plain")
    assert done.exit_code == 0, done.output
    assert "The designs are the same: no value of their studies differs, and no stored number does." in done.output
    assert "There is no loss." in done.output
    found = as_json(runs / "plain", runs / "plain")
    assert found["same"] is True
    assert found["differences"] == []
    (pair,) = found["pairs"]
    assert pair["margin_change_dB"] == pair["coupling_change_dB"] == 0.0
    assert all(change == 0.0 for change in pair["ladder_change_dB"].values())
    assert found["places"][0]["changes"][0]["coupling_change_dB"] == 0.0


def test_the_same_in_other_units_and_by_another_name(runs: Path) -> None:
    found = as_json(runs / "plain", runs / "same")
    assert found["same"] is True


def test_the_numbers_are_those_of_the_tables(runs: Path) -> None:
    found = as_json(runs / "plain", runs / "wide")
    rows = [row_of(runs / name) for name in ("plain", "wide")]
    for side, row in zip(found["sides"], rows, strict=True):
        for name in ("coupling_coefficient", "margin_dB", "base_inductance_H", "coil_voltage_V"):
            assert side[name] == float(row[name])
        assert side["worst_place"] == row["worst_place"]
    (pair,) = found["pairs"]
    k = [float(row["coupling_coefficient"]) for row in rows]
    assert pair["coupling_change_dB"] == pytest.approx(20.0 * log10(k[1] / k[0]), rel=1e-9, abs=0.0)
    margins = [float(row["margin_dB"]) for row in rows]
    assert pair["margin_change_dB"] == pytest.approx(margins[1] - margins[0], rel=1e-9, abs=0.0)
    for step, change in pair["ladder_change_dB"].items():
        levels = [float(row[f"ladder_{step}_dB"]) for row in rows]
        assert change == pytest.approx(levels[1] - levels[0], rel=1e-9, abs=1e-12)
    errors = [float(row["coupling_coefficient_rel_error"]) for row in rows]
    assert pair["coupling_error_dB"] == pytest.approx(-20.0 * sum(log10(1.0 - e) for e in errors), rel=1e-9, abs=0.0)


def test_levels_at_places_are_those_of_the_maps(runs: Path) -> None:
    """The maps read by xarray and interpolated by it; k of the worst lean from |M| and both inductances."""
    found = as_json(runs / "plain", runs / "wide")
    (place,) = found["places"]
    at = {"height": 0.015, "offset": 0.002, "tilt": radians(5.0)}
    assert {"height": place["height_m"], "offset": place["offset_m"]} == {"height": 0.015, "offset": 0.002}
    for number, name in enumerate(("plain", "wide")):
        row = row_of(runs / name)
        with xarray.open_dataset(runs / name / "maps.nc") as maps:
            one = maps.isel(design=0)
            mutual = np.hypot(one.worst_mutual_inductance_re, one.worst_mutual_inductance_im)
            k = mutual / np.sqrt(float(row["base_inductance_H"]) * one.tag_inductance)
            level = float((20.0 * np.log10(k)).interp(at))
            assert place["margin_dB"][number] == pytest.approx(float(one.worst_margin.interp(at)), rel=1e-9, abs=0.0)
        assert 20.0 * log10(place["coupling_coefficient"][number]) == pytest.approx(level, rel=1e-6, abs=0.0)


@pytest.mark.slow
def test_placement_alone(tmp_path: Path) -> None:
    bench = reduced_bench()
    heater = stored_run(tmp_path / "heater", bench)
    plate = stored_run(tmp_path / "plate", bench.replace('under = "heater"', 'under = "plate"'))
    found = as_json(plate, heater)
    assert [(one["key"], one["values"]) for one in found["differences"]] == [("base_coil.under", ["plate", "heater"])]
    (answer,) = found["answers"]
    lost = float(row_of(plate)["margin_dB"]) - float(row_of(heater)["margin_dB"])
    assert 0.005 < lost < 1.0
    assert answer.startswith("One value differs, base_coil.under: plate against heater. ")
    assert f"B loses {lost:.2f} dB of margin" in answer


def test_verdicts_are_of_all_designs_in_common(runs: Path) -> None:
    first, second = (f"{runs / name}:c0001" for name in ("turns", "demanding"))
    found = as_json(first, second)
    (pair,) = found["pairs"]
    assert pair["designs_in_common"] == 2  # of three, one of which cannot be built
    voltages = {name: float(row_of(runs / "turns", name)["coil_voltage_V"]) for name in ("c0001", "c0002")}
    stopped = [[name, name] for name, voltage in voltages.items() if 20.0 < voltage <= 200.0]
    assert stopped
    assert pair["verdicts_lost"] == stopped
    assert as_json(second, first)["pairs"][0]["verdicts_gained"] == stopped
    assert [one["key"] for one in found["differences"]] == ["require.at_most.coil_voltage"]
    assert "The designs are the same; only what is asked" in found["answers"][0]
    told = f"Verdicts in B, of 2 designs common to both runs: {len(stopped)} lost"
    assert told in invoked(first, second).output


def test_a_design_that_one_run_sweeps_to_and_the_other_has(runs: Path) -> None:
    found = as_json(runs / "plain", f"{runs / 'turns'}:c0001")
    assert found["pairs"][0]["designs_in_common"] == 1
    assert [one["key"] for one in found["differences"]] == ["sweep.base_coil.turns"]


def test_designs_of_one_run(runs: Path) -> None:
    found = as_json(f"{runs / 'turns'}:c0001", f"{runs / 'turns'}:c0002")
    assert [(one["key"], one["values"]) for one in found["differences"]] == [("base_coil.turns", ["40", "60"])]


def test_another_place_asked_for_is_no_loss_of_the_design(runs: Path) -> None:
    found = as_json(runs / "plain", runs / "asked_higher")
    (answer,) = found["answers"]
    assert answer.startswith("The designs are the same; only what is asked (require.places.1.height) differs. ")
    assert "They ask for other places: margin at the worst place of each, " in answer
    assert answer.endswith("; at the same places no loss could be told.")
    assert "loses" not in answer
    assert any(
        "though of two places" in text for text in invoked(runs / "plain", runs / "asked_higher").output.split(";")
    )
    wider = as_json(runs / "asked_higher", runs / "wide")["answers"][0]
    assert re.search(r"at the same places B changes by \+\d\.\d\d dB to \+\d\.\d\d dB\.$", wider), wider


def test_another_carrier_makes_another_design(runs: Path) -> None:
    found = as_json(runs / "plain", runs / "carrier")
    assert (found["differences"][0]["key"], found["differences"][0]["kind"]) == ("study.frequency", "design")
    assert found["answers"][0].startswith("One value differs, study.frequency: 134.2 kHz against 125 kHz. ")


def test_three_are_compared_with_the_first(runs: Path) -> None:
    found = as_json(runs / "plain", runs / "wide", f"{runs / 'turns'}:c0002")
    assert [(pair["reference"], pair["side"]) for pair in found["pairs"]] == [("A", "B"), ("A", "C")]
    diameter = next(one for one in found["differences"] if one["key"] == "base_coil.mean_diameter")
    assert diameter["values"] == ["40 mm", "50 mm", "40 mm"]


def test_other_grids_are_told(runs: Path) -> None:
    found = as_json(runs / "plain", runs / "other_map")
    assert found["same_grids"] is False
    assert any("compared on their common part, interpolated" in text for text in found["doubts"])
    change = found["places"][0]["changes"][0]
    assert abs(change["coupling_change_dB"]) < 0.3  # interpolated over 4 to 26 mm on a curve that falls by 10 dB


def test_an_incomplete_run_says_so(runs: Path) -> None:
    found = as_json(runs / "turns", runs / "part")
    assert [side["complete"] for side in found["sides"]] == [True, False]
    assert any("The run of B is incomplete: 1 of 3" in text for text in found["doubts"])


def test_another_version_of_the_physics_is_told(runs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studies.pieces.PHYSICS_VERSION", 1)
    old = stored_run(tmp_path / "old", PLAIN)
    monkeypatch.undo()
    found = as_json(runs / "plain", old)
    assert [side["physics_version"] for side in found["sides"]][1] == "1"
    assert any("different versions of the physics" in text for text in found["doubts"])


def test_cautions_are_shown_once(runs: Path) -> None:
    output = invoked(runs / "plain", runs / "wide").output
    assert output.count("Caution: The tuned coil reaches") == 1
    assert output.count("Caution: This is a calculation") == 1


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("plain",), "1 run to compare; give 2 to 10"),
        (("plain", "nowhere"), "nowhere is not a folder; a run lies in results/<study>/<run>"),
        (("plain", "empty"), "empty holds no run that can be read (run.json"),
        (("plain", "broken"), "broken: a stored candidate is broken"),
        (("plain", "plain:c0009"), 'no design of small is called "c0009"; c0001 to c0001 are'),
        (("plain", "turns:c0003"), "turns failed, there is nothing to compare: base_coil.turns: 300 turns"),
        (("plain", "part:c0002"), "part has not been computed yet"),
        (("plain", "none"), "holds no design that was computed (0 of 1 are stored)"),
    ],
)
def test_what_is_refused(given: tuple[str, ...], told: str, runs: Path) -> None:
    (runs / "empty").mkdir(exist_ok=True)
    for name, piece in (("broken", b"trivet piece\nrubbish"), ("none", None)):
        folder = runs / name
        (folder / "designs").mkdir(parents=True, exist_ok=True)
        for file in ("run.json", "study.toml"):
            (folder / file).write_bytes((runs / "plain" / file).read_bytes())
        if piece is not None:
            (folder / "designs" / "c0001.npz").write_bytes(piece)
    done = invoked(*(runs / one for one in given))
    assert done.exit_code == 2, done.output
    assert told in done.stderr
    assert "Traceback" not in done.output


# -- the page ---------------------------------------------------------------------------------------------------------


def page_of(folder: Path, *arguments: str | Path) -> str:
    done = invoked(*arguments, "--out", folder)
    assert done.exit_code == 0, done.output
    assert f"Page: {folder / 'compare.html'}" in done.output
    return (folder / "compare.html").read_text(encoding="utf-8")


def test_a_page_of_two_names_the_difference_and_shows_the_ladder_first(runs: Path, tmp_path: Path) -> None:
    page = page_of(tmp_path, runs / "plain", runs / "wide")
    assert "One value differs, base_coil.mean_diameter: 40 mm against 50 mm." in page
    keys = ("ladder", "margin", "plane", "response", "maps", "cuts")
    places = [page.index(f'id="B-{key}-') for key in keys]
    assert places == sorted(places)
    assert page.index('id="A-section-') < page.index('id="B-section-')
    assert page.index("Before anyone builds") < page.index("<main>")
    assert not re.search(r'(src|href)="(https?:)?//', page)


def test_a_page_of_a_run_against_itself_has_no_difference_to_draw(runs: Path, tmp_path: Path) -> None:
    page = page_of(tmp_path, runs / "plain", runs / "plain")
    assert "Nothing: every value is the same." in page
    assert "There is no loss." in page
    assert 'id="B-ladder-' not in page
    assert 'id="B-maps-' not in page


def test_a_page_of_three_and_of_other_grids(runs: Path, tmp_path: Path) -> None:
    page = page_of(tmp_path, runs / "plain", runs / "wide", runs / "other_map")
    assert "B against A" in page
    assert "C against A" in page
    assert "they are compared on their common part" in page


def test_names_with_markup_are_shown_never_executed(runs: Path, tmp_path: Path) -> None:
    odd = runs / "<img src=x onerror=alert(1)>"
    if not odd.exists():
        shutil.copytree(runs / "wide", odd)
    page = page_of(tmp_path, runs / "plain", odd)
    assert "<img" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page


def both(runs: Path, *names: str) -> tuple[Side, ...]:
    return sides(tuple(str(runs / name) for name in names))


def test_the_ratio_is_that_of_the_maps_and_is_hidden_within_the_error(runs: Path) -> None:
    """Both maps read by xarray: k of the worst lean from |M| and both inductances."""
    reference, other = both(runs, "plain", "wide")
    places, found = common_places(reference, other), ratio_of(reference, other)
    assert places is not None
    assert found is not None
    ratio, error = found
    levels = []
    for name in ("plain", "wide"):
        with xarray.open_dataset(runs / name / "maps.nc") as maps:
            one = maps.isel(design=0).sel(tilt=places[2])
            mutual = np.hypot(one.worst_mutual_inductance_re, one.worst_mutual_inductance_im)
            k = mutual / np.sqrt(float(row_of(runs / name)["base_inductance_H"]) * one.tag_inductance)
            levels.append(20.0 * np.log10(k.transpose("height", "offset").values))
    assert ratio == pytest.approx(levels[1] - levels[0], rel=0.0, abs=1e-6)
    assert not masked(ratio, error).all()
    assert masked(ratio, np.abs(ratio) + 1e-9).all()
    assert masked(np.array([np.nan, 0.0, 2.0, -2.0]), np.full(4, 1.0)).tolist() == [True, True, False, False]


def test_maps_without_common_part_are_not_drawn(runs: Path, tmp_path: Path) -> None:
    above = PLAIN.replace('{ from = "6 mm", to = "30 mm", count = 4 }', '["40 mm", "50 mm"]')
    stored_run(tmp_path / "above", above)
    (reference,), (other,) = both(runs, "plain", "wide")[:1], sides((str(runs / "plain"), str(tmp_path / "above")))[1:]
    assert common_places(reference, other) is None
    page = page_of(tmp_path / "page", runs / "plain", tmp_path / "above")
    assert "have no common part of more than one height and offset" in page
    assert 'id="B-maps-' not in page


def a_plane(smallest: float, shift: float = 0.0) -> Plane:
    """Invented: read to 50 mm at 1 W, with the sixth root of the power, whatever the diameter."""
    diameters, powers = np.linspace(smallest, smallest + 40e-3, 5), np.geomspace(0.1, 10.0, 13)
    heights = np.repeat((50e-3 * powers ** (1.0 / 6.0) + shift)[:, None], 5, axis=1)
    limit = Bound("current", 0.5, "drive.current_limit")
    used = np.repeat(np.sqrt(powers)[:, None], 5, axis=1)[None]
    most = np.full(5, 1.0), np.full(5, 50e-3 + shift)
    return Plane(smallest + 10e-3, 1.0, diameters, powers, heights, (limit,), used, np.zeros(5), 4e-4, *most)


def test_reading_heights_are_compared_on_the_common_part() -> None:
    made = planes_beside(("A", a_plane(40e-3)), ("B", a_plane(50e-3, shift=-3e-3)))
    assert isinstance(made, tuple)
    figure, title = made
    assert title == (
        "At the same diameter and power B is read −3.0 to −3.0 mm against A;\n"
        "highest within all limits: A 50 mm (40 mm coil), B 47 mm (50 mm coil)"
    )
    low, high = figure.axes[0].get_xlim()
    assert (low, high) == pytest.approx((50.0, 80.0), rel=1e-9, abs=0.0)
    assert cut_texts(figure) == []
    apart = planes_beside(("A", a_plane(40e-3)), ("B", a_plane(90e-3)))
    assert apart == "they have no diameter and power in common"


def test_reading_heights_within_the_error_are_hidden() -> None:
    made = planes_beside(("A", a_plane(40e-3)), ("B", a_plane(40e-3, shift=0.2e-3)), error=0.05)
    assert isinstance(made, tuple)
    assert made[1].startswith("At the same diameter and power B and A are read equally high, within the errors;")


def test_the_error_of_a_height_is_that_of_the_coupling() -> None:
    """h = c P^(1/6) is M with the cube of h: dh/h is a third of dM/M."""
    plane = a_plane(40e-3)
    powers = np.geomspace(0.1, 10.0, 121)
    heights = heights_at(plane, plane.diameters, plane.powers)
    assert heights == pytest.approx(plane.heights, rel=1e-12, abs=0.0)
    fine = np.repeat(50e-3 * powers[:, None] ** (1.0 / 6.0), 3, axis=1)
    assert height_error(fine, powers, 0.03)[1:-1] == pytest.approx(0.01 * fine[1:-1], rel=1e-3, abs=0.0)


def test_a_plane_that_cannot_be_computed_is_told(runs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: Candidate) -> Plane:
        raise ArithmeticError("no such coil")

    monkeypatch.setattr("studies.stored_plane.plane_of", fail)
    page = page_of(tmp_path, runs / "plain", runs / "wide")
    assert "Reading height over diameter and power is not compared: A: that of c0001 could not be computed" in page
    assert 'id="B-plane-' not in page


def test_the_ladder_says_which_step_makes_the_difference(runs: Path) -> None:
    reference, other = both(runs, "plain", "wide")
    drawn = ladder_difference(reference, other)
    assert drawn is not None
    ends = [
        [float(level) for step, _ in STEPS if (level := row_of(runs / name)[f"ladder_{step}_dB"])][-1]
        for name in ("plain", "wide")
    ]
    total = ends[1] - ends[0]
    assert f"B ends {total:+.2f} dB from A".replace("-", "−") in drawn[1]
