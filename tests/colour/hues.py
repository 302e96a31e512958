"""The way back from a chromaticity to hue and saturation, which only tests go."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.hue import hue_to_uv76


def uv76_to_hue(uv76: ArrayLike, white_uv76: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """(hue in degrees 0–360, saturation) of (u′, v′) (..., 2) around a white (2,).

    Saturation passes 1 only for what is no real colour; the white itself has hue 0 and saturation 0.
    """
    white = np.asarray(white_uv76, dtype=np.float64)
    away = np.asarray(uv76, dtype=np.float64) - white
    hue_deg = np.degrees(np.arctan2(away[..., 1], away[..., 0])) % 360.0
    full = hue_to_uv76(hue_deg, 1.0, white) - white
    return hue_deg, np.hypot(away[..., 0], away[..., 1]) / np.hypot(full[..., 0], full[..., 1])
