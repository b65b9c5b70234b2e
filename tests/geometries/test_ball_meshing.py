"""Tetrahedra about a tag: regions where the plan has them, volumes kept, faults told."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from geometries.ball_meshing import BallMesh, ball_mesh
from geometries.ball_plan import BallPlan, Block, Turned, tag_ball
from geometries.errors import MeshingError
from geometries.magnet import Magnet, magnet_region
from geometries.materials import Material
from geometries.plan import TAG_CORE, TAG_SHIELD
from geometries.tag import ShieldCan
from tests.fem.cases import AIR_TAG, DRUM, DRUM_TAG, FERRITE, FREQUENCY

MAGNET_METAL = Material("magnet metal", resistivity_20=1.4e-6, relative_permeability=1.05)
BAR = Magnet("bar", MAGNET_METAL, (2e-3, 3e-3, 8e-3), (7e-3, 0.0, 1e-3))


@pytest.fixture(scope="module")
def mesh() -> BallMesh:
    return ball_mesh(tag_ball(DRUM_TAG, (BAR,), FREQUENCY, 0.6))


def volumes(mesh: BallMesh) -> np.ndarray:
    corners = mesh.points[:, mesh.tetrahedra]
    return np.abs(np.linalg.det((corners[:, 1:] - corners[:, :1]).transpose(2, 1, 0))) / 6.0


def test_bodies_keep_their_volume(mesh: BallMesh) -> None:
    """A box exactly; the drum's and the ball's facets lie inside the round surface and cost (h/r)²/6 at most."""
    found = volumes(mesh)
    low, high = DRUM.centre_post_height * pi * 0.0015**2, 2.0 * DRUM.flange_thickness * pi * 0.004**2
    core, bar = found[mesh.regions[TAG_CORE]].sum(), found[mesh.regions[magnet_region(BAR)]].sum()
    assert bar == pytest.approx(2e-3 * 3e-3 * 8e-3, rel=1e-9, abs=0.0)
    assert 0.98 < core / (low + high) < 1.0
    assert 0.9 < found.sum() / (4.0 / 3.0 * pi * mesh.radius**3) < 1.0


def test_bodies_lie_where_they_were_planned(mesh: BallMesh) -> None:
    middles = mesh.points[:, mesh.tetrahedra].mean(axis=1)
    bar = middles[:, mesh.regions[magnet_region(BAR)]]
    assert np.all(np.abs(bar - np.reshape(BAR.place, (3, 1))) < np.reshape(BAR.size, (3, 1)) / 2.0)
    core = middles[:, mesh.regions[TAG_CORE]]
    assert np.all(np.hypot(core[0], core[1]) < 0.004)
    assert np.all((np.abs(core[2]) > 0.002) | (np.hypot(core[0], core[1]) < 0.0015))
    assert np.all(np.linalg.norm(mesh.points, axis=0) < mesh.radius * (1.0 + 1e-9))


def test_a_sharp_corner_stays(mesh: BallMesh) -> None:
    """The flange's rim is a circle of the mesh: points lie on it, at its radius and height."""
    r, z = np.hypot(mesh.points[0], mesh.points[1]), mesh.points[2]
    on_rim = (np.abs(r - 0.004) < 1e-8) & (np.abs(z - DRUM.half_height) < 1e-8)
    assert on_rim.sum() > 20


def test_every_part_of_the_ball_is_meshed_once(mesh: BallMesh) -> None:
    members = np.concatenate(list(mesh.regions.values()))
    assert np.unique(members).size == members.size
    assert np.unique(mesh.tetrahedra).size == mesh.points.shape[1]


def test_the_ball_holds_the_magnets_with_room() -> None:
    assert tag_ball(DRUM_TAG, (BAR,), FREQUENCY).radius == pytest.approx(5.0 * BAR.reach, rel=1e-12, abs=0.0)


def test_a_conducting_magnet_is_fine_against_its_skin_depth() -> None:
    copper = Magnet("bar", Material("copper", resistivity_20=1.72e-8), (1e-3, 1e-3, 2e-3), BAR.place)
    (block,) = tag_ball(DRUM_TAG, (copper,), FREQUENCY).blocks
    assert block.surface_size == pytest.approx(0.18e-3 / 3.0, rel=0.02, abs=0.0)  # δ = 0.18 mm at 134.2 kHz


def test_too_thin_a_skin_is_refused_with_its_size() -> None:
    copper = Magnet("bar", Material("copper", resistivity_20=1.72e-8), BAR.size, BAR.place)
    with pytest.raises(MeshingError, match=r"magnet bar would need elements of 0\.06 mm"):
        tag_ball(DRUM_TAG, (copper,), FREQUENCY)


def test_a_can_round_the_tag_is_meshed_too() -> None:
    can = ShieldCan(FERRITE, 0.005, 1e-3, -4e-3, 4e-3, closed_bottom=True)
    core, shield = tag_ball(replace(DRUM_TAG, shield=can), (), FREQUENCY).turned
    assert (core.name, shield.name) == (TAG_CORE, TAG_SHIELD)
    assert shield.outline == can.outline


def test_areas() -> None:
    cylinder = Turned("rod", ((0.0, -2e-3), (1e-3, -2e-3), (1e-3, 2e-3), (0.0, 2e-3)), 1e-4, 1e-4)
    assert cylinder.area == pytest.approx(2.0 * pi * 1e-6 + 2.0 * pi * 1e-3 * 4e-3, rel=1e-12, abs=0.0)
    assert Block("bar", (0.0, 0.0, 0.0), (1.0, 2.0, 3.0), 0.1).area == pytest.approx(22.0, rel=1e-12, abs=0.0)


def test_nothing_to_mesh_is_told() -> None:
    with pytest.raises(MeshingError, match="nothing to mesh"):
        tag_ball(AIR_TAG, (), FREQUENCY)


def test_an_outline_that_crosses_itself_is_told() -> None:
    crossing = Turned("core", ((0.0, 0.0), (1e-3, 1e-3), (1e-3, 0.0), (0.0, 1e-3)), 1e-4, 1e-4)
    with pytest.raises(MeshingError, match="core cannot be meshed"):
        ball_mesh(BallPlan((crossing,), (), 0.01))


def test_a_body_outside_the_ball_is_told() -> None:
    far = Block("bar", (0.02, 0.0, 0.0), (0.03, 0.01, 0.01), 1e-3)
    with pytest.raises(MeshingError, match="ball"):
        ball_mesh(BallPlan((), (far,), 0.01))
