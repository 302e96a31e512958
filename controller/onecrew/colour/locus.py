"""Whites, exactly: (CCT, Duv) ⇄ CIE 1960 (u, v), for set-up and checking; the 44 Hz loop uses the table.

Duv is the signed distance from the Planckian locus along its normal in CIE 1960 (u, v): + above it
(green), − below it (magenta). Source: CIE 15:2004; sign as in ANSI C78.377.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from onecrew.colour.locus_table import uv76_to_white_fast
from onecrew.colour.planck import curve
from onecrew.colour.spaces import uv60_to_uv76

_SLACK = 1e-9
"""Rounding forgiven at the bounds, relative for kelvin and absolute for Duv."""
_NEWTON_STEPS = 4
"""From the table's answer the first step already lands within rounding; the rest are for certainty."""


def white_to_uv60(cct_k: ArrayLike, duv: ArrayLike = 0.0) -> FloatArray:
    """CIE 1960 (u, v) of whites, by direct integration of Planck's law.

    ``cct_k`` 1000–25000 K and ``duv`` ±0.05 broadcast together (...); returns (..., 2). ValueError names
    the bound that is passed.

    >>> [round(float(c), 6) for c in white_to_uv60(3200.0)]
    [0.243988, 0.344881]
    """
    cct_k, duv = np.broadcast_arrays(np.asarray(cct_k, dtype=np.float64), np.asarray(duv, dtype=np.float64))
    _check(cct_k, duv)
    point, along, _ = curve(1e6 / cct_k)
    return point + duv[..., None] * _normal(along)


def uv60_to_white(uv: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """(CCT in kelvin, Duv) of CIE 1960 chromaticities (..., 2), each result (...).

    The foot of the perpendicular on the locus, by Newton's method on the exact curve: within 1e-6 K.
    ValueError names the bound for a chromaticity outside 1000–25000 K or |Duv| 0.05.

    >>> cct_k, duv = uv60_to_white([0.1978, 0.3122])
    >>> round(float(cct_k), 3), round(float(duv), 6)
    (6507.502, 0.003224)
    """
    uv = np.asarray(uv, dtype=np.float64)
    if uv.ndim == 0 or uv.shape[-1] != 2:
        raise ValueError(f"uv needs arrays of shape (..., 2), got {uv.shape}")
    if not np.isfinite(uv).all():
        raise ValueError("a chromaticity must be finite to have a colour temperature")
    mired, _ = uv76_to_white_fast(uv60_to_uv76(uv))
    for _ in range(_NEWTON_STEPS):
        point, along, bend = curve(mired)
        aside = uv - point
        slope = (along * along).sum(axis=-1) - (aside * bend).sum(axis=-1)
        step = (aside * along).sum(axis=-1) / np.maximum(slope, 1e-9)
        mired = np.clip(mired + step, 20.0, 2000.0)
        if np.all(np.abs(step) < 1e-10 * mired):
            break
    point, along, _ = curve(mired)
    duv = ((uv - point) * _normal(along)).sum(axis=-1)
    cct_k = 1e6 / mired
    _check_white(uv, cct_k, duv)
    return np.clip(cct_k, CCT_MIN_K, CCT_MAX_K), np.clip(duv, -DUV_LIMIT, DUV_LIMIT)


def _normal(along: FloatArray) -> FloatArray:
    """Unit normal on the green side, from the tangent towards warmer."""
    across = np.stack((-along[..., 1], along[..., 0]), axis=-1)
    normal: FloatArray = across / np.hypot(along[..., 0], along[..., 1])[..., None]
    return normal


def _check(cct_k: FloatArray, duv: FloatArray) -> None:
    for value in cct_k[~(cct_k >= CCT_MIN_K * (1.0 - _SLACK))].flat:
        raise ValueError(f"a white starts at {CCT_MIN_K:.0f} K, got {value:.6g} K")
    for value in cct_k[~(cct_k <= CCT_MAX_K * (1.0 + _SLACK))].flat:
        raise ValueError(f"a white ends at {CCT_MAX_K:.0f} K, got {value:.6g} K")
    for value in duv[~(np.abs(duv) <= DUV_LIMIT + _SLACK)].flat:
        raise ValueError(f"Duv of a white stays within ±{DUV_LIMIT}, got {value:+.6g}")


def _check_white(uv: FloatArray, cct_k: FloatArray, duv: FloatArray) -> None:
    faults = (
        (cct_k >= CCT_MIN_K * (1.0 - _SLACK), f"lies beyond the {CCT_MIN_K:.0f} K end of the whites"),
        (cct_k <= CCT_MAX_K * (1.0 + _SLACK), f"lies beyond the {CCT_MAX_K:.0f} K end of the whites"),
        (np.abs(duv) <= DUV_LIMIT + _SLACK, f"lies further than Duv ±{DUV_LIMIT} from the whites"),
    )
    for good, fault in faults:
        for u, v in uv[~good].reshape(-1, 2):
            raise ValueError(f"(u, v) = ({u:.4f}, {v:.4f}) {fault}")
