"""Flashes counted by the words of WCAG 2.3.1, knowing nothing of how the light was made.

"A pair of opposing changes in relative luminance of 10% or more of the maximum relative luminance where the
relative luminance of the darker image is below 0.80", no more than three within any one second
(W3C, Web Content Accessibility Guidelines 2.x, success criterion 2.3.1 and the glossary's general flash).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray


def changes_in_any_second(luminance: FloatArray, rate_hz: int, change: float = 0.1) -> NDArray[np.int64]:
    """Most opposing changes within any one second, for each column of ``luminance`` (samples, lamps), 0–1.

    Every window of one second, both ends included, is judged by itself: the luminance is followed from
    extreme to extreme, and a change counts when it has come ``change`` away from the last extreme, in the
    direction opposite to the one before, with the darker of the two below 0.80.
    """
    width = rate_hz + 1
    windows = np.lib.stride_tricks.sliding_window_view(luminance, width, axis=0)  # (starts, lamps, width)
    low = windows[..., 0].copy()
    high = low.copy()
    way = np.zeros(low.shape, dtype=np.int64)
    count = np.zeros(low.shape, dtype=np.int64)
    for index in range(1, width):
        now = windows[..., index]
        low, high = np.minimum(low, now), np.maximum(high, now)
        rises = (way <= 0) & (now - low >= change - 1e-9) & (low < 0.80)
        falls = (way >= 0) & (high - now >= change - 1e-9) & (now < 0.80) & ~rises
        count += rises | falls
        way = np.where(rises, 1, np.where(falls, -1, way))
        high = np.where(rises | falls, now, high)
        low = np.where(rises | falls, now, low)
    worst: NDArray[np.int64] = count.max(axis=0)
    return worst


def flashes_in_any_second(luminance: FloatArray, rate_hz: int) -> NDArray[np.int64]:
    """Most general flashes, pairs of opposing changes, within any one second, for each column."""
    return changes_in_any_second(luminance, rate_hz) // 2


def exposed_for(luminance: FloatArray) -> FloatArray:
    """The luminance as a camera set to each column's brightest moment would show it."""
    shown: FloatArray = luminance / np.maximum(luminance.max(axis=0, initial=0.0), 1e-12)
    return shown
