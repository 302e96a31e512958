"""Spectra on the 1 nm grid 360–830 nm: bells, chromaticity, and the illuminant a white is judged against."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import COUNT, matching_functions, wavelengths_nm
from onecrew.colour.daylight import DAYLIGHT_MIN_K, daylight_spectrum
from onecrew.colour.planck import spectrum as planckian_spectrum
from onecrew.colour.spaces import xyz_to_xy

BLEND_START_K = 4000.0
BLEND_END_K = 5000.0


def bells(peaks: Iterable[tuple[float, float, float]]) -> FloatArray:
    """Spectrum (471,) that is a sum of Gaussian bells (peak in nm, full width at half maximum in nm, height).

    ValueError for no bell at all, a width or height not above 0, or a peak off the grid.
    """
    grid = wavelengths_nm()
    power = np.zeros(COUNT)
    peaks = list(peaks)
    if not peaks:
        raise ValueError("a spectrum needs at least one bell")
    for peak_nm, fwhm_nm, height in peaks:
        if not (grid[0] <= peak_nm <= grid[-1]):
            raise ValueError(f"a bell peaks within {grid[0]:.0f}–{grid[-1]:.0f} nm, got {peak_nm:g} nm")
        if not (fwhm_nm > 0.0 and height > 0.0):
            raise ValueError(f"a bell needs a width and a height above 0, got {fwhm_nm:g} nm and {height:g}")
        power += height * 2.0 ** -(((grid - peak_nm) / (0.5 * fwhm_nm)) ** 2)
    return power


def spectrum_to_xyz(power: ArrayLike) -> FloatArray:
    """XYZ (..., 3) of spectra (..., 471): plain sums over the CIE 1931 2° observer."""
    power = np.asarray(power, dtype=np.float64)
    if power.ndim == 0 or power.shape[-1] != COUNT:
        raise ValueError(f"spectra need shape (..., {COUNT}), got {power.shape}")
    xyz: FloatArray = power @ matching_functions()
    return xyz


def spectrum_to_xy(power: ArrayLike) -> FloatArray:
    """CIE 1931 (x, y) of spectra (..., 471)."""
    return xyz_to_xy(spectrum_to_xyz(power))


def at_unit_light(power: ArrayLike) -> FloatArray:
    """The spectra (..., 471) scaled to luminance Y = 1 each."""
    power = np.asarray(power, dtype=np.float64)
    scaled: FloatArray = power / spectrum_to_xyz(power)[..., 1:2]
    return scaled


def reference_spectrum(cct_k: ArrayLike) -> FloatArray:
    """The illuminant that a white of ``cct_k`` kelvin (...) is judged against, at Y = 1, (..., 471).

    Planckian up to 4000 K, the D series from 5000 K, both at Y = 1 blended linearly in kelvin in between.
    Source: CIE 224:2017 and ANSI/IES TM-30-20. ``cct_k`` up to 25000 K.
    """
    cct_k = np.asarray(cct_k, dtype=np.float64)
    day = np.clip((cct_k - BLEND_START_K) / (BLEND_END_K - BLEND_START_K), 0.0, 1.0)[..., None]
    radiator = at_unit_light(planckian_spectrum(cct_k))
    sky = at_unit_light(daylight_spectrum(np.maximum(cct_k, DAYLIGHT_MIN_K)))
    return radiator * (1.0 - day) + sky * day
