"""Short names for the number types that pass through the links."""

import numpy as np
from numpy.typing import NDArray

RealArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
BooleanArray = NDArray[np.bool_]
Real = float | RealArray
Complex = complex | ComplexArray
