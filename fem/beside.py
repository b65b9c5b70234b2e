"""Sources that stand beside the tag's places: which of them are too near for its axial moments."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.air_field import AirSpace
from fem.arrays import Array
from fem.sources import Rings


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """Sources round a column of places, as in a well.

    Parameters
    ----------
    radius, height : ndarray, shape (n,)
        Where they lie [m].
    offset : float
        Largest offset of the tag's centre [m].
    clearance : float
        Distance from the tag's centre below which its moments do not hold [m]; infinite where they never do.
    floor : float
        Least height of the centre at which the samples along its axis stay in the column [m].
    """

    radius: Array
    height: Array
    offset: float
    clearance: float
    floor: float

    def crowded(self, heights: Array) -> NDArray[np.bool_]:
        """Whether a tag at ``heights`` is too near for its moments at some offset, shape of ``heights``."""
        if not np.isfinite(self.clearance):
            return np.ones(heights.shape, dtype=bool)
        sideways = np.maximum(self.radius - self.offset, 0.0)
        nearest = [np.hypot(sideways, self.height - height).min() for height in heights]
        return np.asarray((np.array(nearest) < self.clearance) | (heights < self.floor))


def lies_in(sources: tuple[Rings, ...], space: AirSpace) -> bool:
    """Whether any source lies in a cylinder of air."""
    return any(
        bool(np.any((s.radius <= space.radius) & (s.height >= space.low) & (s.height <= space.high))) for s in sources
    )


def beside(sources: tuple[Rings, ...], offset: float, clearance: float, floor: float) -> Beside:
    """All ``sources`` as seen from a column of places."""
    radius, height = (np.concatenate([getattr(s, name) for s in sources]) for name in ("radius", "height"))
    return Beside(radius, height, offset, clearance, floor)
