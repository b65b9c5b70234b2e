"""Section mesh and field of a design's base coil as a VTU file."""

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.base_solution import base_field_on_mesh
from fem.elements import FieldOnMesh
from geometries.meshing import SectionMesh
from geometries.plan import Sheet
from studies.exported import AtPlace
from studies.extras import needed
from studies.leads import at_the_coil
from studies.plain_text import plain
from studies.solving import base_problem

ON_LINE = 1e-9
"""How far a point may be off a thin layer that it lies on [m]."""


def coil_current(at: AtPlace) -> float:
    """Peak current in the base coil with the tag at its place [A]."""
    _, current = at_the_coil(at.found.candidate, at.found.coils.base, at.link.budget)
    return float(np.abs(current[0]))


def write_field(path: Path, at: AtPlace) -> None:
    """Write the base coil's field without the tag, at the current that it carries with the tag at its place.

    Parameters
    ----------
    path : Path
        Written to as it is.
    at : AtPlace
        Place and state, and so the current.

    Raises
    ------
    RunError
        Where the package that writes it is not installed.
    AccuracyError, FieldError, MeshingError
        Where it cannot be solved.

    Notes
    -----
    x is the distance from the axis and z the height above the plate [m]. Phasors are peak, the coil's current real.
    ``region_…`` is 1 in the triangles (or lines, of a thin layer) of a part and 0 elsewhere; air has none. Lines carry
    no flux density of their own: it is not a number there. The mesh is as fine as inductance and field on the axis
    need it: in the wide triangles far from everything the local field is good to about a hundredth only.
    """
    meshio = needed("meshio", "vtu")
    base = at.found.coils.base
    field = base_field_on_mesh(base_problem(at.found.biased, base.section))
    ampere_turns = coil_current(at) * base.turns
    mesh, lines = field.mesh, [_edges(field.mesh, sheet) for sheet in field.mesh.sheets]
    points = np.stack([mesh.points[0], np.zeros(mesh.points.shape[1]), mesh.points[1]], axis=1)
    cells = [("triangle", mesh.triangles.T), *(("line", edges) for edges in lines)]
    meshio.Mesh(
        points,
        cells,
        point_data={
            "vector_potential_re_Wb_per_m": ampere_turns * field.potential.real,
            "vector_potential_im_Wb_per_m": ampere_turns * field.potential.imag,
        },
        cell_data=_flux_density(field, ampere_turns, lines) | _regions(mesh, lines),
    ).write(path, file_format="vtu")


def _edges(mesh: SectionMesh, sheet: Sheet) -> NDArray[np.int64]:
    """Edges of the mesh that a thin layer is made of, shape (n, 2)."""
    corners = mesh.triangles
    edges = np.concatenate([corners[[0, 1]], corners[[1, 2]], corners[[2, 0]]], axis=1)
    edges = np.unique(np.sort(edges, axis=0), axis=1)
    r, z = mesh.points[:, edges]
    level = (np.abs(z - sheet.height) < ON_LINE).all(axis=0)
    within = (r > sheet.inner_radius - ON_LINE).all(axis=0) & (r < sheet.outer_radius + ON_LINE).all(axis=0)
    return np.asarray(edges[:, level & within].T)


def _flux_density(field: FieldOnMesh, ampere_turns: float, lines: list[NDArray[np.int64]]) -> dict[str, Any]:
    radial, axial = ampere_turns * field.flux_density
    vector = np.stack([radial, np.zeros_like(radial), axial], axis=1)
    none = [np.full((len(edges), 3), np.nan) for edges in lines]
    size = np.sqrt((np.abs(vector) ** 2).sum(axis=1))
    return {
        "flux_density_re_T": [vector.real, *none],
        "flux_density_im_T": [vector.imag, *none],
        "flux_density_peak_T": [size, *(one[:, 0] for one in none)],
    }


def _regions(mesh: SectionMesh, lines: list[NDArray[np.int64]]) -> dict[str, Any]:
    """An array a part: 1 where it is."""
    sizes = [mesh.triangles.shape[1], *(len(edges) for edges in lines)]
    found = {}
    for name, members in mesh.regions.items():
        found[name] = [np.zeros(size, dtype=np.int32) for size in sizes]
        found[name][0][members] = 1
    for block, sheet in enumerate(mesh.sheets, 1):
        found[sheet.name] = [np.full(size, int(at == block), dtype=np.int32) for at, size in enumerate(sizes)]
    return {f"region_{_safe(name)}": arrays for name, arrays in found.items()}


def _safe(name: str) -> str:
    """A name without what an XML attribute has no place for."""
    return "".join(sign if sign.isalnum() or sign == "-" else "_" for sign in plain(name))
