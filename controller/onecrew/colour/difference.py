"""Colour differences: CIELAB and ΔE2000.

Sources: CIE 15:2004 (CIELAB); G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula:
implementation notes, supplementary test data, and mathematical observations", Color Res. Appl. 30:21 (2005).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.adaptation import D65_XY, RGB_FROM_XYZ
from onecrew.colour.arrays import FloatArray
from onecrew.colour.spaces import xyy_to_xyz

_EPSILON = (6.0 / 29.0) ** 3


def rgb_to_lab(linear: ArrayLike) -> FloatArray:
    """CIELAB (..., 3) under D65 of linear sRGB (..., 3), white at 1."""
    xyz = np.asarray(linear, dtype=np.float64) @ np.linalg.inv(RGB_FROM_XYZ).T
    t = xyz / xyy_to_xyz(np.array(D65_XY))
    f = np.where(t > _EPSILON, np.cbrt(t), t * (29.0 / 6.0) ** 2 / 3.0 + 4.0 / 29.0)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack((116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)), axis=-1)


def delta_e_2000(one: ArrayLike, other: ArrayLike) -> FloatArray:
    """ΔE2000 (...) between CIELAB colours (..., 3), with kL = kC = kH = 1.

    >>> round(float(delta_e_2000([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485])), 4)
    2.0425
    """
    one, other = np.asarray(one, dtype=np.float64), np.asarray(other, dtype=np.float64)
    mean_c7 = (0.5 * (np.hypot(one[..., 1], one[..., 2]) + np.hypot(other[..., 1], other[..., 2]))) ** 7
    stretch = 1.0 + 0.5 * (1.0 - np.sqrt(mean_c7 / (mean_c7 + 25.0**7)))
    a1, a2 = stretch * one[..., 1], stretch * other[..., 1]
    c1, c2 = np.hypot(a1, one[..., 2]), np.hypot(a2, other[..., 2])
    h1 = np.degrees(np.arctan2(one[..., 2], a1)) % 360.0
    h2 = np.degrees(np.arctan2(other[..., 2], a2)) % 360.0
    coloured = c1 * c2 > 0.0
    turn = (h2 - h1 + 180.0) % 360.0 - 180.0
    turn = np.where(coloured, np.where((turn == -180.0) & (h2 > h1), 180.0, turn), 0.0)
    big_h = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(0.5 * turn))
    mean_h = np.where(coloured, _mean_hue(h1, h2), h1 + h2)
    light, chroma = other[..., 0] - one[..., 0], c2 - c1
    mean_l, mean_c = 0.5 * (one[..., 0] + other[..., 0]), 0.5 * (c1 + c2)
    t = (
        1.0
        - 0.17 * np.cos(np.radians(mean_h - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * mean_h))
        + 0.32 * np.cos(np.radians(3.0 * mean_h + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * mean_h - 63.0))
    )
    sl = 1.0 + 0.015 * (mean_l - 50.0) ** 2 / np.sqrt(20.0 + (mean_l - 50.0) ** 2)
    sc, sh = 1.0 + 0.045 * mean_c, 1.0 + 0.015 * mean_c * t
    rc = 2.0 * np.sqrt(mean_c**7 / (mean_c**7 + 25.0**7))
    rt = -np.sin(np.radians(60.0 * np.exp(-(((mean_h - 275.0) / 25.0) ** 2)))) * rc
    squared = (light / sl) ** 2 + (chroma / sc) ** 2 + (big_h / sh) ** 2
    return np.asarray(np.sqrt(np.maximum(squared + rt * (chroma / sc) * (big_h / sh), 0.0)))


def _mean_hue(h1: FloatArray, h2: FloatArray) -> FloatArray:
    """Mean of two hue angles in degrees, by the shorter way round."""
    total, far = h1 + h2, np.abs(h1 - h2) > 180.0
    return np.asarray(0.5 * np.where(far, np.where(total < 360.0, total + 360.0, total - 360.0), total))
