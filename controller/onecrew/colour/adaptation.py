"""The camera's eye: what a camera at its white balance makes of a chromaticity, as sRGB.

Von Kries adaptation in the cone space of CAT16 (Li et al. 2017, Color Res. Appl. 42:703) from the
Planckian white of the balance to D65, then sRGB (IEC 61966-2-1).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.locus_table import white_to_uv76_fast
from onecrew.colour.spaces import uv60_to_xy, uv76_to_uv60, xyy_to_xyz

CAT16 = np.array(
    [[0.401288, 0.650173, -0.051461], [-0.250268, 1.204414, 0.045854], [-0.002079, 0.048952, 0.953127]]
)
"""XYZ → cone responses of CAT16."""
D65_XY = (0.3127, 0.3290)
"""White of sRGB (IEC 61966-2-1)."""
_SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))


def adaptation_matrix(white_from: ArrayLike, white_to: ArrayLike, cones: FloatArray = CAT16) -> FloatArray:
    """Matrix that takes XYZ seen under ``white_from`` to XYZ that look the same under ``white_to``.

    Both whites are XYZ (3,); ``cones`` is the 3 × 3 cone matrix. Complete adaptation.
    """
    gains = (cones @ np.asarray(white_to, dtype=np.float64)) / (
        cones @ np.asarray(white_from, dtype=np.float64)
    )
    matrix: FloatArray = np.linalg.inv(cones) @ (gains[:, None] * cones)
    return matrix


def _rgb_from_xyz() -> FloatArray:
    """XYZ → linear sRGB, from the primaries, so that D65 is exactly (1, 1, 1)."""
    primaries = xyy_to_xyz(np.array(_SRGB_PRIMARIES), 1.0).T
    amounts = np.linalg.solve(primaries, xyy_to_xyz(np.array(D65_XY), 1.0))
    return np.linalg.inv(primaries * amounts)


RGB_FROM_XYZ = _rgb_from_xyz()


def camera_matrix(wb_cct_k: float) -> FloatArray:
    """Matrix (3, 3) from XYZ to the linear RGB of a camera balanced for ``wb_cct_k`` kelvin."""
    white = uv60_to_xy(uv76_to_uv60(white_to_uv76_fast(1e6 / wb_cct_k, 0.0)))
    matrix: FloatArray = RGB_FROM_XYZ @ adaptation_matrix(xyy_to_xyz(white), xyy_to_xyz(np.array(D65_XY)))
    return matrix


def camera_linear(xy: ArrayLike, wb_cct_k: float) -> FloatArray:
    """Linear sRGB of chromaticities (k, 2) at luminance 1, white balance in kelvin; may leave 0–1.

    ``wb_cct_k`` is clamped to 1000–25000 K.
    """
    linear: FloatArray = xyy_to_xyz(np.asarray(xy, dtype=np.float64)) @ camera_matrix(wb_cct_k).T
    return linear


def camera_rgb(xy: ArrayLike, wb_cct_k: float) -> FloatArray:
    """sRGB 0–1 (encoded) of chromaticities (k, 2) as a camera balanced for ``wb_cct_k`` sees them, (k, 3).

    Shown as bright as the screen can: the largest channel is 1. A colour outside sRGB gets white added
    until no channel is below 0, which keeps its hue.
    """
    linear = camera_linear(xy, wb_cct_k)
    linear = linear - np.minimum(linear.min(axis=-1, keepdims=True), 0.0)
    return np.minimum(_encode(linear / linear.max(axis=-1, keepdims=True)), 1.0)


def swatch(xy: ArrayLike, wb_cct_k: float) -> str:
    """#rrggbb of one chromaticity (2,) as a camera balanced for ``wb_cct_k`` sees it.

    >>> swatch([0.423363, 0.398953], 3200)
    '#ffffff'
    """
    return swatches(np.asarray(xy, dtype=np.float64)[None, :], wb_cct_k)[0]


def swatches(xy: ArrayLike, wb_cct_k: float) -> list[str]:
    """#rrggbb of each chromaticity (k, 2) as a camera balanced for ``wb_cct_k`` sees it."""
    bytes_ = np.rint(camera_rgb(xy, wb_cct_k) * 255.0).astype(np.uint8)
    return [f"#{red:02x}{green:02x}{blue:02x}" for red, green, blue in bytes_.tolist()]


def _encode(linear: FloatArray) -> FloatArray:
    """The sRGB transfer curve of IEC 61966-2-1; takes 0–1."""
    return np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1.0 / 2.4) - 0.055
    )
