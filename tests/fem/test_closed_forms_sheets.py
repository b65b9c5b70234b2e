"""Current sheets against quadrature of the filaments they are made of."""

import numpy as np
import pytest
from scipy.integrate import quad

from fem.closed_forms_loops import loop_flux_density, loop_mutual_inductance, loop_vector_potential
from fem.closed_forms_sheets import sheet_axial_flux_density, sheet_vector_potential, sheets_mutual_primitive

PLACES = [
    (1.0, 0.5, 0.3),
    (1.0, 0.99, 0.05),
    (1.0, 2.0, 0.5),
    (1.0, 2e-3, 0.2),
    (1.0, 1e-7, 0.2),
    (0.02, 0.5, 0.1),
    # Either side of the change-over at n = 0.05:
    (1.0, 0.0128, 1.0),
    (1.0, 0.0130, 1.0),
]


def height_integral(function, zeta):
    return quad(function, 0.0, zeta, epsabs=0.0, epsrel=1e-12, limit=200)[0]


@pytest.mark.parametrize(("a", "r", "zeta"), PLACES)
def test_sheets_against_quadrature(a, r, zeta):
    a, r, zeta = np.float64(a), np.float64(r), np.float64(zeta)
    potential = height_integral(lambda z: float(loop_vector_potential(a, 0.0, r, z)), zeta)
    axial = height_integral(lambda z: float(loop_flux_density(a, 0.0, r, z)[1]), zeta)
    twice = height_integral(lambda z: (zeta - z) * float(loop_mutual_inductance(a, r, z)), zeta)
    assert sheet_vector_potential(a, r, a - r, zeta) == pytest.approx(potential, rel=1e-12, abs=0.0)
    assert sheet_axial_flux_density(a, r, a - r, zeta) == pytest.approx(axial, rel=1e-12, abs=0.0)
    primitive = sheets_mutual_primitive(a, r, a - r, zeta) - sheets_mutual_primitive(a, r, a - r, np.float64(0.0))
    assert primitive == pytest.approx(twice, rel=1e-11, abs=0.0)


def test_parity_in_height():
    a, r, zeta = np.float64(1.0), np.float64(0.7), np.float64(0.4)
    assert sheet_vector_potential(a, r, a - r, -zeta) == -sheet_vector_potential(a, r, a - r, zeta)
    assert sheet_axial_flux_density(a, r, a - r, -zeta) == -sheet_axial_flux_density(a, r, a - r, zeta)
    assert sheets_mutual_primitive(a, r, a - r, -zeta) == sheets_mutual_primitive(a, r, a - r, zeta)


def test_flux_density_jumps_by_the_sheet_current():
    # Ampère, for a sheet of 1 A per metre that reaches from 0.2 m below the point to 0.4 m above it.
    a, gap, reach = np.float64(1.0), np.float64(1e-13), np.array([0.4, 0.2])
    inside, outside = (sheet_axial_flux_density(a, a, side, reach).sum() for side in (gap, -gap))
    assert inside - outside == pytest.approx(4e-7 * np.pi, rel=1e-10, abs=0.0)
