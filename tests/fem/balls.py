"""Spheres in a ball of air, in three dimensions."""

from math import cos, pi, sin

import numpy as np

from fem.arrays import Array
from fem.edge_elements import edge_elements
from fem.model import Body, Model
from fem.whole_space import GivenField, WholeSpace
from geometries.ball_meshing import ball_mesh
from geometries.ball_plan import BallPlan, Turned

RADIUS = 0.004


def sphere_space(body: Body, frequency: float, size: float, ball: float = 5.0) -> WholeSpace:
    """A sphere of `RADIUS`, its half section a polygon of 24 sides, with elements of ``size`` [m] on its surface;
    ``ball`` is the radius of the air over its own."""
    sides = 24
    angles = [pi * (i / sides - 0.5) for i in range(sides + 1)]
    outline = tuple((0.0 if i in (0, sides) else RADIUS * cos(a), RADIUS * sin(a)) for i, a in enumerate(angles))
    plan = BallPlan((Turned("sphere", outline, size, size),), (), ball * RADIUS)
    return WholeSpace(edge_elements(ball_mesh(plan)), Model(2.0 * pi * frequency, {"sphere": body}))


def uniform(direction: tuple[float, float, float]) -> GivenField:
    """1 T along ``direction``, the potential ½ B × r."""

    def field(places: Array) -> tuple[Array, Array]:
        b = np.broadcast_to(np.reshape(direction, (3, *(1,) * (places.ndim - 1))), places.shape)
        return 0.5 * np.cross(b, places, axis=0), b

    return field


def sphere_radius(space: WholeSpace) -> float:
    """Radius of the sphere with the volume of the elements that stand for it [m]."""
    volume = space.elements.volumes[space.elements.bodies["sphere"].members].sum()
    return float((0.75 * volume / pi) ** (1.0 / 3.0))
