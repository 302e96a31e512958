"""Calibration: ask a lamp for what will measure right, from a few readings of a meter.

Each reading says: asked for this white, the meter read that one. The difference is a correction that belongs
to the white that was *read*; between readings it is interpolated, so that ``correct(wanted)`` is what to ask
for. Readings are few and scattered (often all along the locus), so the interpolation needs no grid:
multiquadric radial functions and a constant (R. L. Hardy, J. Geophys. Res. 76 (1971) 1905), which pass
through every reading, run nearly straight between neighbours, and have a solution for any distinct points.

Distance is measured in mired, with Duv scaled to it: along the locus one mired is close to 3.5 × 10⁻⁴ in CIE
1960 (u, v) from 2800 to 6500 K. Readings closer together than a meter can tell (2 mired) count as one, their
mean. Beyond the readings nothing is invented: the correction is followed for at most one step of the table
past its ends and held from there.

Light: readings are taken at full level with even output off. Where even output is wanted,
``to_the_weakest`` tells how far to dim each white so that all of them measure the same.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from controller.documents.base import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from controller.documents.show import Reading

FloatArray = NDArray[np.float64]

DUV_PER_MIRED = 3.5e-4
SAME_MIRED = 2.0
_SOFTEST_MIRED = 10.0
_WHOLLY_DUV = 0.02
_MIRED_LIMITS = (1e6 / CCT_MAX_K, 1e6 / CCT_MIN_K)


class Calibration:
    """Corrections of n fixtures at once, one table of readings each (at least one reading).

    ``expected`` are the lights that the profile promises for the readings, in the readings' order and in any
    unit; without it every white is expected to give the same light. All methods take arrays of shape (n,).
    """

    def __init__(
        self, tables: Sequence[Sequence[Reading]], expected: Sequence[ArrayLike] | None = None
    ) -> None:
        n = len(tables)
        promises = [None] * n if expected is None else expected
        columns = [_columns(table, promised) for table, promised in zip(tables, promises, strict=True)]
        widest = max((len(centres) for centres, _ in columns), default=0)
        self._centres = np.zeros((n, widest, 2))
        self._weights = np.zeros((n, widest, 3))  # of the corrections in mired and Duv, and of log light
        self._level = np.zeros((n, 3))
        self._softness = np.ones((n, 1))
        self._brightest = np.zeros(n)
        self.low = np.zeros((n, 2))
        """Lowest (mired, scaled Duv) that was read, per fixture; ``high`` the highest."""
        self.high = np.zeros((n, 2))
        self._reach_low = np.zeros((n, 2))
        self._reach_high = np.zeros((n, 2))
        for i, (centres, values) in enumerate(columns):
            k = len(centres)
            self._softness[i] = _softness(centres)
            self._centres[i, :k] = centres
            self._weights[i, :k], self._level[i] = _solve(centres, values, float(self._softness[i, 0]))
            self._brightest[i] = values[:, 2].min()
            self.low[i], self.high[i] = centres.min(axis=0), centres.max(axis=0)
            first, last = _end_steps(centres)
            self._reach_low[i], self._reach_high[i] = self.low[i] - first, self.high[i] + last

    def correct(self, mired: ArrayLike, duv: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the (mired, Duv) to ask for so that the meter reads ``mired`` and ``duv``.

        Exact at the readings. Clamped to 1000–25 000 K and |Duv| ≤ 0.05.
        """
        wanted = _points(mired, duv)
        asked = wanted + self._fields(wanted)[:, :2]
        return (
            np.clip(asked[:, 0], *_MIRED_LIMITS),
            np.clip(asked[:, 1] * DUV_PER_MIRED, -DUV_LIMIT, DUV_LIMIT),
        )

    def measured(self, mired: ArrayLike, duv: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the (mired, Duv) that a meter reads when these are asked: the inverse of ``correct``.

        Found by damped iteration, at most 80 rounds; where the readings contradict one another (two whites
        ask for the same) one of the solutions, or near it.
        """
        asked = _points(mired, duv)
        read = asked.copy()
        for _ in range(80):
            miss = asked - read - self._fields(read)[:, :2]
            read += 0.6 * miss
            if not miss.size or np.abs(miss).max() < 1e-7:
                break
        return read[:, 0], read[:, 1] * DUV_PER_MIRED

    def to_the_weakest(self, mired: ArrayLike, duv: ArrayLike) -> FloatArray:
        """Return the share 0–1 of each white's light that matches the weakest white read."""
        light = self._fields(_points(mired, duv))[:, 2]
        return np.asarray(np.minimum(np.exp(self._brightest - light), 1.0), dtype=np.float64)

    def beyond(self, mired: ArrayLike) -> FloatArray:
        """Return by how many mired each white lies past the ends of its readings: − below, + above, or 0."""
        wanted = np.asarray(mired, dtype=np.float64)
        past = np.minimum(wanted - self.low[:, 0], 0.0) + np.maximum(wanted - self.high[:, 0], 0.0)
        return np.asarray(past, dtype=np.float64)

    def _fields(self, points: FloatArray) -> FloatArray:
        """(n, 3): correction in mired, in scaled Duv, and log light, at one point for each fixture."""
        held = np.clip(points, self._reach_low, self._reach_high)
        apart = held[:, None, :] - self._centres
        distance = np.sqrt((apart * apart).sum(axis=2) + self._softness**2)
        return np.asarray(np.einsum("nk,nkf->nf", distance, self._weights) + self._level)


def share_corrected(duv: ArrayLike, white: ArrayLike) -> FloatArray:
    """Return how much of the correction of its nearest white each colour takes, 0–1.

    Whites take all of it. A colour told as xy takes all of it near the locus, up to |Duv| 0.02, and ever less
    up to 0.05, where it has no colour temperature any more: what is far from white is left as it is.
    """
    far = (np.abs(np.asarray(duv, dtype=np.float64)) - _WHOLLY_DUV) / (DUV_LIMIT - _WHOLLY_DUV)
    return np.where(white, 1.0, 1.0 - np.clip(far, 0.0, 1.0))


def _points(mired: ArrayLike, duv: ArrayLike) -> FloatArray:
    return np.stack(
        [np.asarray(mired, dtype=np.float64), np.asarray(duv, dtype=np.float64) / DUV_PER_MIRED], axis=-1
    )


def _columns(table: Sequence[Reading], expected: ArrayLike | None) -> tuple[FloatArray, FloatArray]:
    """Where the readings lie, (k, 2), and what is known there, (k, 3): two corrections and log light."""
    promised = np.ones(len(table)) if expected is None else np.asarray(expected, dtype=np.float64)
    rows = []
    for reading, light in zip(table, promised, strict=True):
        read = (1e6 / reading.measured_cct_k, reading.measured_duv / DUV_PER_MIRED)
        asked = (1e6 / reading.asked_cct_k, reading.asked_duv / DUV_PER_MIRED)
        rows.append((*read, asked[0] - read[0], asked[1] - read[1], np.log(reading.light / max(light, 1e-9))))
    heaps: list[list[tuple[float, ...]]] = []
    for row in sorted(rows):
        near = (h for h in heaps if np.hypot(row[0] - h[0][0], row[1] - h[0][1]) < SAME_MIRED)
        heap = next(near, None)
        if heap is None:
            heaps.append([row])
        else:
            heap.append(row)
    merged = np.array([np.mean(heap, axis=0) for heap in heaps])
    return merged[:, :2], merged[:, 2:]


def _softness(centres: FloatArray) -> float:
    """How round the bends at the readings are: small against the spacing, so that nothing overshoots."""
    if len(centres) < 2:
        return 1.0
    apart = np.hypot(*(centres[:, None, :] - centres[None, :, :]).transpose(2, 0, 1))
    nearest = float(apart[~np.eye(len(centres), dtype=bool)].min())
    return min(_SOFTEST_MIRED, 0.25 * nearest)


def _solve(centres: FloatArray, values: FloatArray, softness: float) -> tuple[FloatArray, FloatArray]:
    """Weights (k, f) that sum to zero and constants (f,) with which the functions pass through the values."""
    k = len(centres)
    apart = centres[:, None, :] - centres[None, :, :]
    system = np.ones((k + 1, k + 1))
    system[:k, :k] = np.sqrt((apart * apart).sum(axis=2) + softness**2)
    system[k, k] = 0.0
    right = np.vstack([values, np.zeros((1, values.shape[1]))])
    solution = np.asarray(np.linalg.solve(system, right), dtype=np.float64)
    return solution[:k], solution[k]


def _end_steps(centres: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distance of the first and of the last two readings, in mired and in scaled Duv; (2,) each."""
    if len(centres) < 2:
        return np.zeros(2), np.zeros(2)
    ordered = np.sort(centres, axis=0)
    return ordered[1] - ordered[0], ordered[-1] - ordered[-2]
