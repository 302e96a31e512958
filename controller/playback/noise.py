"""Noise: numbers that look random and depend on nothing but their arguments, alike on every machine.

Whole-number arithmetic modulo 2⁶⁴ only; the mixing steps are those of the public-domain SplitMix64
generator (G. L. Steele, D. Lea, C. H. Flood: Fast splittable pseudorandom number generators, OOPSLA 2014).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from controller.playback.frame import FloatArray

_GAMMA = 0x9E3779B97F4A7C15
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)


def hash01(seed: NDArray[np.int64], step: NDArray[np.int64], stream: int) -> FloatArray:
    """Return numbers in [0, 1), one for each seed and step (arrays of one shape), by stream.

    >>> hash01(np.array([1]), np.array([0]), 0).round(6).tolist()
    [0.0]
    """
    mixed = seed.astype(np.uint64) * np.uint64(_GAMMA)
    mixed += step.astype(np.uint64) * _FIRST
    mixed += np.uint64((stream + 1) * 0xD1B54A32D192ED03 % 2**64)
    for _ in range(2):
        mixed = (mixed ^ (mixed >> np.uint64(30))) * _FIRST
        mixed = (mixed ^ (mixed >> np.uint64(27))) * _SECOND
        mixed = mixed ^ (mixed >> np.uint64(31))
    share: FloatArray = (mixed >> np.uint64(11)).astype(np.float64) * 2.0**-53
    return share


def smooth_noise(seed: NDArray[np.int64], at: FloatArray, stream: int) -> FloatArray:
    """Return noise in [0, 1) that runs smoothly between a random value at each whole number of ``at``."""
    whole = np.floor(at)
    step = whole.astype(np.int64)
    part = at - whole
    part = part * part * (3.0 - 2.0 * part)
    before = hash01(seed, step, stream)
    noise: FloatArray = before + (hash01(seed, step + 1, stream) - before) * part
    return noise
