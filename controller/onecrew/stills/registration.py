"""Registration: how far one picture is shifted against another, by phase correlation.

C. D. Kuglin, D. C. Hines, "The phase correlation image alignment method", Proc. IEEE Conf. Cybernetics and
Society (1975). On the edges of the pictures, since the light differs from still to still and the room does
not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray

SURE_PEAK = 0.06
"""Height of the peak from which a shift counts; 1 for two pictures that differ by a shift alone."""
_CLEARLY = 1.5
"""By so much a peak elsewhere has to stand above the one at no shift."""
_FLOOR = 2.0**-9


@dataclass(frozen=True, slots=True)
class Shift:
    """By so many pixels to the right and down a picture lies against another; whole pixels."""

    x: int
    y: int
    peak: float

    @property
    def far(self) -> float:
        return float(np.hypot(self.x, self.y))


def edges(linear: FloatArray) -> FloatArray:
    """Strength of the edges (h, w) of a linear picture (h, w, 3), in stops, so that dim parts count as
    well."""
    from scipy import ndimage

    stops = np.log2(np.maximum(linear.mean(axis=2), 0.0) + _FLOOR)
    smooth = ndimage.gaussian_filter(stops, 1.0)
    strength: FloatArray = np.minimum(np.hypot(ndimage.sobel(smooth, 0), ndimage.sobel(smooth, 1)), 4.0)
    return strength


def shift_between(moved: FloatArray, fixed: FloatArray) -> Shift:
    """Return the shift of the edges ``moved`` against ``fixed``, both (h, w)."""
    from scipy import ndimage

    window = np.hanning(moved.shape[0])[:, None] * np.hanning(moved.shape[1])[None, :]
    one = np.fft.rfft2((moved - moved.mean()) * window)
    other = np.fft.rfft2((fixed - fixed.mean()) * window)
    cross = one * np.conj(other)
    size = np.abs(cross)
    surface = np.fft.irfft2(cross / np.maximum(size, 1e-9 * float(size.max()) + 1e-30), s=moved.shape)
    surface = ndimage.gaussian_filter(surface, 0.7, mode="wrap")
    if surface.max() < _CLEARLY * max(float(surface[0, 0]), 0.0):
        return Shift(0, 0, float(surface[0, 0]))  # most of the picture is in place, whatever moved in it
    y, x = np.unravel_index(int(surface.argmax()), surface.shape)
    height, width = moved.shape
    return Shift(
        int(x) - width * (int(x) > width // 2),
        int(y) - height * (int(y) > height // 2),
        float(surface[y, x]),
    )


def moved_back(picture: NDArray[Any], shift: Shift, fill: float) -> NDArray[Any]:
    """Return a picture (h, w, …) laid where the other one is; what comes in at the edge is ``fill``."""
    back = np.roll(picture, (-shift.y, -shift.x), axis=(0, 1))
    height, width = picture.shape[:2]
    rows, columns = np.arange(height) + shift.y, np.arange(width) + shift.x
    back[(rows < 0) | (rows >= height)] = fill
    back[:, (columns < 0) | (columns >= width)] = fill
    return back
