"""The Planckian locus as a curve in CIE 1960 (u, v), with its first two derivatives.

The curve's parameter is the mired (10⁶/K): along it the locus bends far more evenly than along kelvin.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import matching_functions, wavelengths_nm

SECOND_RADIATION_CONSTANT_M_K = 1.4388e-2
"""c₂ of the ITS-90, the value that CIE 15 prescribes for colour temperature."""

_BLOCK = 1024
"""Temperatures integrated at a time, which bounds the memory to a few MB."""


@lru_cache(maxsize=1)
def _weights() -> tuple[FloatArray, FloatArray]:
    """Exponent per mired (471,), and λ⁻⁵ times the terms 4X, 6Y, X + 15Y + 3Z of u and v, (471, 3)."""
    nm = wavelengths_nm()
    per_mired = SECOND_RADIATION_CONSTANT_M_K * 1e3 / nm
    x, y, z = matching_functions().T
    terms = np.stack((4.0 * x, 6.0 * y, x + 15.0 * y + 3.0 * z), axis=1)
    return per_mired, terms * (nm / 560.0)[:, None] ** -5.0


def curve(mired: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """(u, v) of the full radiator, and its first and second derivative by mired, each (..., 2).

    Plain sum of Planck's law over the CIE 1931 2° observer, 1 nm, 360–830 nm. ``mired`` must be above 0.
    """
    mired = np.asarray(mired, dtype=np.float64)
    flat = mired.reshape(-1)
    parts = [_curve(flat[start : start + _BLOCK]) for start in range(0, flat.size, _BLOCK)]
    shape = (*mired.shape, 2)
    if not parts:
        return np.empty(shape), np.empty(shape), np.empty(shape)
    point, first, second = (np.concatenate(part).reshape(shape) for part in zip(*parts, strict=True))
    return point, first, second


def _curve(mired: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    per_mired, weighted = _weights()
    q = 1.0 / np.expm1(mired[:, None] * per_mired)
    slope = -q * (1.0 + q) * per_mired
    bend = -slope * (1.0 + 2.0 * q) * per_mired
    s0, s1, s2 = q @ weighted, slope @ weighted, bend @ weighted
    size0, size1, size2 = s0[:, 2:], s1[:, 2:], s2[:, 2:]
    point = s0[:, :2] / size0
    first = (s1[:, :2] - point * size1) / size0
    second = (s2[:, :2] - 2.0 * first * size1 - point * size2) / size0
    return point, first, second


def spectrum(cct_k: ArrayLike) -> FloatArray:
    """Relative spectral power of a full radiator at ``cct_k`` kelvin (...) on the 1 nm grid, (..., 471)."""
    mired = 1e6 / np.asarray(cct_k, dtype=np.float64)
    per_mired, _ = _weights()
    power: FloatArray = (wavelengths_nm() / 560.0) ** -5.0 / np.expm1(mired[..., None] * per_mired)
    return power
