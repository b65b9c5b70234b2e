"""The steady field of magnets against closed forms on the axis, the dipole, Gauss's law and themselves."""

from math import atan, hypot, pi, sqrt

import numpy as np
import pytest

from fem.magnet_field import magnet_field_strength, magnet_flux_density, magnets_flux_density
from geometries.magnet import Magnet, Triple
from geometries.materials import Material

AIR = Material("air")
VACUUM = 4e-7 * pi
SLANTED: Triple = (0.36, 0.48, 0.8)
SIZE = (4e-3, 6e-3, 12e-3)


def block(
    direction: Triple = (0.0, 0.0, 1.0), size: Triple = SIZE, place: Triple = (0.0, 0.0, 0.0), remanence: float = 1.2
) -> Magnet:
    """A block of air's permeability."""
    return Magnet("block", AIR, size, place, remanence=remanence, direction=direction)


def cylinder(diameter: float = 5e-3, height: float = 8e-3, up: float = 1.0) -> Magnet:
    """A cylinder magnetised along its axis."""
    size = (diameter, diameter, height)
    return Magnet("cylinder", AIR, size, (0.0, 0.0, 0.0), remanence=1.1, direction=(0.0, 0.0, up), shape="cylinder")


@pytest.mark.parametrize("distance", [1e-5, 1e-3, 5e-3, 20e-3, 80e-3])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_on_a_block_s_axis(distance: float, axis: int) -> None:
    """B = J/π [atan(ab/(2z√(4z² + a² + b²))) − the same at D + z] (textbooks, from memory), for each axis in turn."""
    a, b, d = SIZE[(axis + 1) % 3], SIZE[(axis + 2) % 3], SIZE[axis]

    def term(z: float) -> float:
        return atan(a * b / (2.0 * z * sqrt(4.0 * z * z + a * a + b * b)))

    direction, point = np.zeros(3), np.array([1e-3, -2e-3, 7e-3])
    direction[axis] = 1.0
    magnet = block(tuple(direction), place=tuple(point))
    point[axis] += 0.5 * d + distance
    found = magnet_flux_density(magnet, point)
    assert found[axis] == pytest.approx(1.2 / pi * (term(distance) - term(d + distance)), rel=1e-9, abs=0.0)
    assert np.delete(found, axis) == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("distance", [1e-5, 1e-3, 5e-3, 20e-3, 80e-3])
@pytest.mark.parametrize("up", [1.0, -1.0])
def test_on_a_cylinder_s_axis(distance: float, up: float) -> None:
    """B = J/2 [(D + z)/√(R² + (D + z)²) − z/√(R² + z²)] (textbooks, from memory)."""
    radius, d = 2.5e-3, 8e-3
    expected = 0.55 * ((d + distance) / hypot(radius, d + distance) - distance / hypot(radius, distance))
    found = magnet_flux_density(cylinder(up=up), np.array([0.0, 0.0, 0.5 * d + distance]))
    assert found == pytest.approx([0.0, 0.0, up * expected], rel=1e-9, abs=1e-15)


def test_the_field_is_not_changed_by_being_turned_about_an_axis() -> None:
    """The same block lying along x: components and places move round together."""
    points = np.array([[3e-3, -9e-3, 1e-3], [1e-3, 2e-3, -7e-3], [8e-3, 1e-3, 2e-3]])
    upright = magnet_flux_density(block(), points)
    lying = magnet_flux_density(block((1.0, 0.0, 0.0), (SIZE[2], SIZE[0], SIZE[1])), points[[2, 0, 1]])
    assert lying == pytest.approx(upright[[2, 0, 1]], rel=1e-12, abs=0.0)


@pytest.mark.parametrize("magnet", [block(SLANTED), cylinder()], ids=["block", "cylinder"])
def test_far_away_it_is_a_dipole(magnet: Magnet) -> None:
    away = np.array([[0.3, -0.2, 0.1], [0.1, 0.5, 0.0], [0.6, 0.2, -0.4]])
    volume = float(np.prod(magnet.size)) * (1.0 if magnet.shape == "block" else pi / 4.0)
    moment = np.array(magnet.polarisation) * volume / VACUUM
    distance = np.linalg.norm(away, axis=0)
    unit = away / distance
    expected = VACUUM / (4.0 * pi) * (3.0 * unit * (moment @ unit) - moment[:, None]) / distance**3
    found = magnet_flux_density(magnet, away)
    size = max(magnet.size) / distance.min()
    assert np.abs(found - expected).max() < size**2 * np.abs(expected).max()


def outflow(magnet: Magnet, centre: Triple, edge: float) -> tuple[float, float]:
    """Flux out of a cube [Wb], and the flux of the size of B, by Gauss's rule on its faces."""
    x, weights = np.polynomial.legendre.leggauss(40)
    u, v = np.meshgrid(0.5 * edge * x, 0.5 * edge * x)
    share = 0.25 * edge**2 * np.outer(weights, weights)
    out = size = 0.0
    for axis in range(3):
        for side in (1.0, -1.0):
            faces = np.stack([np.full_like(u, 0.5 * side * edge), u, v])
            points = np.roll(faces, axis, axis=0) + np.reshape(centre, (3, 1, 1))
            normal = magnet_flux_density(magnet, points)[axis]
            out += side * float((share * normal).sum())
            size += float((share * np.abs(normal)).sum())
    return out, size


@pytest.mark.parametrize("magnet", [block(SLANTED), cylinder()], ids=["block", "cylinder"])
@pytest.mark.parametrize(
    ("centre", "edge"), [((9e-3, 2e-3, 4e-3), 3e-3), ((0.0, 0.0, 0.0), 40e-3), ((0.3e-3, 0.2e-3, 0.1e-3), 1e-3)]
)
def test_no_flux_comes_out_of_a_closed_surface(magnet: Magnet, centre: Triple, edge: float) -> None:
    """Outside the magnet, round it, and inside it."""
    out, size = outflow(magnet, centre, edge)
    assert abs(out) < 1e-9 * size


@pytest.mark.parametrize("magnet", [block(SLANTED), cylinder()], ids=["block", "cylinder"])
def test_field_strength_has_no_curl_where_flux_density_has_no_divergence(magnet: Magnet) -> None:
    """H round a square that passes through the magnet: no current flows, so ∮ H · dl = 0."""
    x, weights = np.polynomial.legendre.leggauss(100)
    high, wide, face = 9e-3, 5e-3, 0.5 * magnet.size[2]

    def along(start: list[float], end: list[float]) -> float:
        first, last = np.array(start), np.array(end)
        points = first[:, None] + np.outer(last - first, 0.5 * (x + 1.0))
        return float(0.5 * weights @ (magnet_field_strength(magnet, points).T @ (last - first)))

    # The leg through the magnet jumps at both faces: it is cut there.
    corners = [[1e-4, 2e-4, z] for z in (high, face, -face, -high)] + [[wide, 2e-4, -high], [wide, 2e-4, high]]
    legs = [along(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    assert abs(sum(legs)) < 1e-9 * sum(map(abs, legs))


def test_eight_small_blocks_are_the_large_one() -> None:
    halves = tuple(0.5 * edge for edge in SIZE)
    parts = [
        block(SLANTED, halves, (0.5 * i * halves[0], 0.5 * j * halves[1], 0.5 * k * halves[2]))
        for i in (1, -1)
        for j in (1, -1)
        for k in (1, -1)
    ]
    points = np.random.default_rng(5).uniform(-9e-3, 9e-3, (3, 200))  # inside and outside
    whole = magnet_flux_density(block(SLANTED), points)
    assert magnets_flux_density(parts, points) == pytest.approx(whole, rel=1e-9, abs=1e-11)


def test_directions_add_up() -> None:
    points = np.random.default_rng(6).uniform(-9e-3, 9e-3, (3, 50))
    shares = [block((1.0, 0.0, 0.0), remanence=1.2 * 0.36), block((0.0, 1.0, 0.0), remanence=1.2 * 0.48)]
    total = magnets_flux_density([*shares, block(remanence=1.2 * 0.8)], points)
    assert magnet_flux_density(block(SLANTED), points) == pytest.approx(total, rel=1e-12, abs=1e-14)


def test_a_thin_plate_holds_its_remanence_and_a_long_bar_too() -> None:
    """Across a wide plate B is nearly 0 (H = −J/μ0); along a long bar B is J."""
    plate = block(size=(1.0, 1.0, 1e-3))
    bar = block(size=(1e-3, 1e-3, 1.0))
    assert magnet_flux_density(plate, np.zeros(3))[2] == pytest.approx(0.0, abs=4e-3)
    assert magnet_field_strength(plate, np.zeros(3))[2] == pytest.approx(-1.2 / VACUUM, rel=3e-3, abs=0.0)
    assert magnet_flux_density(bar, np.zeros(3))[2] == pytest.approx(1.2, rel=1e-5, abs=0.0)


def test_a_cylinder_is_a_round_pile_of_blocks() -> None:
    """Two hundred blocks laid out in its circle, outside it."""
    radius, n = 2.5e-3, 40
    step = 2.0 * radius / n
    middles = -radius + step * (np.arange(n) + 0.5)
    points = np.array([[6e-3, 1e-3, 0.0, 4e-3], [1e-3, 2e-3, 7e-3, 0.0], [1e-3, 7e-3, 3e-3, -6e-3]])
    total = np.zeros(points.shape)
    for x in middles:
        wide = 2.0 * sqrt(radius**2 - x * x)
        part = Magnet("slice", AIR, (step, wide, 8e-3), (x, 0.0, 0.0), remanence=1.1)
        total += magnet_flux_density(part, points)
    found = magnet_flux_density(cylinder(), points)
    assert np.abs(found - total).max() < 3e-3 * np.abs(total).max()


@pytest.mark.parametrize("magnet", [block(SLANTED), cylinder()], ids=["block", "cylinder"])
def test_edges_faces_and_corners_give_finite_numbers(magnet: Magnet) -> None:
    half = [0.5 * edge for edge in magnet.size]
    points = np.array(np.meshgrid(*([-h, 0.0, h, 3.0 * h] for h in half), indexing="ij"))
    found = magnet_flux_density(magnet, points)
    assert np.all(np.isfinite(found))
    assert np.abs(found).max() < 15.0


def test_across_a_face_the_normal_flux_density_goes_on() -> None:
    top = 0.5 * SIZE[2]
    heights = np.array([top * (1.0 - 1e-9), top, top * (1.0 + 1e-9)])
    points = np.stack([np.full(3, 1e-3), np.full(3, 0.5e-3), heights])
    for magnet in (block(SLANTED),):
        normal = magnet_flux_density(magnet, points)[2]
        assert normal == pytest.approx(normal[1], rel=1e-6, abs=0.0)
    strength = magnet_field_strength(block(), points)[2]
    assert strength[0] < 0.0 < strength[2]
