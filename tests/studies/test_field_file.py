"""The field's file read back by meshio: regions, B on the axis against the air field and a formula, flux, odd names."""

from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest

from studies.exported import AtPlace, RunDesign, at_place
from studies.field_file import coil_current, write_field
from studies.netlist import netlist
from studies.stored import Run, StoredDesign
from studies.study import read_study
from tests.reference.nodal import node_voltages
from tests.studies.test_netlist import FOIL, LEAD, ONE

MU0 = 4e-7 * np.pi
FINE = ("study.accuracy=1e-4",)
PAN = """
[[solids]]
name = "pan"
material = "aluminium"
outline = [["0 mm", "-40 mm"], ["30 mm", "-40 mm"], ["30 mm", "-38 mm"], ["0 mm", "-38 mm"]]
"""


def solved(folder: Path, text: str) -> AtPlace:
    file = folder / "study.toml"
    file.write_text(text, encoding="utf-8")
    study = read_study(file, FINE)
    stored = StoredDesign(0, study.base.design, "done", "", {})
    return at_place(RunDesign(Run(folder, study, (stored,), {}), stored, study.base), None, None)


@pytest.fixture(scope="module")
def in_air(tmp_path_factory: pytest.TempPathFactory) -> tuple[AtPlace, meshio.Mesh]:
    folder = tmp_path_factory.mktemp("air")
    at = solved(folder, ONE)
    write_field(folder / "field", at)
    return at, meshio.read(folder / "field", file_format="vtu")


@pytest.fixture(scope="module")
def under_foil(tmp_path_factory: pytest.TempPathFactory) -> tuple[AtPlace, meshio.Mesh]:
    folder = tmp_path_factory.mktemp("foil")
    foil = FOIL.replace("0.02", "0.005") + PAN + "[base_coil]"
    text = ONE.replace("[base_coil]", foil).replace('under = "plate"', 'under = "screen"')
    at = solved(folder, text + LEAD)
    write_field(folder / "field.vtu", at)
    return at, meshio.read(folder / "field.vtu")


def centroids(mesh: meshio.Mesh) -> np.ndarray:
    return mesh.points[mesh.cells_dict["triangle"]].mean(axis=1)


def areas(mesh: meshio.Mesh) -> np.ndarray:
    first, second, third = (mesh.points[corner] for corner in mesh.cells_dict["triangle"].T)
    return 0.5 * np.abs(np.cross(second - first, third - first)[:, 1])


def flux_density(mesh: meshio.Mesh) -> np.ndarray:
    parts = (mesh.cell_data_dict[f"flux_density_{part}_T"]["triangle"] for part in ("re", "im"))
    real, imaginary = parts
    return real + 1j * imaginary


def above(mesh: meshio.Mesh) -> np.ndarray:
    """Triangles near the axis where the tag may be."""
    r, _, z = centroids(mesh).T
    return np.flatnonzero((r < 4e-3) & (z > 8e-3) & (z < 28e-3))


def test_b_near_the_axis_is_that_of_the_air_field(under_foil: tuple[AtPlace, meshio.Mesh]) -> None:
    at, mesh = under_foil
    space = at.found.coupling.field.space
    r, _, z = centroids(mesh).T
    chosen = np.flatnonzero((r < space.radius) & (z > space.low) & (z < 30e-3))  # the map's heights
    assert chosen.size > 10
    r, z = r[chosen], z[chosen]
    radial, axial = at.found.coupling.field.flux_density_at(r, z)
    current = coil_current(at) * at.found.coils.base.turns
    found = flux_density(mesh)[chosen]
    assert np.abs(axial.imag).max() > 0.05 * np.abs(axial).max()  # the foil turns the field's phase
    assert found[:, 2] == pytest.approx(current * axial, rel=5e-3, abs=0.0)
    local = current * np.hypot(np.abs(radial * r), np.abs(axial))
    assert np.all(np.abs(found[:, 0] - current * radial * r) < 5e-3 * local)
    size = mesh.cell_data_dict["flux_density_peak_T"]["triangle"][chosen]
    assert size == pytest.approx(np.sqrt((np.abs(found) ** 2).sum(axis=1)), rel=1e-12)


def test_b_near_the_axis_of_a_coil_in_air_is_that_of_its_loops(in_air: tuple[AtPlace, meshio.Mesh]) -> None:
    """Field on the axis of a loop, μ0 I a²/2(a² + z²)^(3/2), over the section; its second derivative takes it off."""
    at, mesh = in_air
    chosen = above(mesh)
    assert chosen.size > 2
    r, _, z = centroids(mesh)[chosen].T
    section, turns = at.found.coils.base.section, at.found.coils.base.turns
    a, b = np.meshgrid(
        np.linspace(section.inner_radius, section.outer_radius, 41)[1::2],
        np.linspace(section.bottom, section.top, 41)[1::2],
    )

    def on_axis(height: np.ndarray) -> np.ndarray:
        squares = a**2 + (height[:, None, None] - b) ** 2
        return np.asarray((MU0 * a**2 / (2.0 * squares**1.5)).mean(axis=(1, 2)))

    step = 1e-4
    curved = (on_axis(z + step) - 2.0 * on_axis(z) + on_axis(z - step)) / step**2
    expected = coil_current(at) * turns * (on_axis(z) - 0.25 * r**2 * curved)
    assert flux_density(mesh)[chosen, 2].real == pytest.approx(expected, rel=5e-3, abs=0.0)


def test_a_at_the_corners_is_that_of_the_air_field(under_foil: tuple[AtPlace, meshio.Mesh]) -> None:
    at, mesh = under_foil
    space = at.found.coupling.field.space
    r, _, z = mesh.points.T
    chosen = np.flatnonzero((r > 0.0) & (r < space.radius) & (z > space.low) & (z < 30e-3))
    assert chosen.size > 5
    over_radius = at.found.coupling.field.everything_at(r[chosen], z[chosen])[0]
    expected = coil_current(at) * at.found.coils.base.turns * over_radius * r[chosen]
    parts = (mesh.point_data[f"vector_potential_{part}_Wb_per_m"][chosen] for part in ("re", "im"))
    real, imaginary = parts
    assert real + 1j * imaginary == pytest.approx(expected, rel=2e-3, abs=0.0)


def test_the_coils_current_is_that_of_the_circuit(
    in_air: tuple[AtPlace, meshio.Mesh], under_foil: tuple[AtPlace, meshio.Mesh]
) -> None:
    assert coil_current(in_air[0]) == pytest.approx(abs(in_air[0].link.budget.base_current[0]), rel=1e-12)
    at, _ = under_foil  # behind a lead: in the coil, not at the reader
    nodes = node_voltages(netlist("a design", at, []))
    current = (nodes["base"] - nodes["hbase"]) / at.found.coils.base.resistance
    assert coil_current(at) == pytest.approx(abs(current), rel=1e-5)
    assert coil_current(at) != pytest.approx(abs(at.link.budget.base_current[0]), rel=1e-4)


def test_the_flux_through_the_winding_is_its_inductance(in_air: tuple[AtPlace, meshio.Mesh]) -> None:
    at, mesh = in_air
    base, corners = at.found.coils.base, mesh.cells_dict["triangle"]
    potential_times_radius = (mesh.point_data["vector_potential_re_Wb_per_m"] * mesh.points[:, 0])[corners].mean(axis=1)
    inside = mesh.cell_data_dict["region_base_winding"]["triangle"] == 1
    linkage = 2.0 * np.pi * base.turns / base.section.area * (potential_times_radius * areas(mesh))[inside].sum()
    assert linkage == pytest.approx(base.inductance * coil_current(at), rel=2e-2, abs=0.0)  # A taken as linear


def test_regions_are_where_the_parts_are(under_foil: tuple[AtPlace, meshio.Mesh]) -> None:
    _, mesh = under_foil
    regions = {name for name in mesh.cell_data if name.startswith("region_")}
    assert regions == {"region_base_winding", "region_solid_pan", "region_layer_screen"}
    for name, area, box in (
        ("region_base_winding", 9e-6, (18.5e-3, 21.5e-3)),
        ("region_solid_pan", 60e-6, (0.0, 30e-3)),
    ):
        inside = mesh.cell_data_dict[name]["triangle"] == 1
        assert areas(mesh)[inside].sum() == pytest.approx(area, rel=1e-6, abs=0.0)
        r = mesh.points[mesh.cells_dict["triangle"][inside]][..., 0]
        assert (r.min(), r.max()) == pytest.approx(box, rel=1e-9, abs=1e-12)
        assert not mesh.cell_data_dict[name]["line"].any()
    assert mesh.cell_data_dict["region_layer_screen"]["line"].all()
    ends = mesh.points[mesh.cells_dict["line"]]
    assert np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).sum() == pytest.approx(60e-3, rel=1e-9)
    assert np.allclose(ends[..., 2], -4.0025e-3, atol=1e-9)
    assert mesh.points[:, 0].min() == 0.0
    assert not mesh.points[:, 1].any()


def test_odd_names_break_nothing(under_foil: tuple[AtPlace, meshio.Mesh], tmp_path: Path) -> None:
    at, _ = under_foil
    biased = at.found.biased
    solids = tuple(replace(one, name='o\'brien "x"/<b>&\n') for one in biased.stack.solids)
    odd = replace(biased, stack=replace(biased.stack, solids=solids))
    write_field(tmp_path / "odd.vtu", replace(at, found=replace(at.found, biased=odd)))
    names = meshio.read(tmp_path / "odd.vtu").cell_data
    assert "region_solid_o_brien__x___b__" in names
