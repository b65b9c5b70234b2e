"""H. A. Wheeler, 1928: inductance of a multilayer coil, L = 0.8 a² N²/(6a + 9b + 10c) µH, inches.

a mean radius, b length, c build. Seen quoted in a public mailing list (pupman.com, April 1998): "accurate to 1 % when
the terms in the denominator are about equal". Wheeler gave it as an empirical formula: independent of every integral
here.
"""

import pytest

from fem.base_solution import BaseProblem, base_solution
from geometries.section import WindingSection
from geometries.stack import Stack
from tests.published.records import Means, Record, Source, Status

SOURCE = Source(
    "Wheeler 1928",
    'H. A. Wheeler, "Simple inductance formulas for radio coils", Proc. IRE 16, 1928, 1398; as quoted at '
    "pupman.com, 1998.",
    "paper",
)
RECORD = Record(
    SOURCE, Status.EMPIRICAL, Means.ELEMENTS, "stated as accurate to 1 % where the three terms below are about equal"
)
INCH = 0.0254


@pytest.mark.parametrize(("a", "b", "c"), [(0.9, 0.6, 0.54), (0.9, 0.7, 0.45), (0.9, 0.5, 0.6)])
def test_multilayer_coil(a: float, b: float, c: float) -> None:
    coil = WindingSection((a - 0.5 * c) * INCH, (a + 0.5 * c) * INCH, 0.0, b * INCH)
    found = base_solution(BaseProblem(Stack(), coil, 134.2e3, 1e-4, ())).flux_linkage.real * 1e6
    published = 0.8 * a**2 / (6.0 * a + 9.0 * b + 10.0 * c)
    quantity = f"L/N², mean radius {a:g}, length {b:g}, build {c:g} in [nH]"
    RECORD.compare(quantity, published * 1e3, found * 1e3, relative=0.01)
