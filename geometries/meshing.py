"""Triangles from a plan, and the session with gmsh, which only this file and ball_meshing.py touch."""

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import gmsh
import numpy as np
from numpy.typing import NDArray

from geometries.errors import MeshingError
from geometries.overlap import outline_fault
from geometries.plan import BASE_WINDING, TAG_WINDING, MeshPlan, Region, Sheet
from geometries.tag import Outline

GROWTH = 0.45
"""How fast elements may grow with the distance from what they resolve."""

RELAXATION = 0.12
"""Element size along a conductor's surface over its distance from the nearest winding."""


GIVEN_GROWTH, GIVEN_FLOOR = 0.5, 0.1
"""Element size on bodies and sheets over their distance from a winding whose field is given, so that quadrature follows
that field; and the least of it over the section's shorter side."""


@dataclass(frozen=True, slots=True, eq=False)
class SectionMesh:
    """Triangles of the half plane (r, z).

    Parameters
    ----------
    points : ndarray, shape (2, n_point)
        r and z [m].
    triangles : ndarray of int64, shape (3, n_triangle)
        Corners of each.
    regions : dict of str to ndarray of int64
        Elements of each region of the plan; the air has none.
    sheets : tuple of Sheet
        Lines of the mesh that are thin layers.
    centre, outer_radius : float
        Of the outer half circle [m].
    """

    points: NDArray[np.float64]
    triangles: NDArray[np.int64]
    regions: dict[str, NDArray[np.int64]]
    sheets: tuple[Sheet, ...]
    centre: float
    outer_radius: float


def section_mesh(plan: MeshPlan) -> SectionMesh:
    """Mesh of the half disc of ``plan``, conforming to its regions and sheets.

    Raises
    ------
    MeshingError
        Where an outline is none, or the geometry kernel or the mesher gives up; the text says what it said.
    """
    for region in plan.regions:  # the kernel never returns from an outline that crosses itself
        fault = outline_fault(region.outline)
        if fault is not None:
            raise MeshingError(f"{region.name} cannot be meshed: {fault}")
    with mesher_session("section"):
        try:
            owners = _draw(plan)
            gmsh.model.mesh.generate(2)
            return _collected(plan, owners)
        except MeshingError:
            raise
        except Exception as fault:  # gmsh raises bare Exception
            raise MeshingError(f"the mesher could not mesh this geometry: {fault}") from fault


@contextmanager
def mesher_session(name: str) -> Iterator[None]:
    """A fresh gmsh model; the library stays initialised, since starting it costs more than a mesh."""
    if not gmsh.isInitialized():
        gmsh.initialize(["trivet"], readConfigFiles=False, interruptible=False)
        if threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGPIPE, signal.SIG_IGN)  # gmsh lets a broken pipe end the process; Python does not
    options = {
        "General.Terminal": 0,
        "General.NumThreads": 1,
        "Mesh.MeshSizeFromPoints": 0,
        "Mesh.MeshSizeFromCurvature": 0,
        "Mesh.MeshSizeExtendFromBoundary": 0,
        "Mesh.Algorithm": 5,
        "Mesh.LcIntegrationPrecision": 1e-3,  # its default spends most of the time on the sizes along long lines
        "Geometry.OCCBoundsUseStl": 0,
        "Geometry.Tolerance": 1e-9,
    }
    for name, value in options.items():
        gmsh.option.setNumber(name, value)
    gmsh.model.add(name)
    try:
        yield
    finally:
        gmsh.model.remove()


def _draw(plan: MeshPlan) -> dict[str, list[int]]:
    """Draw everything, cut it along every edge, set the sizes; surfaces of each region."""
    disc = _half_disc(plan.centre, plan.outer_radius)
    tools = [(2, _polygon(region)) for region in plan.regions]
    tools += [(1, _line(sheet)) for sheet in plan.sheets]
    _, pieces = gmsh.model.occ.fragment([(2, disc)], tools)
    gmsh.model.occ.synchronize()
    owners = {
        region.name: [tag for dim, tag in piece if dim == 2]
        for region, piece in zip(plan.regions, pieces[1:], strict=False)
    }
    lines = {
        sheet.name: [tag for dim, tag in piece if dim == 1]
        for sheet, piece in zip(plan.sheets, pieces[1 + len(plan.regions) :], strict=True)
    }
    _set_sizes(plan, owners, lines)
    return owners


def _half_disc(centre: float, radius: float) -> int:
    occ = gmsh.model.occ
    low, mid, high = (occ.addPoint(0.0, z, 0.0) for z in (centre - radius, centre, centre + radius))
    side = occ.addPoint(radius, centre, 0.0)
    arcs = [occ.addCircleArc(low, mid, side), occ.addCircleArc(side, mid, high)]
    axis = occ.addLine(high, low)
    return int(occ.addPlaneSurface([occ.addCurveLoop([*arcs, axis])]))


def _polygon(region: Region) -> int:
    occ = gmsh.model.occ
    return int(occ.addPlaneSurface([occ.addCurveLoop(_outline_edges(region.outline))]))


def _outline_edges(outline: Outline) -> list[int]:
    occ = gmsh.model.occ
    corners = [occ.addPoint(r, z, 0.0) for r, z in outline]
    return [int(occ.addLine(a, b)) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]


def _line(sheet: Sheet) -> int:
    occ = gmsh.model.occ
    ends = [occ.addPoint(r, sheet.height, 0.0) for r in (sheet.inner_radius, sheet.outer_radius)]
    return int(occ.addLine(*ends))


def _set_sizes(plan: MeshPlan, owners: dict[str, list[int]], lines: dict[str, list[int]]) -> None:
    """One background field: the least of what each feature asks for at its distance."""
    reach = 2.0 * plan.outer_radius
    windings = [owners[name] for name in (BASE_WINDING, TAG_WINDING) if name in owners]
    given = [c for section in plan.given for c in _free_outline(section.corners)]
    near = _distance(curves=[*given, *(c for surfaces in windings for c in _edges(surfaces))])
    relaxed = _growing(near, 0.0, RELAXATION, reach)
    wanted = []
    for region in plan.regions:
        curves = [c for c in _edges(owners[region.name]) if not _on_axis(c)]
        sizes = [_growing(_distance(curves=curves), region.surface_size, GROWTH, reach)]
        if region.corner_size < region.surface_size:
            corners = [p for p in _corners(curves) if not _point_on_axis(p)]
            sizes.append(_growing(_distance(points=corners), region.corner_size, GROWTH, reach))
        wanted += [_combined("Max", [size, relaxed]) for size in sizes] if region.relaxes else sizes
    for sheet in plan.sheets:
        ends = [p for p in _corners(lines[sheet.name]) if not _point_on_axis(p)]
        wanted.append(_growing(_distance(points=ends), sheet.edge_size, GROWTH, reach))
    if plan.given:
        surfaces = [c for owned in owners.values() for c in _edges(owned) if not _on_axis(c)]
        surfaces += [c for drawn in lines.values() for c in drawn]
        floor = GIVEN_FLOOR * min(min(s.radial_build, s.winding_length) for s in plan.given)
        known = _growing(near, floor, GIVEN_GROWTH, reach)
        if plan.probes:
            places = _distance(points=_free_points(plan.probes))
            known = _combined("Min", [known, _growing(places, 0.0, GIVEN_GROWTH, reach)])
        wanted.append(_combined("Max", [known, _growing(_distance(curves=surfaces), 0.0, GROWTH, reach)]))
    gmsh.option.setNumber("Mesh.MeshSizeMax", plan.outer_radius / 5.0)
    gmsh.model.mesh.field.setAsBackgroundMesh(_combined("Min", wanted))


def _free_outline(outline: Outline) -> list[int]:
    """Edges that belong to no surface: sizes hang on them, no element does."""
    edges = _outline_edges(outline)
    gmsh.model.occ.synchronize()
    return edges


def _free_points(heights: tuple[float, ...]) -> list[int]:
    points = [int(gmsh.model.occ.addPoint(0.0, z, 0.0)) for z in heights]
    gmsh.model.occ.synchronize()
    return points


def _growing(distance: int, size: float, growth: float, reach: float) -> int:
    """Field ``size + growth · distance``, kept linear out to ``reach`` [m]."""
    fields = gmsh.model.mesh.field
    field = fields.add("Threshold")
    settings = {
        "InField": distance,
        "SizeMin": size,
        "SizeMax": size + growth * reach,
        "DistMin": 0.0,
        "DistMax": reach,
    }
    for name, value in settings.items():
        fields.setNumber(field, name, value)
    return int(field)


def _combined(kind: str, parts: list[int]) -> int:
    field = gmsh.model.mesh.field.add(kind)
    gmsh.model.mesh.field.setNumbers(field, "FieldsList", parts)
    return int(field)


def _distance(curves: list[int] | None = None, points: list[int] | None = None) -> int:
    fields = gmsh.model.mesh.field
    field = fields.add("Distance")
    if curves:
        fields.setNumbers(field, "CurvesList", curves)
        fields.setNumber(field, "Sampling", 200)
    if points:
        fields.setNumbers(field, "PointsList", points)
    return int(field)


def _edges(surfaces: list[int]) -> list[int]:
    boundary = gmsh.model.getBoundary([(2, s) for s in surfaces], combined=True, oriented=False)
    return [tag for dim, tag in boundary if dim == 1]


def _corners(curves: list[int]) -> list[int]:
    boundary = gmsh.model.getBoundary([(1, c) for c in curves], combined=False, oriented=False)
    return sorted({tag for dim, tag in boundary if dim == 0})


def _on_axis(curve: int) -> bool:
    return bool(gmsh.model.getBoundingBox(1, curve)[3] < 1e-6)


def _point_on_axis(point: int) -> bool:
    return bool(gmsh.model.getValue(0, point, [])[0] < 1e-9)


def _collected(plan: MeshPlan, owners: dict[str, list[int]]) -> SectionMesh:
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    index = np.full(int(tags.max()) + 1, -1, dtype=np.int64)
    index[tags] = np.arange(tags.size)
    points = np.ascontiguousarray(coordinates.reshape(-1, 3)[:, :2].T)
    points[0, np.abs(points[0]) < 1e-12] = 0.0
    blocks, start = [], 0
    owner_of = {surface: name for name, surfaces in owners.items() for surface in surfaces}
    members: dict[str, list[NDArray[np.int64]]] = {region.name: [] for region in plan.regions}
    for _, surface in gmsh.model.getEntities(2):
        _, nodes = gmsh.model.mesh.getElementsByType(2, surface)
        block = index[nodes].reshape(-1, 3).T
        blocks.append(block)
        if surface in owner_of:
            members[owner_of[surface]].append(np.arange(start, start + block.shape[1]))
        start += block.shape[1]
    if not start:
        raise MeshingError("the mesher made no triangles")
    regions = {name: np.concatenate(found) for name, found in members.items() if found}
    triangles = np.concatenate(blocks, axis=1)
    used, triangles = np.unique(triangles, return_inverse=True)
    return SectionMesh(
        np.ascontiguousarray(points[:, used]),
        np.ascontiguousarray(triangles.reshape(3, -1).astype(np.int64)),
        regions,
        plan.sheets,
        plan.centre,
        plan.outer_radius,
    )
