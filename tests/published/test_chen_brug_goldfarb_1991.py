"""D.-X. Chen, J. A. Brug, R. B. Goldfarb, "Demagnetizing factors for cylinders", IEEE Trans. Magn. 27, 1991, 3601.

Magnetometric factor of a cylinder as its susceptibility χ goes to zero; the paper's table gives four digits, 0.3116 at
length/diameter 1 (from memory, before it was recomputed). That limit is exact in closed form, N_m = 1 − K(D/L) with
Nagaoka's coefficient K, of which the printed values are those of H. Nagaoka 1909 and NBS Circular 74.
"""

from math import pi

import pytest

from fem.tag_solution import tag_solution
from geometries.materials import Material
from geometries.section import WindingSection
from geometries.tag import RodCore, Tag

DIAMETER = 0.004


def magnetometric_factor(slenderness: float) -> float:
    """N_m from the rod's polarisability α = χV/(1 + N χ), at χ = 1e-3: within 1e-4 of the limit."""
    chi, length = 1e-3, slenderness * DIAMETER
    core = RodCore(Material("weak", relative_permeability=1.0 + chi), DIAMETER, length)
    tag = Tag(WindingSection(0.0025, 0.0030, -0.0005, 0.0005), 1, core)
    volume = 0.25 * pi * DIAMETER**2 * length
    found = tag_solution(tag, 134.2e3, 1e-4).polarisability.real
    return (chi * volume / found - 1.0) / chi


@pytest.mark.slow
@pytest.mark.parametrize(
    ("slenderness", "nagaoka"), [(0.5, 0.525510), (1.0, 0.688423), (2.0, 0.818136), (4.0, 0.901649)]
)
def test_rods_of_weak_susceptibility(slenderness: float, nagaoka: float) -> None:
    assert magnetometric_factor(slenderness) == pytest.approx(1.0 - nagaoka, abs=2e-4)


def test_printed_value_of_a_cylinder_as_long_as_wide() -> None:
    assert magnetometric_factor(1.0) == pytest.approx(0.3116, abs=1e-4)
