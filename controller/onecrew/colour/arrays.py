"""The types of arrays, everywhere from colour up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
IndexArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]
