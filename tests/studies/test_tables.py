"""``designs.csv`` and ``maps.nc`` from stored candidates, odd values and odd sweeps included."""

import csv
import subprocess
import sys
from dataclasses import replace
from math import prod
from pathlib import Path

import h5py
import numpy as np
import pytest
import xarray

from fem.tag_solution import MOMENT_COUNT
from studies.evaluation import Evaluation
from studies.one_state import MapValues
from studies.pieces import MAP_NAMES, write_piece
from studies.schema import AtLeastTable, AtMostTable
from studies.specification import MapGrid
from studies.store import piece_path, prepare, read_run
from studies.stored import Run, StoredDesign
from studies.study import read_study
from studies.tables import CHUNK_BYTES, HEIGHT_VARIABLES, MAP_VARIABLES, write_designs, write_maps, write_verdicts
from studies.verdict import QUANTITIES, SI_UNITS, Check
from studies.work import first_columns
from tests.studies.conftest import Evaluator
from tests.studies.small import SMALL

MAP_DIMENSIONS = ("design", "height", "offset", "tilt")


@pytest.fixture(scope="session")
def evaluation(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of()


@pytest.fixture
def run(tmp_path: Path, evaluation: Evaluation) -> Run:
    """Two candidates done, one failed, three not there yet."""
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    study, folder = read_study(tmp_path / "small.toml"), tmp_path / "run"
    folder.mkdir()
    prepare(folder, study, fresh=False)
    for index, extra in ((0, {"odd": 0.1 + 0.2}), (1, {"odd": float("-inf"), "only_here": 5e-324})):
        name = study.design_name(index)
        row = first_columns(study, index) | evaluation.row | extra | {"status": "done", "message": ""}
        write_piece(piece_path(folder, name), "k", StoredDesign(index, name, "done", "", row), evaluation)
    message = 'it, "alas", does not fit'
    row = first_columns(study, 2) | {"status": "failed", "message": message}
    write_piece(piece_path(folder, "c0003"), "k", StoredDesign(2, "c0003", "failed", message, row), None)
    return read_run(folder)


def rows(run: Run) -> list[dict[str, str]]:
    with write_designs(run).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_row_a_candidate_with_its_swept_keys_first_and_its_state_last(run: Run) -> None:
    found = rows(run)
    assert [row["design"] for row in found] == ["c0001", "c0002", "c0003"]
    names = list(found[0])
    assert names[:3] == ["design", "base_coil.turns", "base_coil.mean_diameter"]
    assert names[-2:] == ["status", "message"]
    assert found[2]["message"] == 'it, "alas", does not fit'
    assert found[2]["base_q"] == ""


def test_a_row_for_each_requirement_of_each_candidate_done(run: Run) -> None:
    first = replace(
        run.designs[0],
        checks=(
            Check("margin", "at_least", 3.0, 1.5, False, 0.16, "15 mm up, cold"),
            Check("coil_voltage", "at_most", 200.0, 120.0, True, 0.0),
            Check("read_height", "at_least", 0.03, None, False, 1.0),
        ),
    )
    with write_verdicts(replace(run, designs=(first, *run.designs[2:]))).open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    assert [(one["design"], one["requirement"], one["verdict"], one["unit"]) for one in found] == [
        ("c0001", "margin", "fail", "dB"),
        ("c0001", "coil_voltage", "pass", "V"),
        ("c0001", "read_height", "fail", "m"),
    ]
    assert [one["spare"] for one in found] == ["-1.5", "80.0", ""]
    assert found[0]["where"] == "15 mm up, cold"


def test_every_required_quantity_has_both_its_units() -> None:
    assert set(SI_UNITS) == set(QUANTITIES) == {*AtLeastTable.model_fields, *AtMostTable.model_fields}


def test_every_float_comes_back_to_the_last_bit(run: Run) -> None:
    found = rows(run)
    for row, stored in zip(found, run.designs, strict=True):
        for name, value in stored.row.items():
            if isinstance(value, float):
                assert float(row[name]) == value, name
            else:
                assert row[name] == ("" if value is None else str(value))
    assert found[0]["only_here"] == ""


def test_the_columns_of_the_design_document_are_there(run: Run) -> None:
    """DESIGN 6."""
    wanted = (
        "design base_inductance_H base_resistance_ohm base_winding_resistance_ohm base_reflected_resistance_ohm base_q "
        "tag_inductance_H tag_resistance_ohm tag_q tuning_capacitance_F status message base_inductance_rel_error "
        "tag_inductance_rel_error mutual_inductance_rel_error coupling_coefficient_rel_error"
    )
    assert set(wanted.split()) <= set(rows(run)[0])


def test_maps_have_dimensions_coordinates_units_and_names(run: Run, evaluation: Evaluation) -> None:
    with xarray.open_dataset(write_maps(run), engine="h5netcdf") as maps:
        assert dict(maps.sizes) == {"design": 3, "height": 4, "offset": 2, "tilt": 2, "degree": MOMENT_COUNT}
        assert list(maps["design"].values) == ["c0001", "c0002", "c0003"]
        for name, unit, values in (
            ("height", "m", evaluation.candidate.grid.heights),
            ("offset", "m", evaluation.candidate.grid.offsets),
            ("tilt", "rad", evaluation.candidate.grid.tilts),
        ):
            assert maps[name].dims == (name,)
            assert maps[name].attrs["units"] == unit
            np.testing.assert_array_equal(maps[name], values)
        for name, (unit, _) in MAP_VARIABLES.items():
            assert maps[name].dims == MAP_DIMENSIONS
            assert maps[name].attrs["units"] == unit
        for name in HEIGHT_VARIABLES:
            assert maps[name].dims == ("design", "height")
        assert all("long_name" in variable.attrs for variable in maps.variables.values())
        wanted = "mutual_inductance_re mutual_inductance_im coupling_coefficient chip_voltage margin"
        assert set(wanted.split()) <= set(maps)


def test_maps_hold_the_values_and_nan_for_what_failed(run: Run, evaluation: Evaluation) -> None:
    kept = evaluation.map
    with xarray.open_dataset(write_maps(run), engine="h5netcdf") as maps:
        one = maps.sel(design="c0002")
        np.testing.assert_array_equal(one["mutual_inductance_re"], kept.mutual_inductance.real)
        np.testing.assert_array_equal(one["mutual_inductance_im"], kept.mutual_inductance.imag)
        np.testing.assert_array_equal(one["worst_mutual_inductance_re"], kept.worst_mutual_inductance.real)
        for name in ("mutual_inductance_error", "coupling_coefficient", "chip_voltage", "margin", "worst_margin"):
            np.testing.assert_array_equal(one[name], getattr(kept, name))
        for name in (*MAP_VARIABLES, *HEIGHT_VARIABLES):
            assert bool(np.isnan(maps[name].sel(design="c0003")).all())


def test_another_reader_finds_the_same(run: Run, evaluation: Evaluation) -> None:
    with h5py.File(write_maps(run)) as file:
        np.testing.assert_array_equal(file["margin"][0], evaluation.map.margin)
        assert file["margin"].attrs["units"] == "dB"
        assert file["height"].is_scale


def test_candidates_with_maps_of_their_own_share_the_union_of_places(run: Run, evaluation: Evaluation) -> None:
    other = replace(evaluation.candidate, grid=MapGrid((6e-3, 7e-3, 22e-3, 31e-3), (0.0, 8e-3), (0.0, 0.5)))
    path = piece_path(run.folder, "c0002")
    write_piece(path, "k", run.designs[1], replace(evaluation, candidate=other))
    with xarray.open_dataset(write_maps(run), engine="h5netcdf") as maps:
        np.testing.assert_allclose(maps["height"], [6e-3, 7e-3, 14e-3, 22e-3, 30e-3, 31e-3], rtol=1e-12)
        second = maps["margin"].sel(design="c0002").to_numpy()
        places = np.searchsorted(maps["height"], other.grid.heights)
        tilts = np.searchsorted(maps["tilt"], other.grid.tilts)
        np.testing.assert_array_equal(second[np.ix_(places, [0, 1], tilts)], evaluation.map.margin)
        assert np.isfinite(second).sum() == evaluation.map.margin.size


def test_a_run_in_which_all_failed_still_has_its_tables(run: Run) -> None:
    alone = Run(run.folder, run.study, run.designs[2:], run.info)
    assert [row["status"] for row in rows(alone)] == ["failed"]
    with xarray.open_dataset(write_maps(alone), engine="h5netcdf") as maps:
        assert bool(np.isnan(maps["margin"]).all())


def test_a_table_that_cannot_be_finished_leaves_the_old_one(run: Run) -> None:
    path = write_designs(run)
    before = path.read_bytes()
    broken = replace(run.designs[0], row={"design": "c0001", "µ": "\udcff"})  # no text in UTF-8
    with pytest.raises(UnicodeEncodeError):
        write_designs(Run(run.folder, run.study, (broken,), run.info))
    assert path.read_bytes() == before
    assert not list(run.folder.glob(".*.partial"))


READ_ONE = """
import sys
import xarray

def read():
    return int(next(line for line in open("/proc/self/io") if line.startswith("rchar")).split()[1])

with xarray.open_dataset(sys.argv[1], engine="h5netcdf") as maps:
    before = read()
    margin = maps["margin"].isel(design=150).values
    print(read() - before, float(margin.max()))
"""


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks /proc how much was read")
def test_one_candidates_map_is_read_alone(run: Run, evaluation: Evaluation) -> None:
    """Of 16 MB in nine variables, reading one map of 8 kB reads its chunk, and what tells where that lies."""
    grid = MapGrid(tuple(np.linspace(6e-3, 50e-3, 20)), tuple(np.linspace(0.0, 20e-3, 10)), (0.0, 0.1, 0.2, 0.3, 0.4))
    shape = (20, 10, 5)
    large = {name: np.resize(getattr(evaluation.map, name), shape) for name in MAP_NAMES}
    candidate = replace(evaluation.candidate, grid=grid)
    other = replace(evaluation, candidate=candidate, map=MapValues(**large))
    designs = []
    for index in range(220):
        name = f"c{index + 1:04d}"
        stored = StoredDesign(index, name, "done", "", {"design": name, "status": "done", "message": ""})
        write_piece(piece_path(run.folder, name), "k", stored, other)
        designs.append(stored)
    path = write_maps(Run(run.folder, run.study, tuple(designs), run.info))
    assert path.stat().st_size > 220 * prod(shape) * 8 * len(MAP_VARIABLES)
    said = subprocess.run(
        [sys.executable, "-c", READ_ONE, str(path)], capture_output=True, text=True, check=True
    ).stdout.split()
    assert float(said[1]) == large["margin"].max()
    assert int(said[0]) < 3 * CHUNK_BYTES
