"""The locus for the 44 Hz loop: (mired, Duv) ⇄ CIE 1976 (u′, v′) from a table of cubics, both ways.

The table holds the locus as one cubic a mired, each meeting its neighbours in value and slope, so forward
and inverse are each other's exact opposite on the same smooth curve. Against direct integration over
1000–25000 K and |Duv| ≤ 0.05 the curve is within 1e-9 in u′v′ and the inverse within 0.001 K.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.limits import DUV_LIMIT
from onecrew.colour.planck import curve

MIRED_MIN = 40.0
"""10⁶ / 25000 K."""
MIRED_MAX = 1000.0
"""10⁶ / 1000 K."""

_LEAPS_NOT, _LEAPS = 0.06, 0.09
"""Distances from the locus in CIE 1960 (u, v). The nearest white leaps from 0.095 on: the locus' smallest
radius of curvature is 0.100, at 5200 K."""
_ABOUT_AS_NEAR = 0.002
_EXACT_STEP = 10.0
_LINE_STEP = 20.0
_BLOCK = 1024
"""Points worked on at a time: what is in hand stays in the processor's cache, and the matrix product stays
small enough that OpenBLAS starts no threads for it."""


@dataclass(frozen=True, slots=True)
class _Table:
    cubics: FloatArray
    """(8, 960): coefficients of u, then of v, lowest power first, over one mired each."""
    lines: FloatArray
    """(3, n): iso-temperature lines; (u, v, 1) @ lines is above 0 on their warm side."""


@lru_cache(maxsize=1)
def _table() -> _Table:
    nodes = np.arange(MIRED_MIN, MIRED_MAX + 0.5 * _EXACT_STEP, _EXACT_STEP)
    point, first, second = curve(nodes)
    fine, slope = _between(point, first * _EXACT_STEP, second * _EXACT_STEP**2, int(_EXACT_STEP))
    start, end, out, into = fine[:-1], fine[1:], slope[:-1], slope[1:]
    rise = end - start
    cubics = np.stack((start, out, 3.0 * rise - 2.0 * out - into, out + into - 2.0 * rise))
    every = int(_LINE_STEP / _EXACT_STEP)
    at, along = point[::every], first[::every]
    lines = np.vstack((along.T, -(at * along).sum(axis=1)))
    return _Table(np.ascontiguousarray(cubics.transpose(2, 0, 1).reshape(8, -1)), lines)


def _between(p: FloatArray, d: FloatArray, b: FloatArray, parts: int) -> tuple[FloatArray, FloatArray]:
    """Values and slopes at the mireds between exact nodes, by quintics that keep slope and bend there."""
    p0, p1, d0, d1, b0, b1 = p[:-1], p[1:], d[:-1], d[1:], 0.5 * b[:-1], 0.5 * b[1:]
    gap, out, into = p1 - p0 - d0 - b0, d1 - d0 - 2.0 * b0, b1 - b0
    c3 = 10.0 * gap - 4.0 * out + into
    c4 = -15.0 * gap + 7.0 * out - 2.0 * into
    c5 = 6.0 * gap - 3.0 * out + into
    t = (np.arange(parts) / parts)[:, None, None]
    values = p0 + t * (d0 + t * (b0 + t * (c3 + t * (c4 + t * c5))))
    slopes = (d0 + t * (2.0 * b0 + t * (3.0 * c3 + t * (4.0 * c4 + t * 5.0 * c5)))) / parts
    values = np.concatenate((values.transpose(1, 0, 2).reshape(-1, 2), p[-1:]))
    slopes = np.concatenate((slopes.transpose(1, 0, 2).reshape(-1, 2), d[-1:] / parts))
    return values, slopes


def warm_up() -> None:
    """Build the table now instead of at the first conversion."""
    _table()


def white_to_uv76_fast(mired: ArrayLike, duv: ArrayLike) -> FloatArray:
    """CIE 1976 (u′, v′) of whites, from the table.

    ``mired`` (...) is clamped to 40–1000, ``duv`` (...) to ±0.05; NaN reads as the lower clamp. Returns
    (..., 2), never NaN. Duv is measured along the normal of the locus in CIE 1960 (u, v), + is green.
    """
    mired, duv = np.broadcast_arrays(np.asarray(mired, dtype=np.float64), np.asarray(duv, dtype=np.float64))
    result = np.empty((*mired.shape, 2))
    flat_mired, flat_duv, flat = mired.reshape(-1), duv.reshape(-1), result.reshape(-1, 2)
    for start in range(0, flat_mired.size, _BLOCK):
        block = slice(start, start + _BLOCK)
        at = np.fmin(np.fmax(flat_mired[block], MIRED_MIN), MIRED_MAX)
        off = np.fmin(np.fmax(flat_duv[block], -DUV_LIMIT), DUV_LIMIT)
        u, v, du, dv, _, _ = _evaluate(at, bends=False)
        off = off / np.sqrt(du * du + dv * dv)
        flat[block, 0] = u - off * dv
        flat[block, 1] = 1.5 * (v + off * du)
    return result


def uv76_to_white_fast(uv76: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """(mired, Duv) of chromaticities (..., 2), from the table.

    The mired is clamped to 40–1000 and Duv to ±0.05, so a colour that is no white reads as a white near
    it; NaN or infinity reads as some white. Never NaN.
    """
    uv76 = np.asarray(uv76, dtype=np.float64)
    if uv76.ndim == 0 or uv76.shape[-1] != 2:
        raise ValueError(f"uv76 needs arrays of shape (..., 2), got {uv76.shape}")
    flat = uv76.reshape(-1, 2)
    mired, duv = np.empty(len(flat)), np.empty(len(flat))
    for start in range(0, len(flat), _BLOCK):
        block = slice(start, start + _BLOCK)
        mired[block], duv[block] = _nearest(flat[block])
    return mired.reshape(uv76.shape[:-1]), duv.reshape(uv76.shape[:-1])


def nearest_white_fast(uv76: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """(mired, Duv) of the white nearest to finite colours (n, 2), as ``uv76_to_white_fast`` clamps them.

    Here the mired moves continuously over all colours. Deep purples lie as near to one white as to another
    100–300 mired away, and would leap between the two as they move: from 0.06 to 0.09 away from the locus, in
    CIE 1960 (u, v), the nearest white turns into the mean of all that are about as near.
    """
    uv76 = np.asarray(uv76, dtype=np.float64)
    mired, duv = uv76_to_white_fast(uv76)
    aside = (uv76 - white_to_uv76_fast(mired, 0.0)) / (1.0, 1.5)
    far = np.clip((np.hypot(aside[:, 0], aside[:, 1]) - _LEAPS_NOT) / (_LEAPS - _LEAPS_NOT), 0.0, 1.0)
    far *= np.clip(duv / -DUV_LIMIT, 0.0, 1.0)  # on the green side the nearest white never leaps
    rows = np.flatnonzero(far > 0.0)
    if rows.size:
        nodes = np.arange(MIRED_MIN, MIRED_MAX + 0.5 * _EXACT_STEP, _EXACT_STEP)
        apart = (uv76[rows, None, :] - white_to_uv76_fast(nodes, 0.0)) / (1.0, 1.5)
        distance = np.hypot(apart[..., 0], apart[..., 1])
        weight = np.exp((distance.min(axis=1, keepdims=True) - distance) / _ABOUT_AS_NEAR)
        mired[rows] += far[rows] * (weight @ nodes / weight.sum(axis=1) - mired[rows])
    return mired, duv


def _evaluate(mired: FloatArray, bends: bool) -> tuple[FloatArray, ...]:
    """u, v and their first derivatives by mired, and their second ones if ``bends``; mired in range."""
    along = mired - MIRED_MIN
    cell = np.minimum(along.astype(np.intp), int(MIRED_MAX - MIRED_MIN) - 1)
    t = along - cell
    a0, a1, a2, a3, b0, b1, b2, b3 = _table().cubics.take(cell, axis=1)
    u = a0 + t * (a1 + t * (a2 + t * a3))
    v = b0 + t * (b1 + t * (b2 + t * b3))
    t3 = 3.0 * t
    du = a1 + t * (2.0 * a2 + t3 * a3)
    dv = b1 + t * (2.0 * b2 + t3 * b3)
    if not bends:
        return u, v, du, dv, u, v
    return u, v, du, dv, 2.0 * (a2 + t3 * a3), 2.0 * (b2 + t3 * b3)


def _nearest(uv76: FloatArray) -> tuple[FloatArray, FloatArray]:
    lines = _table().lines
    # Far outside every diagram the rounding of huge numbers would win over the geometry: keep near.
    u = np.fmin(np.fmax(uv76[:, 0], -1.0), 2.0)
    v = np.fmin(np.fmax(uv76[:, 1] / 1.5, -1.0), 2.0)
    mired = _between_lines(u, v, lines)
    for _ in range(2):
        pu, pv, du, dv, bu, bv = _evaluate(mired, bends=True)
        su, sv = u - pu, v - pv
        speed = du * du + dv * dv
        # Beyond the locus' centre of curvature Newton's slope turns over; a bound keeps the step sane.
        slope = np.maximum(speed - (su * bu + sv * bv), 0.2 * speed)
        mired = np.minimum(np.maximum(mired + (su * du + sv * dv) / slope, MIRED_MIN), MIRED_MAX)
    pu, pv, du, dv, _, _ = _evaluate(mired, bends=False)
    duv = ((v - pv) * du - (u - pu) * dv) / np.sqrt(du * du + dv * dv)
    return mired, np.minimum(np.maximum(duv, -DUV_LIMIT), DUV_LIMIT)


def _between_lines(u: FloatArray, v: FloatArray, lines: FloatArray) -> FloatArray:
    """First guess at the mired: the two iso-temperature lines around the point, by distance to each."""
    side = np.column_stack((u, v, np.ones_like(u))) @ lines
    last = lines.shape[1] - 2
    cell = np.minimum(np.maximum((side > 0.0).sum(axis=1) - 1, 0), last)
    index = np.arange(len(u))
    cool, warm = side[index, cell], side[index, cell + 1]
    gap = cool - warm
    share = cool / np.where(np.abs(gap) < 1e-12, 1.0, gap)
    mired: FloatArray = MIRED_MIN + _LINE_STEP * (cell + np.minimum(np.maximum(share, 0.0), 1.0))
    return mired
