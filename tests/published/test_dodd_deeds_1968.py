"""C. V. Dodd, W. E. Deeds, "Analytical solutions to eddy-current probe-coil problems", J. Appl. Phys. 39, 1968, 2829.

The coil above a conducting half-space, as the paper states it, integrated here by an adaptive routine; an exact
published formula. No measured value of the paper is used.
"""

from math import pi

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j1

from fem.plane_layers import layered_coil_impedance_change
from geometries.section import WindingSection

COIL = WindingSection(0.0205, 0.0235, 0.001, 0.004)


@pytest.mark.parametrize(
    ("frequency", "conductivity", "permeability"), [(134.2e3, 3.5e7, 1.0), (134.2e3, 1.4e6, 1.0), (1e3, 6e6, 80.0)]
)
def test_coil_above_a_half_space(frequency: float, conductivity: float, permeability: float) -> None:
    x, weights = np.polynomial.legendre.leggauss(12)
    radii = COIL.mean_radius + 0.5 * COIL.radial_build * x

    def integrand(alpha: float) -> complex:
        # P(αr1, αr2)/α² = ∫ r J1(αr) dr over the build.
        moment = 0.5 * COIL.radial_build * np.sum(weights * radii * j1(alpha * radii))
        inner = np.sqrt(alpha**2 + 2j * pi * frequency * 4e-7 * pi * permeability * conductivity)
        reflection = (alpha * permeability - inner) / (alpha * permeability + inner)
        ends = (np.exp(-alpha * COIL.bottom) - np.exp(-alpha * COIL.top)) / alpha
        return complex(moment**2 * ends**2 * reflection)

    parts = [
        quad(lambda a, part=part: getattr(integrand(a), part), 0.0, 15e3, epsabs=0.0, epsrel=1e-8, limit=500)[0]
        for part in ("real", "imag")
    ]
    inductance = 4e-7 * pi * pi * 64**2 / COIL.area**2 * complex(*parts)
    change = layered_coil_impedance_change(COIL, 64, frequency, [(conductivity, permeability, None)])
    assert change == pytest.approx(2j * pi * frequency * inductance, rel=1e-6, abs=0.0)
