"""Edge elements: what they hold exactly, and how they are counted."""

from collections.abc import Callable
from math import pi

import numpy as np
import pytest

from fem.edge_elements import EdgeElements, edge_elements
from geometries.ball_meshing import BallMesh, ball_mesh
from geometries.ball_plan import BallPlan, Block

Integral = Callable[[np.ndarray, np.ndarray], np.ndarray]


@pytest.fixture(scope="module")
def mesh() -> BallMesh:
    return ball_mesh(BallPlan((), (Block("bar", (-1e-3, -1e-3, -2e-3), (1e-3, 1e-3, 2e-3), 1e-3),), 0.01))


@pytest.fixture(scope="module")
def elements(mesh: BallMesh) -> EdgeElements:
    return edge_elements(mesh)


def along_edges(elements: EdgeElements, mesh: BallMesh, integral: Integral) -> np.ndarray:
    """``integral(start, end)`` of each edge, which runs from its lower point number to its higher."""
    found = np.zeros(elements.count)
    for local, pair in enumerate(((0, 1), (1, 2), (0, 2), (0, 3), (1, 3), (2, 3))):
        ends = np.sort(mesh.tetrahedra[list(pair)], axis=0)
        found[elements.dofs[local]] = integral(mesh.points[:, ends[0]], mesh.points[:, ends[1]])
    return found


def turning(elements: EdgeElements, mesh: BallMesh) -> np.ndarray:
    """A = ½ b × x with b = (0, 0, 1), which the elements hold exactly."""
    return along_edges(elements, mesh, lambda a, b: 0.5 * (a[0] * b[1] - a[1] * b[0]))


def test_there_is_one_unknown_an_edge(elements: EdgeElements, mesh: BallMesh) -> None:
    pairs = np.concatenate([mesh.tetrahedra[[i, j]] for i in range(4) for j in range(i)], axis=1)
    assert elements.count == np.unique(np.sort(pairs, axis=0), axis=1).shape[1]


def test_the_curl_of_a_turning_potential_is_uniform(elements: EdgeElements, mesh: BallMesh) -> None:
    curls = np.einsum("ice,ie->ce", elements.curls, turning(elements, mesh)[elements.dofs])
    np.testing.assert_allclose(curls, np.broadcast_to([[0.0], [0.0], [1.0]], curls.shape), atol=1e-9)


def test_values_inside_a_body(elements: EdgeElements, mesh: BallMesh) -> None:
    part = elements.bodies["bar"]
    values = np.einsum("iceq,ie->ceq", part.values, turning(elements, mesh)[part.dofs])
    expected = 0.5 * np.stack([-part.positions[1], part.positions[0], 0.0 * part.positions[2]])
    np.testing.assert_allclose(values, expected, atol=1e-12)
    assert part.weights.sum() == pytest.approx(2e-3 * 2e-3 * 4e-3, rel=1e-9, abs=0.0)


def test_the_sphere_sees_the_part_along_it(elements: EdgeElements, mesh: BallMesh) -> None:
    """∮ |A_t|² dS of A = ½ b × x is ¼ ∮ ρ² dS = (2π/3) R⁴; the facets cost a few percent."""
    own = turning(elements, mesh)[elements.outer_dofs]
    found = np.einsum("if,ijf,jf->", own, elements.outer_masses, own)
    assert found == pytest.approx(2.0 * pi / 3.0 * mesh.radius**4, rel=0.1, abs=0.0)
    # The gradient of x² + y² + z² is normal to the sphere: its points lie on it, so no edge on it has any.
    gradient = along_edges(elements, mesh, lambda a, b: (b**2).sum(axis=0) - (a**2).sum(axis=0))
    along = gradient[elements.outer_dofs]
    total = np.einsum("if,ijf,jf->", along, elements.outer_masses, along)
    assert total < 1e-12 * 4.0 * mesh.radius**2 * 4.0 * pi * mesh.radius**2
