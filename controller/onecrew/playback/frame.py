"""Frame: the lights of all fixtures at one moment, as arrays, the currency of the 44 Hz loop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
AnyArray = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Frame:
    """Lights in rig order; every array has shape (n,). Treat the arrays as read-only.

    Where ``white`` is true, ``mired`` (10⁶/K) and ``duv`` (CIE 1960 uv) are the colour and ``u``, ``v`` are
    not read; elsewhere the colour is the CIE 1976 chromaticity (``u``, ``v``) and ``mired``, ``duv`` are
    not read. Unread entries are finite. ``level`` is 0–1, master and blackout included.
    """

    level: FloatArray
    white: BoolArray
    mired: FloatArray
    duv: FloatArray
    u: FloatArray
    v: FloatArray
