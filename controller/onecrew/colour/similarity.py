"""SSI, the Spectral Similarity Index: how far a camera can take one light for another.

Source: Academy S-2018-001 and SMPTE ST 2122:2020, by the description in public implementations.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import COUNT, SHORTEST_NM
from onecrew.colour.daylight import daylight_spectrum
from onecrew.colour.planck import spectrum as planckian_spectrum

_BANDS = 30
_FIRST_NM = 375
_BAND_NM = 10
# The eye of a camera fades at both ends of the spectrum.
_WEIGHTS = np.concatenate(
    (np.array([12.0, 22.0, 32.0, 40.0, 44.0]) / 45.0, np.ones(23), [11.0 / 15.0, 3.0 / 15.0])
)
_SMOOTHING = np.array([0.22, 0.56, 0.22])
_SCALE = 32.0


def similarity(power: ArrayLike, reference: ArrayLike) -> float:
    """SSI of a spectrum (471,) against a reference spectrum (471,), both on the 1 nm grid; at most 100.

    Not rounded, though it is quoted as a whole number, and not symmetric. ValueError for a wrong shape or
    no power between 375 and 675 nm.
    """
    test, aim = _shares(power), _shares(reference)
    gap = _WEIGHTS * (test - aim) / (aim + 1.0 / _BANDS)
    smooth = np.convolve(gap, _SMOOTHING, mode="same")
    return 100.0 - _SCALE * float(np.sqrt(smooth @ smooth))


def similarity_reference(cct_k: float) -> FloatArray:
    """The usual reference (471,) for a light of ``cct_k`` kelvin, rounded to a whole kelvin.

    Planckian below 4000 K, the D series from there up to 25000 K.
    """
    whole = float(round(cct_k))
    return planckian_spectrum(whole) if whole < 4000.0 else daylight_spectrum(whole)


def _shares(power: ArrayLike) -> FloatArray:
    """Share of the light in each of the 30 bands of 10 nm, by the trapezoid rule."""
    power = np.asarray(power, dtype=np.float64)
    if power.shape != (COUNT,):
        raise ValueError(f"a spectrum needs shape ({COUNT},), got {power.shape}")
    start = _FIRST_NM - SHORTEST_NM
    inner = power[start : start + _BANDS * _BAND_NM].reshape(_BANDS, _BAND_NM).sum(axis=1)
    edges = power[start : start + _BANDS * _BAND_NM + 1 : _BAND_NM]
    bands = inner + 0.5 * (edges[1:] - edges[:-1])
    total = float(bands.sum())
    if not total > 0.0:
        raise ValueError("a spectrum needs some power between 375 and 675 nm")
    shares: FloatArray = bands / total
    return shares
