"""Saturated colours by hue and saturation around a white, in CIE 1976 (u′, v′).

Hue is the CIE 1976 uv hue angle around the white: 0° towards +u′ (red), 90° towards +v′ (yellow-green).
Saturation is the share of the way from the white to the edge of all real colours: the spectrum and the
line of purples that closes it.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import matching_functions
from onecrew.colour.hull import Hull
from onecrew.colour.locus import white_to_uv60
from onecrew.colour.spaces import uv60_to_uv76, uv76_to_xy, xy_to_uv76, xyz_to_xy


@lru_cache(maxsize=1)
def all_colours() -> Hull:
    """The edge of all real colours in (u′, v′): the spectrum locus, 360–830 nm, and the line of purples."""
    return Hull(xy_to_uv76(xyz_to_xy(matching_functions())))


def hue_to_uv76(hue_deg: ArrayLike, saturation: ArrayLike, white_uv76: ArrayLike) -> FloatArray:
    """(u′, v′) (..., 2) of a hue in degrees and a saturation, clamped to 0–1, around a white (2,).

    ValueError when the white is no real colour.
    """
    hue, saturation = np.broadcast_arrays(np.radians(hue_deg), np.clip(saturation, 0.0, 1.0))
    direction = np.stack((np.cos(hue), np.sin(hue)), axis=-1)
    white = np.asarray(white_uv76, dtype=np.float64)
    colours: FloatArray = white + (saturation * _edge(white, direction))[..., None] * direction
    return colours


def hue_to_xy(hue_deg: float, saturation: float, white_k: float) -> tuple[float, float]:
    """Chromaticity (x, y), CIE 1931, of a hue in degrees and a saturation 0–1 around a Planckian white."""
    white = uv60_to_uv76(white_to_uv60(white_k))
    x, y = uv76_to_xy(hue_to_uv76(hue_deg, saturation, white)).tolist()
    return x, y


def _edge(white: FloatArray, direction: FloatArray) -> FloatArray:
    """Distance from ``white`` (2,) to the edge of all colours along unit vectors (..., 2)."""
    depth, closing = all_colours().toward_edges(white, direction)
    if not (depth > 0.0).all():
        raise ValueError("the white must be a real colour")
    ahead = np.where(closing > 0.0, depth / np.where(closing > 0.0, closing, 1.0), np.inf)
    nearest: FloatArray = ahead.min(axis=-1)
    return nearest
