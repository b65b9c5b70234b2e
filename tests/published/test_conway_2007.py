"""J. T. Conway, 2007: M = µ0 π a b ∫ J1(ka) J1(kb) J0(kρ) e^(−kd) dk for two circles with parallel axes.

An exact published formula, evaluated here by quadrature of its own; the program's closed form takes a line integral,
its map the field of the base coil and the axial moments of the tag from the elements.
"""

from math import exp, pi

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j0, j1

from fem.air_field import AirSpace, air_field
from fem.closed_forms import displaced_loops_mutual_inductance
from fem.sources import winding_rings
from fem.tag_map import tag_map
from fem.tag_solution import tag_solution
from geometries.section import WindingSection
from geometries.tag import Tag
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Conway 2007",
    'J. T. Conway, "Inductance calculations for noncoaxial coils using Bessel functions", IEEE Trans. Magn. 43, 2007, '
    "1023.",
    "paper",
)
RECORD = Record(SOURCE, Status.FORMULA, Means.INTEGRAL, "what the quadrature of the oscillating integral was asked for")
PLACES = [(0.15, 0.15, 0.16, 0.12), (0.022, 0.002, 0.025, 0.03), (0.022, 0.010, 0.020, 0.012), (0.05, 0.05, 0.03, 0.2)]


def by_bessel_functions(a: float, b: float, height: float, offset: float) -> float:
    def wave(k: float) -> float:
        return float(j1(k * a) * j1(k * b) * j0(k * offset)) * exp(-k * height)

    integral = quad(wave, 0.0, 45.0 / height, epsabs=1e-13 / height, epsrel=1e-11, limit=400)[0]
    return 4e-7 * pi * pi * a * b * integral


def name(a: float, b: float, height: float, offset: float) -> str:
    return f"M, radii {a * 1e3:g} and {b * 1e3:g} mm, planes {height * 1e3:g} mm apart, offset {offset * 1e3:g} mm [nH]"


@pytest.mark.parametrize("place", PLACES)
def test_parallel_axes(place: tuple[float, float, float, float]) -> None:
    found = displaced_loops_mutual_inductance(*place, 0.0) * 1e9
    RECORD.compare(name(*place), by_bessel_functions(*place) * 1e9, float(found), relative=1e-8)


def test_parallel_axes_through_the_map() -> None:
    record = RECORD.but(
        means=Means.ELEMENTS,
        why="1e-4 asked of the tag's moments; a section of 20 µm in place of the circle changes 1e-5",
    )
    a, b, half = 0.022, 0.002, 1e-5
    heights, offsets = np.array([0.015, 0.025]), np.array([0.0, 0.012, 0.03])
    base = winding_rings(WindingSection(a - half, a + half, -half, half))
    tag = Tag(WindingSection(b - half, b + half, -half, half), 1, None)
    moments = tag_solution(tag, 134.2e3, 1e-4).moments
    field = air_field([base], AirSpace(0.035, 0.010, 0.030), 1e-10)
    found = tag_map(field, moments, heights, offsets, np.array([0.0])).mutual_inductance[:, :, 0].real
    for i, height in enumerate(heights):
        for j, offset in enumerate(offsets):
            expected = by_bessel_functions(a, b, float(height), float(offset)) * 1e9
            quantity = name(a, b, float(height), float(offset)) + ", map"
            record.compare(quantity, expected, float(found[i, j]) * 1e9, relative=1.1e-4)
