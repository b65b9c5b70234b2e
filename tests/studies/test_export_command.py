"""``trivet export`` from a run to files, and what it refuses."""

import csv
import shutil
from math import radians
from pathlib import Path

import meshio
import netCDF4
import numpy as np
import pytest
from click.testing import CliRunner, Result

from studies.command import main
from studies.export_command import FORMATS, Format
from studies.store import arrays_of, read_run
from tests.reference.nodal import node_voltages
from tests.studies.small import SMALL

SWEPT = SMALL[: SMALL.index("[sweep]")] + '[sweep]\n"base_coil.turns" = [40, 60, 300]\n'


def invoked(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(one) for one in arguments])


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of three designs, the last of which cannot be built."""
    folder = tmp_path_factory.mktemp("export")
    file = folder / "small.toml"
    file.write_text(SWEPT, encoding="utf-8")
    assert invoked("run", file, "--out", folder / "run", "--workers", "1").exit_code == 1
    return folder / "run"


def test_a_netlist_says_what_the_run_stores(run: Path, tmp_path: Path) -> None:
    done = invoked("export", run, "c0002", "spice", "--out", tmp_path / "new" / "folder")
    assert done.exit_code == 0, done.output
    text = (tmp_path / "new" / "folder" / "small-c0002.cir").read_text(encoding="ascii")
    (row,) = (one.row for one in read_run(run).designs if one.design == "c0002")
    assert abs(node_voltages(text)["chip"]) == pytest.approx(row["chip_voltage_V"], rel=1e-3, abs=0.0)
    assert "computed anew" not in text
    assert "* CAUTION: The tuned coil reaches" in text
    assert "Caution: The tuned coil reaches" in done.output


def test_a_place_of_its_own(run: Path, tmp_path: Path) -> None:
    done = invoked("export", run, "c0001", "spice", "--out", tmp_path, "--place", "6 mm, 8 mm", "--state", "as given")
    assert done.exit_code == 0, done.output
    text = (tmp_path / "small-c0001.cir").read_text(encoding="ascii")
    assert "* Place: 6 mm up, 8 mm off, 0 deg tilt" in text
    found = read_run(run)
    stored = arrays_of(found, found.designs[0]).map.chip_voltage[0, 1, 0]
    assert abs(node_voltages(text)["chip"]) == pytest.approx(stored, rel=1e-3, abs=0.0)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("c0009", "spice"), 'no design of small is called "c0009"; c0001 to c0003 are'),
        (("../c0001", "spice"), 'no design of small is called "../c0001"'),
        (("c0003", "spice"), "c0003 failed, there is nothing to export of it: base_coil.turns: 300 turns"),
        (("c0001", "spicy"), '"spicy" is no format to export to; spice, svg, dxf, csv, netcdf, touchstone, vtu'),
        (("c0001",), "Missing argument 'FORMAT...'"),
        (("c0001", "spice", "--place", "60 mm"), "the map's heights go from 6 mm to 30 mm"),
        (("c0001", "spice", "--place", "15 mm, 20 mm"), "the map's offsets go from 0 mm to 8 mm"),
        (("c0001", "spice", "--place", "15"), "--place: "),
        (("c0001", "touchstone", "--frequency", "50 Hz"), '--frequency: "50 Hz" was given; 13.42 kHz to 1.342 MHz'),
        (("c0001", "touchstone", "--frequency", "50 V"), "--frequency: "),
        (("c0001", "spice", "--state", "molten"), 'no state of c0001 is called "molten"; as given'),
    ],
)
def test_what_is_refused(arguments: tuple[str, ...], told: str, run: Path, tmp_path: Path) -> None:
    done = invoked("export", run, *arguments, "--out", tmp_path)
    assert done.exit_code == 2, done.output
    assert told in done.stderr
    assert not list(tmp_path.iterdir())


def test_nothing_is_overwritten(run: Path, tmp_path: Path) -> None:
    (tmp_path / "small-c0001.cir").write_text("mine", encoding="ascii")
    done = invoked("export", run, "c0001", "spice", "--out", tmp_path)
    assert done.exit_code == 2
    assert "exists already; nothing is overwritten" in done.stderr
    assert (tmp_path / "small-c0001.cir").read_text(encoding="ascii") == "mine"


def test_an_incomplete_run_gives_what_it_has(run: Path, tmp_path: Path) -> None:
    part = tmp_path / "part"
    shutil.copytree(run, part)
    (part / "designs" / "c0002.npz").unlink()
    done = invoked("export", part, "c0002", "spice", "--out", tmp_path)
    assert done.exit_code == 2
    assert "c0002 has not been computed yet" in done.stderr
    assert invoked("export", part, "c0001", "spice", "--out", tmp_path).exit_code == 0


def test_a_folder_that_is_no_run(tmp_path: Path) -> None:
    done = invoked("export", tmp_path, "c0001", "spice")
    assert done.exit_code == 2
    assert "Traceback" not in done.output


def test_a_folder_that_cannot_be_written(run: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="ascii")
    done = invoked("export", run, "c0001", "spice", "--out", tmp_path / "file")
    assert done.exit_code == 2
    assert "Traceback" not in done.output


def test_the_section_has_the_winding_of_the_run(run: Path, tmp_path: Path) -> None:
    done = invoked("export", run, "c0002", "svg", "dxf", "--out", tmp_path, "--place", "20 mm")
    assert done.exit_code == 0, done.output
    text = (tmp_path / "small-c0002-section.svg").read_text(encoding="utf-8")
    assert "base coil: 43 mm wide, from -7.5 mm to -4.5 mm; 60 turns" in text
    assert "at 20 mm up, 0 mm off, 0° tilt" in text
    assert (tmp_path / "small-c0002-section.dxf").stat().st_size > 1000


def test_the_csv_holds_the_map(run: Path, tmp_path: Path) -> None:
    done = invoked("export", run, "c0002", "csv", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    with (tmp_path / "small-c0002-map.csv").open(newline="", encoding="utf-8") as file:
        rows = [{name: float(value) for name, value in row.items()} for row in csv.DictReader(file)]
    found = read_run(run)
    stored = arrays_of(found, found.designs[1]).map
    assert len(rows) == 4 * 2 * 2
    assert [row["height_m"] for row in rows[::4]] == pytest.approx([6e-3, 14e-3, 22e-3, 30e-3], rel=1e-12)
    for index, row in enumerate(rows):
        at = (index // 4, index // 2 % 2, index % 2)
        assert (row["offset_m"], row["tilt_rad"]) == pytest.approx((8e-3 * at[1], radians(20.0) * at[2]), rel=1e-12)
        mutual = complex(row["mutual_inductance_re_H"], row["mutual_inductance_im_H"])
        assert mutual == stored.mutual_inductance[at]
        assert row["coupling_coefficient_1"] == stored.coupling_coefficient[at]
        assert row["chip_voltage_V"] == stored.chip_voltage[at]
        assert row["worst_margin_dB"] == stored.worst_margin[at]


def test_the_netcdf_holds_the_map_of_that_design(run: Path, tmp_path: Path) -> None:
    done = invoked("export", run, "c0002", "netcdf", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    found = read_run(run)
    stored = arrays_of(found, found.designs[1]).map
    with netCDF4.Dataset(tmp_path / "small-c0002-map.nc") as file:
        assert list(file["design"][:]) == ["c0002"]
        assert file["height"].units == "m"
        assert file["height"][:].tolist() == pytest.approx([6e-3, 14e-3, 22e-3, 30e-3], rel=1e-12)
        mutual = file["mutual_inductance_re"]
        assert (mutual.units, mutual.dimensions) == ("H", ("design", "height", "offset", "tilt"))
        assert np.array_equal(mutual[0], stored.mutual_inductance.real)
        assert (file["chip_voltage"].units, file["margin"].units) == ("V", "dB")
        assert np.array_equal(file["worst_margin"][0], stored.worst_margin)
    assert (run / "maps.nc").stat().st_mtime < (tmp_path / "small-c0002-map.nc").stat().st_mtime


def test_a_two_port_at_its_frequencies(run: Path, tmp_path: Path) -> None:
    done = invoked("export", run, "c0001", "touchstone", "--out", tmp_path, "--frequency", "120 kHz")
    assert done.exit_code == 0, done.output
    text = (tmp_path / "small-c0001.s2p").read_text(encoding="ascii")
    assert [line.split()[0] for line in text.splitlines() if line[0] not in "!#"] == ["120000", "134200"]
    assert "! CAUTION: The tuned coil reaches" in text


def test_a_field_is_written_whole(run: Path, tmp_path: Path) -> None:
    done = invoked("export", run, "c0001", "vtu", "spice", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    assert sorted(one.name for one in tmp_path.iterdir()) == ["small-c0001-field.vtu", "small-c0001.cir"]
    assert meshio.read(tmp_path / "small-c0001-field.vtu").cells_dict["triangle"].shape[1] == 3


def test_where_one_format_fails_none_of_the_others_stays(
    run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(wanted: object, path: Path) -> None:
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setitem(FORMATS, "svg", Format("-section.svg", full))
    done = invoked("export", run, "c0001", "csv", "svg", "--out", tmp_path)
    assert done.exit_code != 0
    assert "No space left" in done.stderr
    assert list(tmp_path.iterdir()) == []
