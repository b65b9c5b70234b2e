"""S. Butterworth, Proc. Roy. Soc. A 107, 1925, 693; F. E. Terman, *Radio Engineers' Handbook*, 1943: the function G(x).

Eddy-current loss of a round wire in a transverse field. Values from memory, before they were recomputed; the tolerance
is one unit of the last place: some of the printed digits are cut off, not rounded.
"""

import pytest

from fem.wire_losses import transverse_field_factor


@pytest.mark.parametrize(
    ("x", "factor", "unit"),
    [(1.0, 0.01519, 1e-5), (3.0, 0.4049, 1e-4), (4.0, 0.584, 1e-3), (5.0, 0.755, 1e-3), (10.0, 1.641, 1e-3)],
)
def test_factor(x: float, factor: float, unit: float) -> None:
    assert transverse_field_factor(x) == pytest.approx(factor, abs=unit)
