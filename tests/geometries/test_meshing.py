"""Meshes keep to their plan: areas, lines, sizes, names; and say so when they cannot."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from geometries.constants import skin_depth
from geometries.errors import MeshingError
from geometries.materials import Material
from geometries.meshing import section_mesh
from geometries.plan import TAG_CORE, MeshPlan, Region, Sheet, axis_plan, base_plan, reaction_plan, tag_plan
from geometries.section import WindingSection
from geometries.stack import Layer, Solid, Stack
from geometries.tag import DrumCore, Tag

FREQUENCY = 134.2e3
COIL = WindingSection(0.0205, 0.0235, -0.008, -0.005)
ALUMINIUM = Material("aluminium", resistivity_20=2.8e-8)
DRUM = Tag(
    WindingSection(0.0018, 0.0035, -0.0018, 0.0018),
    300,
    DrumCore(Material("ferrite", relative_permeability=900.0), 0.003, 0.004, 0.008, 0.001),
)
STACK = Stack(
    (
        Layer("foil", "foil", ALUMINIUM, -0.002, 2e-5, 0.06, inner_radius=0.01),
        Layer("low foil", "foil", ALUMINIUM, -0.0065, 2e-5, 0.04),  # passes through the winding
    ),
    (Solid("pan", ALUMINIUM, ((0.0, -0.02), (0.05, -0.02), (0.05, -0.018), (0.03, -0.019), (0.0, -0.019))),),
)
PLAN = axis_plan(STACK, COIL, DRUM, 0.012, FREQUENCY)


@pytest.fixture(scope="module")
def mesh():
    return section_mesh(PLAN)


def polygon_area(outline):
    """By the shoelace formula [m²]."""
    r, z = np.array(outline).T
    return 0.5 * abs(np.sum(r * np.roll(z, -1) - np.roll(r, -1) * z))


def signed_areas(mesh):
    r, z = mesh.points[:, mesh.triangles]
    return 0.5 * ((r[1] - r[0]) * (z[2] - z[0]) - (r[2] - r[0]) * (z[1] - z[0]))


def edges(mesh):
    """Every edge once, as pairs of points, shape (2, n)."""
    pairs = np.concatenate([mesh.triangles[[0, 1]], mesh.triangles[[1, 2]], mesh.triangles[[2, 0]]], axis=1)
    return np.unique(np.sort(pairs, axis=0), axis=1)


def test_regions_fill_their_polygons(mesh):
    areas = np.abs(signed_areas(mesh))
    assert set(mesh.regions) == {region.name for region in PLAN.regions}
    for region in PLAN.regions:
        members = mesh.regions[region.name]
        assert areas[members].sum() == pytest.approx(polygon_area(region.outline), rel=1e-9, abs=0.0)
        r, z = mesh.points[:, mesh.triangles[:, members]].reshape(2, -1)
        assert z.min() == pytest.approx(min(c[1] for c in region.outline), abs=1e-12)
        assert r.max() == pytest.approx(max(c[0] for c in region.outline), abs=1e-12)


def test_regions_do_not_share_elements(mesh):
    members = np.concatenate(list(mesh.regions.values()))
    assert np.unique(members).size == members.size
    assert members.size < mesh.triangles.shape[1]  # the rest is air


def test_triangles_fill_the_half_disc_once(mesh):
    areas = np.abs(signed_areas(mesh))
    assert areas.min() > 0.0
    half_disc = 0.5 * pi * mesh.outer_radius**2
    assert 0.98 * half_disc < areas.sum() < half_disc
    # An edge belongs to two triangles, or to one on the axis and on the outer half circle.
    pairs = np.concatenate([mesh.triangles[[0, 1]], mesh.triangles[[1, 2]], mesh.triangles[[2, 0]]], axis=1)
    single, counts = np.unique(np.sort(pairs, axis=0), axis=1, return_counts=True)
    assert counts.max() == 2
    r, z = mesh.points[:, single[:, counts == 1]]
    on_axis = (r == 0.0).all(axis=0)
    on_circle = np.abs(np.hypot(r, z - mesh.centre) - mesh.outer_radius).max(axis=0) < 1e-9
    assert np.all(on_axis | on_circle)


@pytest.mark.parametrize("number", [0, 1])
def test_sheets_are_lines_of_the_mesh(mesh, number):
    sheet = mesh.sheets[number]
    r, z = mesh.points[:, edges(mesh)]
    on_line = (np.abs(z - sheet.height) < 1e-12).all(axis=0)
    within = (r > sheet.inner_radius - 1e-9).all(axis=0) & (r < sheet.outer_radius + 1e-9).all(axis=0)
    lengths = np.abs(r[0] - r[1])[on_line & within]
    assert lengths.sum() == pytest.approx(sheet.outer_radius - sheet.inner_radius, rel=1e-9, abs=0.0)
    assert lengths.size > 5


def test_all_points_are_used_and_the_axis_is_exact(mesh):
    assert np.unique(mesh.triangles).size == mesh.points.shape[1]
    assert mesh.points[0].min() == 0.0
    assert not np.any((mesh.points[0] > 0.0) & (mesh.points[0] < 1e-9))
    assert mesh.triangles.dtype == np.int64
    assert mesh.triangles.flags.c_contiguous


def longest_edges(mesh, members):
    r, z = mesh.points[:, mesh.triangles[:, members]]
    return np.max([np.hypot(r[i] - r[j], z[i] - z[j]) for i, j in ((0, 1), (1, 2), (2, 0))], axis=0)


def test_conductor_near_the_coil_is_as_fine_as_its_skin():
    depth = skin_depth(FREQUENCY, 1.0 / 2.8e-8)
    near = Solid("pan", ALUMINIUM, ((0.0, -0.02), (0.05, -0.02), (0.05, -0.010), (0.0, -0.010)))
    mesh = section_mesh(base_plan(Stack((), (near,)), COIL, FREQUENCY))
    members = mesh.regions["solid pan"]
    r, z = mesh.points[:, mesh.triangles[:, members]].mean(axis=1)
    below_coil = (np.abs(r - COIL.mean_radius) < 0.002) & (z > -0.010 - 0.5 * depth)
    assert longest_edges(mesh, members)[below_coil].max() < 2.4 * depth
    # Far from the coil and inside the body they may be large.
    assert longest_edges(mesh, members).max() > 4.0 * depth


def test_core_corners_are_fine():
    fine, coarse = (
        section_mesh(tag_plan(DRUM, FREQUENCY)),
        section_mesh(axis_plan(Stack(), COIL, DRUM, 0.03, FREQUENCY, 0.2)),
    )
    for mesh, height, size in ((fine, 0.0, 2e-5), (coarse, 0.03, 2e-4)):
        members = mesh.regions[TAG_CORE]
        r, z = mesh.points[:, mesh.triangles[:, members]]
        touches = (np.hypot(r - 0.0015, z - height - 0.002) < 1e-9).any(axis=0)  # the re-entrant corner
        assert touches.any()
        assert 0.3 * size < longest_edges(mesh, members)[touches].max() < 2.0 * size


def test_air_grows_with_distance(mesh):
    air = np.setdiff1d(np.arange(mesh.triangles.shape[1]), np.concatenate(list(mesh.regions.values())))
    r, z = mesh.points[:, mesh.triangles[:, air]].mean(axis=1)
    far = np.hypot(r, z - mesh.centre) > 0.7 * mesh.outer_radius
    assert np.median(longest_edges(mesh, air)[far]) > 0.1 * mesh.outer_radius
    assert mesh.triangles.shape[1] < 8000


def test_the_same_plan_gives_the_same_mesh(mesh):
    again = section_mesh(PLAN)
    assert np.array_equal(again.points, mesh.points)
    assert np.array_equal(again.triangles, mesh.triangles)


CROSSED = ((0.01, 0.0), (0.02, 0.01), (0.02, 0.0), (0.01, 0.01))


@pytest.mark.parametrize(
    ("outline", "reason"),
    [
        (CROSSED, r"block cannot be meshed: the edge .* meets the edge"),
        (((0.01, 0.0), (0.01, 0.0), (0.01, 0.0)), "block cannot be meshed"),
        (((0.01, 0.0), (0.02, 0.0), (0.03, 0.0)), "block cannot be meshed"),
        (((-0.01, 0.0), (0.02, 0.0), (0.03, 0.01)), r"block cannot be meshed: .* lies across the axis"),
    ],
    ids=["crosses itself", "a point", "a line", "across the axis"],
)
def test_impossible_outline_is_refused(outline, reason):
    plan = MeshPlan((Region("block", outline, 0.002, 0.002),), (), 0.0, 0.1)
    with pytest.raises(MeshingError, match=reason):
        section_mesh(plan)


def test_what_the_kernel_cannot_draw_is_refused_in_its_words():
    # A sheet without extent passes the outlines' check; the kernel makes no line of it.
    plan = MeshPlan((), (Sheet("foil", 0.05, 0.05, 0.0, 0.001),), 0.0, 0.1)
    with pytest.raises(MeshingError, match=r"the mesher could not mesh this geometry: .*line"):
        section_mesh(plan)


def test_a_good_mesh_follows_a_refused_one():
    plan = base_plan(Stack(), COIL, FREQUENCY)
    before = section_mesh(plan)
    with pytest.raises(MeshingError):
        section_mesh(replace(plan, regions=(Region("block", CROSSED, 0.002, 0.002),)))
    assert np.array_equal(section_mesh(plan).triangles, before.triangles)


def test_sheet_beside_a_body_s_edge_keeps_its_own_line():
    # A foil that lies right on a plate's surface shares its edges.
    plate = Solid("plate", ALUMINIUM, ((0.0, -0.012), (0.05, -0.012), (0.05, -0.010), (0.0, -0.010)))
    plan = base_plan(Stack((), (plate,)), COIL, FREQUENCY)
    plan = replace(plan, sheets=(Sheet("foil", 0.0, 0.06, -0.010, 1e-3),))
    mesh = section_mesh(plan)
    r, z = mesh.points[:, edges(mesh)]
    on_line = (np.abs(z + 0.010) < 1e-12).all(axis=0) & (r < 0.06 + 1e-9).all(axis=0)
    assert np.abs(r[0] - r[1])[on_line].sum() == pytest.approx(0.06, rel=1e-9, abs=0.0)
    assert np.abs(signed_areas(mesh))[mesh.regions["solid plate"]].sum() == pytest.approx(
        0.05 * 0.002, rel=1e-9, abs=0.0
    )


def sheet_edge_lengths(mesh, sheet):
    """Middle radius and length [m] of each edge of a sheet."""
    r, z = mesh.points[:, edges(mesh)]
    on = (np.abs(z - sheet.height) < 1e-9).all(axis=0) & (r <= sheet.outer_radius + 1e-9).all(axis=0)
    r = r[:, on & (r >= sheet.inner_radius - 1e-9).all(axis=0)]
    return r.mean(axis=0), np.abs(r[1] - r[0])


def test_surroundings_are_fine_under_every_section_whose_field_is_given():
    foil = Stack((Layer("foil", "foil", ALUMINIUM, -0.004, 2e-5, 0.08),))
    other = WindingSection(0.0505, 0.0535, -0.008, -0.005)
    lengths = {}
    for sections in ((COIL,), (COIL, other)):
        mesh = section_mesh(reaction_plan(foil, sections, FREQUENCY))
        middle, length = sheet_edge_lengths(mesh, mesh.sheets[0])
        lengths[sections] = [length[np.abs(middle - s.mean_radius) <= 0.5 * length].max() for s in (COIL, other)]
        assert mesh.regions == {}
    # Half the clearance of 1 mm, and a tenth of the section's side; the mesher keeps to a size within a half.
    assert max(lengths[COIL, other]) < 1.5 * (0.5 * 1e-3 + 0.1 * 3e-3)
    assert lengths[(COIL,)][1] > 3.0 * lengths[COIL, other][1]


def test_surroundings_are_fine_under_a_probe():
    foil = Stack((Layer("foil", "foil", ALUMINIUM, -0.004, 2e-5, 0.08),))
    lengths = []
    for probes in ((), (0.0,)):
        mesh = section_mesh(reaction_plan(foil, (COIL,), FREQUENCY, probes))
        middle, length = sheet_edge_lengths(mesh, mesh.sheets[0])
        lengths.append(length[middle <= length].max())
    # Half the distance of 4 mm.
    assert lengths[1] < 1.5 * 0.5 * 4e-3 < lengths[0]
