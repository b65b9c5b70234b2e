"""An axial magnetic dipole on the axis, in free space."""

import numpy as np

from fem.arrays import Array
from fem.system import FieldOf
from geometries.constants import MAGNETIC_CONSTANT


def axial_dipole(height: float) -> FieldOf:
    """Field of a dipole of 1 A m² along the axis at ``height`` [m]."""

    def field(r: Array, z: Array) -> tuple[Array, Array, Array]:
        d = z - height
        square = r * r + d * d
        scale = MAGNETIC_CONSTANT / (4.0 * np.pi) / square**1.5
        return scale * r, scale * 3.0 * r * d / square, scale * (3.0 * d * d / square - 1.0)

    return field
