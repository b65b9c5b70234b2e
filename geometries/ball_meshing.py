"""Tetrahedra from a plan: a ball of air about a tag's core and blocks beside it."""

from dataclasses import dataclass
from math import pi

import gmsh
import numpy as np
from numpy.typing import NDArray

from geometries.ball_plan import BallPlan, Block, Turned
from geometries.errors import MeshingError
from geometries.meshing import mesher_session
from geometries.overlap import outline_fault

TETRAHEDRON = 4
"""gmsh's number for a tetrahedron with four nodes."""


@dataclass(frozen=True, slots=True, eq=False)
class BallMesh:
    """Tetrahedra of a ball about the origin.

    Parameters
    ----------
    points : ndarray, shape (3, n_point)
        [m].
    tetrahedra : ndarray of int64, shape (4, n_tetrahedron)
        Corners of each.
    regions : dict of str to ndarray of int64
        Elements of each body of the plan; the air has none.
    radius : float
        Of the ball [m].
    """

    points: NDArray[np.float64]
    tetrahedra: NDArray[np.int64]
    regions: dict[str, NDArray[np.int64]]
    radius: float


def ball_mesh(plan: BallPlan) -> BallMesh:
    """Mesh of the ball of ``plan``, conforming to its bodies.

    Raises
    ------
    MeshingError
        Where an outline is none, or the geometry kernel or the mesher gives up; the text says what it said.
    """
    for turned in plan.turned:
        fault = outline_fault(turned.outline)
        if fault is not None:
            raise MeshingError(f"{turned.name} cannot be meshed: {fault}")
    for body in plan.bodies:
        if body.reach >= plan.radius:
            raise MeshingError(f"{body.name} reaches {body.reach:g} m from the centre of a ball of {plan.radius:g} m")
    with mesher_session("ball"):
        try:
            owners = _draw(plan)
            gmsh.option.setNumber("Mesh.Algorithm", 6)
            gmsh.option.setNumber("Mesh.Algorithm3D", 1)
            gmsh.model.mesh.generate(3)
            return _collected(plan, owners)
        except MeshingError:
            raise
        except Exception as fault:  # gmsh raises bare Exception
            raise MeshingError(f"the mesher could not mesh this tag in three dimensions: {fault}") from fault


def _draw(plan: BallPlan) -> dict[str, list[int]]:
    """Draw everything, cut the ball along every body, set the sizes; volumes of each body."""
    occ = gmsh.model.occ
    ball = (3, occ.addSphere(0.0, 0.0, 0.0, plan.radius))
    bodies = plan.bodies
    tools = [(3, _revolved(body) if isinstance(body, Turned) else _box(body)) for body in bodies]
    _, pieces = occ.fragment([ball], tools)
    occ.synchronize()
    owners = {
        body.name: [tag for dim, tag in piece if dim == 3] for body, piece in zip(bodies, pieces[1:], strict=True)
    }
    _set_sizes(plan, bodies, owners)
    return owners


def _revolved(body: Turned) -> int:
    occ = gmsh.model.occ
    corners = [occ.addPoint(r, 0.0, z) for r, z in body.outline]
    edges = [occ.addLine(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    section = occ.addPlaneSurface([occ.addCurveLoop(edges)])
    made = occ.revolve([(2, section)], 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 2.0 * pi)
    (volume,) = [tag for dim, tag in made if dim == 3]
    occ.remove([(2, section)], recursive=True)
    return int(volume)


def _box(block: Block) -> int:
    return int(gmsh.model.occ.addBox(*block.low, *(b - a for a, b in zip(block.low, block.high, strict=True))))


def _set_sizes(plan: BallPlan, bodies: tuple[Turned | Block, ...], owners: dict[str, list[int]]) -> None:
    """One background field: the least of what each body's surface and edges ask for at their distance."""
    fields, wanted = gmsh.model.mesh.field, []
    for body in bodies:
        surfaces = _boundary(3, owners[body.name])
        skin = body.skin if isinstance(body, Block) else 0.0
        wanted.append(_growing("SurfacesList", surfaces, body.surface_size, plan, skin))
        if isinstance(body, Turned) and body.edge_size < body.surface_size:
            wanted.append(_growing("CurvesList", _boundary(2, surfaces), body.edge_size, plan))
    least = fields.add("Min")
    fields.setNumbers(least, "FieldsList", wanted)
    gmsh.option.setNumber("Mesh.MeshSizeMax", plan.radius / 4.0)
    fields.setAsBackgroundMesh(least)


def _growing(what: str, entities: list[int], size: float, plan: BallPlan, flat: float = 0.0) -> int:
    """Field ``size`` up to the distance ``flat`` [m] from surfaces or curves, and growing from there."""
    fields, reach = gmsh.model.mesh.field, 2.0 * plan.radius
    distance, threshold = fields.add("Distance"), fields.add("Threshold")
    fields.setNumbers(distance, what, entities)
    fields.setNumber(distance, "Sampling", 60)
    settings = {"InField": distance, "SizeMin": size, "SizeMax": size + plan.growth * reach, "DistMax": flat + reach}
    for name, value in settings.items():
        fields.setNumber(threshold, name, value)
    fields.setNumber(threshold, "DistMin", flat)
    return int(threshold)


def _boundary(dimension: int, entities: list[int]) -> list[int]:
    found = gmsh.model.getBoundary([(dimension, e) for e in entities], combined=dimension == 3, oriented=False)
    return sorted({tag for _, tag in found})


def _collected(plan: BallPlan, owners: dict[str, list[int]]) -> BallMesh:
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    index = np.full(int(tags.max()) + 1, -1, dtype=np.int64)
    index[tags] = np.arange(tags.size)
    blocks, start = [], 0
    owner_of = {volume: name for name, volumes in owners.items() for volume in volumes}
    members: dict[str, list[NDArray[np.int64]]] = {name: [] for name in owners}
    for _, volume in gmsh.model.getEntities(3):
        _, nodes = gmsh.model.mesh.getElementsByType(TETRAHEDRON, volume)
        block = index[nodes].reshape(-1, 4).T
        blocks.append(block)
        if volume in owner_of:
            members[owner_of[volume]].append(np.arange(start, start + block.shape[1]))
        start += block.shape[1]
    if not start or not all(members.values()):
        raise MeshingError("the mesher made no tetrahedra of the ball or of one of its bodies")
    used, tetrahedra = np.unique(np.concatenate(blocks, axis=1), return_inverse=True)
    return BallMesh(
        np.ascontiguousarray(coordinates.reshape(-1, 3)[used].T),
        np.ascontiguousarray(tetrahedra.reshape(4, -1).astype(np.int64)),
        {name: np.concatenate(found) for name, found in members.items()},
        plan.radius,
    )
