"""W. R. Smythe, 1968, ch. X: eddy currents in a sphere by spherical harmonics; here of a loop on its axis.

Each harmonic r^n P_n¹ of the loop's potential is answered by R^(2n+1) j_(n+1)(kR)/j_(n−1)(kR) r^(−n−1) P_n¹, k² =
−jωµ0σ (non-magnetic sphere; n = 1 is the sphere in a uniform field). Formula from memory, rederived; the series is
summed here.
"""

from math import hypot, pi

import numpy as np
import pytest
from scipy.special import jve, lpmv

from fem.closed_forms import loop_flux_density, loop_vector_potential
from fem.elements import Elements
from fem.model import Body, Model
from fem.sources import induced_rings
from fem.system import System
from geometries.constants import skin_depth
from geometries.meshing import section_mesh
from geometries.plan import TAG_CORE
from tests.fem.discs import interpolated, sphere_plan
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Smythe 1968",
    "W. R. Smythe, *Static and Dynamic Electricity*, 3rd edition 1968, ch. X: sphere on a loop's axis.",
    "book",
)
RECORD = Record(
    SOURCE,
    Status.FORMULA,
    Means.ELEMENTS,
    "polygons of 32 and 64 sides made round by their h² law: what is left grows with the harmonic, 3e-4 here",
)
SPHERE, LOOP, HEIGHT, FREQUENCY, MU0 = 0.004, 0.006, 0.005, 1e4, 4e-7 * pi


def series(conductivity: float, terms: int = 60) -> complex:
    """Change of the loop's inductance [H]."""
    far = hypot(LOOP, HEIGHT)
    x = (1.0 - 1.0j) * SPHERE / skin_depth(FREQUENCY, conductivity)
    total = 0.0 + 0.0j
    for n in range(1, terms):
        answer = SPHERE ** (2 * n + 1) * jve(n + 1.5, x) / jve(n - 0.5, x)
        total += lpmv(1, n, HEIGHT / far) ** 2 / (n * (n + 1)) * answer / far ** (2 * n + 1)
    return complex(2.0 * pi * LOOP * 0.5 * MU0 * LOOP / far * total)


def by_elements(conductivity: float, sides: int) -> complex:
    size = min(SPHERE * pi / sides, 0.5 * skin_depth(FREQUENCY, conductivity))
    mesh = section_mesh(sphere_plan(SPHERE, sides, size))
    system = System(Elements(mesh, 3), Model(2.0 * pi * FREQUENCY, {TAG_CORE: Body(1.0, conductivity)}))

    def given(r: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, ...]:
        potential = np.asarray(loop_vector_potential(LOOP, HEIGHT, r, z))
        return (potential, *(np.asarray(part) for part in loop_flux_density(LOOP, HEIGHT, r, z)))

    answer = system.solve(system.reaction_load(given)[:, None])[:, 0]
    whole = answer + interpolated(system.elements, lambda r, z: given(r, z)[0])
    rings = induced_rings(system, whole)[0]
    linked = loop_vector_potential(LOOP, HEIGHT, rings.radius, rings.height)
    return complex(2.0 * pi * (rings.weight * rings.current * linked).sum())


@pytest.mark.slow
@pytest.mark.parametrize("conductivity", [1e6, 3.5e7])
def test_sphere_on_the_axis_of_a_loop(conductivity: float) -> None:
    found = (4.0 * by_elements(conductivity, 64) - by_elements(conductivity, 32)) / 3.0
    expected = series(conductivity)
    ratio = SPHERE / skin_depth(FREQUENCY, conductivity)
    quantity = f"ΔL of a 12 mm loop 5 mm over the middle of an 8 mm sphere, R/δ = {ratio:.2f}"
    RECORD.compare(f"real {quantity} [nH]", expected.real * 1e9, found.real * 1e9, relative=3e-4)
    RECORD.compare(f"imaginary {quantity} [nH]", expected.imag * 1e9, found.imag * 1e9, relative=3e-4)
