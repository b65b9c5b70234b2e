"""The weak form in three dimensions against spheres that are known in closed form, and against itself."""

from math import pi

import numpy as np
import pytest

from fem.errors import FieldError
from fem.model import Body, Model
from fem.whole_space import WholeSpace
from geometries.constants import MAGNETIC_CONSTANT
from tests.fem.balls import sphere_radius, sphere_space, uniform

ALONG = (0.0, 0.0, 1.0)
SLANTED = (0.6, 0.0, 0.8)


def moment(space: WholeSpace, direction: tuple[float, float, float] = ALONG) -> complex:
    """Moment along a field of 1 T [A m²]."""
    given = space.sampled(uniform(direction))
    return space.added_linkage(space.solve(given), given, given)


def sphere_error(permeability: complex, size: float) -> tuple[float, int]:
    """Relative error of a permeable sphere's moment, 4πR³ (μ−1)/(μ+2) H, and the number of edges."""
    space = sphere_space(Body(1.0 / permeability), 1e4, size)
    expected = 4.0 * pi * sphere_radius(space) ** 3 * (permeability - 1.0) / (permeability + 2.0) / MAGNETIC_CONSTANT
    return abs(moment(space) / expected - 1.0), space.elements.count


@pytest.mark.slow
def test_a_ferrite_sphere_converges_to_its_closed_form() -> None:
    """Edge elements of the lowest order: energies, and so moments, converge as h², or edges to the power −2/3."""
    coarse, few = sphere_error(700.0 - 7.0j, 1e-3)
    fine, many = sphere_error(700.0 - 7.0j, 0.5e-3)
    assert fine < coarse * (few / many) ** (2.0 / 3.0)
    assert fine < 0.02


def test_a_small_ball_will_do_for_a_dipole() -> None:
    """The term on the sphere is exact for a dipole; without it the ball of 2 radii would be wrong by (1/2)³."""
    small, large = (moment(sphere_space(Body(0.1), 1e4, 1.2e-3, ball)) for ball in (2.0, 5.0))
    assert small == pytest.approx(large, rel=0.01, abs=0.0)


def test_no_direction_is_preferred() -> None:
    space = sphere_space(Body(0.1), 1e4, 1.5e-3)
    assert moment(space, SLANTED) == pytest.approx(moment(space), rel=5e-3, abs=0.0)


def test_the_matrix_is_symmetric_and_exchanging_the_fields_changes_nothing() -> None:
    space = sphere_space(Body(0.1 + 0.01j, 1e5), 1e4, 1.5e-3)
    difference = space.matrix - space.matrix.T
    assert np.abs(difference.data).max() < 1e-12 * np.abs(space.matrix.data).max()
    first, second = space.sampled(uniform(ALONG)), space.sampled(uniform((0.0, 0.6, 0.8)))
    there = space.added_linkage(space.solve(first), first, second)
    back = space.added_linkage(space.solve(second), second, first)
    assert there == pytest.approx(back, rel=1e-7, abs=0.0)


def test_a_lossless_body_gives_a_real_matrix() -> None:
    assert not np.iscomplexobj(sphere_space(Body(0.1), 1e4, 2e-3).matrix.data)
    assert np.iscomplexobj(sphere_space(Body(0.1, 1e5), 1e4, 2e-3).matrix.data)


def test_bodies_left_out_of_the_model_are_air() -> None:
    space = sphere_space(Body(0.1), 1e4, 2e-3)
    empty = WholeSpace(space.elements, Model(1.0))
    given = empty.sampled(uniform(ALONG))
    assert empty.added_linkage(empty.solve(given), given, given) == 0.0


def test_loss_is_positive() -> None:
    """R = −ω Im of the linkage: of eddy currents and of a lossy ferrite alike."""
    assert moment(sphere_space(Body(1.0, 1e6), 1e4, 1.5e-3)).imag < 0.0
    assert moment(sphere_space(Body(1.0 / (100.0 - 10.0j)), 1e4, 1.5e-3)).imag < 0.0


def test_no_convergence_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from fem import whole_space

    few = lambda matrix, right: whole_space_gradients(matrix, right, most_steps=2)  # noqa: E731
    whole_space_gradients = whole_space.conjugate_gradients
    monkeypatch.setattr(whole_space, "conjugate_gradients", few)
    space = sphere_space(Body(0.1), 1e4, 2e-3)
    with pytest.raises(FieldError, match="after 2 steps"):
        space.solve(space.sampled(uniform(ALONG)))
