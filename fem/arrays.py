"""Types of the arrays that the field code passes about."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
IndexArray = NDArray[np.int64]
BooleanArray = NDArray[np.bool_]
