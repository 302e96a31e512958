"""Arrays: their types, everywhere from colour up, and what numpy has no word for."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
IndexArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]


def with_one(values: FloatArray, at: int, value: float) -> FloatArray:
    """Return ``values`` (n,) with another value at one place, as new memory."""
    values = values.copy()
    values[at] = value
    return values
