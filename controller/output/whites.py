"""What a chromaticity is to a person: a white or not, and in which numbers."""

from __future__ import annotations

import numpy as np

from controller.colour.table import uv76_to_white_fast, white_to_uv76_fast
from controller.documents.base import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from controller.output.dimming import BoolArray, FloatArray

ROUNDING = 1e-6
"""Δu′v′ below which two colours are one: above the error of the tables, far below a step of slots."""


def as_white(uv: FloatArray) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return (mired, Duv, whether that is what it is) of chromaticities (n, 2) in CIE 1976, each (n,).

    A colour beyond |Duv| 0.05 or 1000–25 000 K is no white, and its mired and Duv are those of one near it.
    """
    mired, duv = uv76_to_white_fast(uv)
    return mired, duv, np.asarray(np.hypot(*(white_to_uv76_fast(mired, duv) - uv).T) < ROUNDING)


def in_round_numbers(mired: float, duv: float) -> tuple[float, float]:
    """Return (kelvin, Duv) within their ranges and without the dust that floating point leaves."""
    cct_k = min(max(round(1e6 / mired, 6), CCT_MIN_K), CCT_MAX_K)
    return cct_k, min(max(round(duv, 9), -DUV_LIMIT), DUV_LIMIT) + 0.0
