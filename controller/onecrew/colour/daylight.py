"""CIE daylight: the D series, 4000–25000 K.

Source: CIE 15:2004, equations 3.1–3.4 and table T.2. M1 and M2 are not rounded to three decimals here, so
that chromaticity and spectrum move smoothly with the temperature; the tabulated D65 lies 1e-4 away in y.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import read_table, wavelengths_nm

DAYLIGHT_MIN_K = 4000.0
DAYLIGHT_MAX_K = 25000.0


def daylight_xy(cct_k: ArrayLike) -> FloatArray:
    """CIE 1931 (x, y) of daylight of ``cct_k`` kelvin (...), 4000–25000; ValueError names the bound passed.

    >>> [round(float(c), 6) for c in daylight_xy(5600.0)]
    [0.330164, 0.345546]
    """
    cct_k = np.asarray(cct_k, dtype=np.float64)
    for value in cct_k[~((cct_k >= DAYLIGHT_MIN_K) & (cct_k <= DAYLIGHT_MAX_K))].flat:
        raise ValueError(
            f"daylight runs from {DAYLIGHT_MIN_K:.0f} to {DAYLIGHT_MAX_K:.0f} K, got {value:.6g} K"
        )
    t = 1e3 / cct_k
    low = ((-4.6070 * t + 2.9678) * t + 0.09911) * t + 0.244063
    high = ((-2.0064 * t + 1.9018) * t + 0.24748) * t + 0.237040
    x = np.where(cct_k <= 7000.0, low, high)
    y = (-3.000 * x + 2.870) * x - 0.275
    return np.stack((x, y), axis=-1)


def daylight_spectrum(cct_k: ArrayLike) -> FloatArray:
    """Relative spectral power of daylight of ``cct_k`` kelvin (...) on the 1 nm grid, (..., 471).

    Bounds and errors as ``daylight_xy``. Linear between the 5 nm of the table, as CIE 15 prescribes.
    """
    xy = daylight_xy(cct_k)
    x, y = xy[..., 0], xy[..., 1]
    m = 0.0241 + 0.2562 * x - 0.7341 * y
    m1 = (-1.3515 - 1.7703 * x + 5.9114 * y) / m
    m2 = (0.0300 - 31.4424 * x + 30.0717 * y) / m
    power: FloatArray = np.stack((np.ones_like(m), m1, m2), axis=-1) @ _components()
    return power


@lru_cache(maxsize=1)
def _components() -> FloatArray:
    """S₀, S₁, S₂ on the 1 nm grid, (3, 471)."""
    table = read_table("cie_d_series.csv")
    grid = wavelengths_nm()
    return np.array([np.interp(grid, table[:, 0], column) for column in table.T[1:]])
