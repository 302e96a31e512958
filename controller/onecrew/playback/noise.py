"""Noise: numbers that look random and depend on nothing but their arguments, alike on every machine.

Whole-number arithmetic modulo 2⁶⁴ only; the mixing steps are those of the public-domain SplitMix64
generator (G. L. Steele, D. Lea, C. H. Flood: Fast splittable pseudorandom number generators, OOPSLA 2014).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from onecrew.playback.lights import FloatArray

IntArray = NDArray[np.int64]

_SEED = np.uint64(0x9E3779B97F4A7C15)
_STEP = np.uint64(0xD1B54A32D192ED03)
_STREAM = np.uint64(0x8CB92BA72F3D8DD7)
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)
_30, _27, _31, _11 = (np.uint64(bits) for bits in (30, 27, 31, 11))


def hash01(seed: IntArray, steps: Sequence[IntArray], streams: Sequence[int]) -> FloatArray:
    """Return numbers in [0, 1), shape (m, k), for m pairs of ``steps`` (k,) and streams, and k seeds.

    >>> hash01(np.array([1]), [np.array([0])], (0,)).round(6).ravel().tolist()
    [0.883311]
    """
    stream = np.array(streams, dtype=np.uint64)[:, None] * _STREAM
    mixed = np.array(steps).astype(np.uint64) * _STEP + (seed.astype(np.uint64) * _SEED + stream)
    mixed = (mixed ^ (mixed >> _30)) * _FIRST
    mixed = (mixed ^ (mixed >> _27)) * _SECOND
    mixed ^= mixed >> _31
    share: FloatArray = (mixed >> _11).astype(np.float64) * 2.0**-53
    return share
