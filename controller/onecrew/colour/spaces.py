"""Chromaticity diagrams: CIE 1931 (x, y), CIE 1960 (u, v), CIE 1976 (u′, v′), and XYZ.

Every chromaticity array has shape (..., 2), every XYZ array shape (..., 3). Source of the formulas:
CIE 15:2004 (1976 diagram) and its predecessor of 1960, v = ⅔ v′.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray


def _points(values: ArrayLike, width: int, what: str) -> FloatArray:
    points = np.asarray(values, dtype=np.float64)
    if points.ndim == 0 or points.shape[-1] != width:
        raise ValueError(f"{what} needs arrays of shape (..., {width}), got {points.shape}")
    return points


def xy_to_uv60(xy: ArrayLike) -> FloatArray:
    """CIE 1960 (u, v) of a CIE 1931 chromaticity.

    >>> [round(float(c), 6) for c in xy_to_uv60([0.3127, 0.3290])]
    [0.19783, 0.312213]
    """
    xy = _points(xy, 2, "xy")
    x, y = xy[..., 0], xy[..., 1]
    divisor = -2.0 * x + 12.0 * y + 3.0
    return np.stack((4.0 * x / divisor, 6.0 * y / divisor), axis=-1)


def uv60_to_xy(uv: ArrayLike) -> FloatArray:
    """CIE 1931 (x, y) of a CIE 1960 chromaticity."""
    uv = _points(uv, 2, "uv")
    u, v = uv[..., 0], uv[..., 1]
    divisor = 2.0 * u - 8.0 * v + 4.0
    return np.stack((3.0 * u / divisor, 2.0 * v / divisor), axis=-1)


def uv60_to_uv76(uv: ArrayLike) -> FloatArray:
    """CIE 1976 (u′, v′) of a CIE 1960 chromaticity."""
    return _points(uv, 2, "uv") * (1.0, 1.5)


def uv76_to_uv60(uv76: ArrayLike) -> FloatArray:
    """CIE 1960 (u, v) of a CIE 1976 chromaticity."""
    return _points(uv76, 2, "uv76") / (1.0, 1.5)


def xy_to_uv76(xy: ArrayLike) -> FloatArray:
    """CIE 1976 (u′, v′) of a CIE 1931 chromaticity."""
    xy = _points(xy, 2, "xy")
    x, y = xy[..., 0], xy[..., 1]
    divisor = -2.0 * x + 12.0 * y + 3.0
    return np.stack((4.0 * x / divisor, 9.0 * y / divisor), axis=-1)


def uv76_to_xy(uv76: ArrayLike) -> FloatArray:
    """CIE 1931 (x, y) of a CIE 1976 chromaticity."""
    uv76 = _points(uv76, 2, "uv76")
    u, v = uv76[..., 0], uv76[..., 1]
    divisor = 6.0 * u - 16.0 * v + 12.0
    return np.stack((9.0 * u / divisor, 4.0 * v / divisor), axis=-1)


def xyy_to_xyz(xy: ArrayLike, luminance: ArrayLike = 1.0) -> FloatArray:
    """XYZ of a chromaticity (..., 2) with luminance Y (...); y must not be 0."""
    xy = _points(xy, 2, "xy")
    x, y = xy[..., 0], xy[..., 1]
    scale = np.asarray(luminance, dtype=np.float64) / y
    return np.stack((x * scale, y * scale, (1.0 - x - y) * scale), axis=-1)


def xyz_to_xy(xyz: ArrayLike) -> FloatArray:
    """CIE 1931 (x, y) of XYZ (..., 3); X + Y + Z must not be 0."""
    xyz = _points(xyz, 3, "xyz")
    xy: FloatArray = xyz[..., :2] / xyz.sum(axis=-1, keepdims=True)
    return xy


def uv76_to_xyz(uv76: ArrayLike) -> FloatArray:
    """XYZ with Y = 1 of a CIE 1976 chromaticity; v′ must not be 0."""
    uv76 = _points(uv76, 2, "uv76")
    u, v = uv76[..., 0], uv76[..., 1]
    fourfold = 4.0 * v
    return np.stack((9.0 * u / fourfold, np.ones_like(v), (12.0 - 3.0 * u - 20.0 * v) / fourfold), axis=-1)
