"""P. L. Dowell, 1966: resistance of a winding of full foil layers, a field in one dimension.

R/R0 = ξ [ (sinh 2ξ + sin 2ξ)/(cosh 2ξ − cos 2ξ) + ⅔ (m² − 1) (sinh ξ − sin ξ)/(cosh ξ + cos ξ) ], ξ = thickness/δ;
exact, from memory. It holds the meshed conductors against which the program's round-wire formulas are tested
(docs/ac-resistance.md). Dowell's replacement of round wire by square bars is left alone: it is no exact result.
"""

import pytest

from tests.published.records import Means, Record, Source, Status
from tests.reference.wire_by_wire import dowell_ratio, foils

SOURCE = Source(
    "Dowell 1966",
    'P. L. Dowell, "Effects of eddy currents in transformer windings", Proc. IEE 113, 1966, 1387.',
    "paper",
)
RECORD = Record(
    SOURCE, Status.FORMULA, Means.ELEMENTS, "rings made straight by two radii: what is left is (build/radius)², 1e-4"
)


@pytest.mark.slow
@pytest.mark.parametrize(("layers", "thickness"), [(1, 1.0), (2, 1.0), (3, 1.0), (3, 0.5), (2, 2.0)])
def test_foil_layers(layers: int, thickness: float) -> None:
    quantity = f"R/R0 of {layers} foil layers {thickness:g} skin depths thick [1]"
    RECORD.compare(quantity, dowell_ratio(layers, thickness), foils(layers, thickness), relative=2e-4)
