"""Population: cameras and lamps as they may be, and what each camera would see of each lamp.

Nobody knows a camera's sensitivities, and a profile's spectra are typical ones. So many of both are drawn,
and what all of them would see says beforehand how whites go together on a camera. Sensitivities are lopsided
bells with a leak and a smooth ripple, under a matrix as makers fit it, more or less of it; emitters are the
profile's bells, moved and widened a little. Spreads are own choices; no camera was measured for them.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from onecrew.colour.adaptation import RGB_FROM_XYZ
from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import matching_functions, wavelengths_nm
from onecrew.colour.planck import spectrum
from onecrew.colour.spaces import xyy_to_xyz
from onecrew.show.profile import Emitter

DRAWN = 3000
_NM = np.arange(380.0, 781.0, 5.0)
_AT = np.searchsorted(wavelengths_nm(), _NM)
_PEAKS = ((602.0, 12.0), (537.0, 10.0), (461.0, 10.0))
"""Middle and spread of red, green and blue, nm."""
_WIDTH_NM, _WIDTHS, _LOPSIDED = 33.0, 0.45, 0.25
"""Middle of a bell's half widths, and log spreads: of cameras, and of the sides of a bell."""
_MOST_LEAK, _RIPPLE, _RIPPLE_NM = 0.1, 0.1, 30.0
_WARMEST_K, _COOLEST_K = 2900.0, 6500.0
"""Whites that a camera is balanced for."""
_MOST_AMPLIFIED = 2.5
"""Entry of a matrix from which makers take less of it, since it amplifies noise."""
_MOVED_NM, _PEAK_NM, _WIDER, _HIGHER, _SHAPED, _BRIGHTER = 3.0, 1.5, 0.08, 0.1, 0.05, 0.09
"""Spreads of emitters: as a whole, of single bells, and of their widths, heights, shape and flux, as logs."""
_UNKNOWN = ((610.0, 20.0), (540.0, 20.0), (455.0, 10.0))
_UNKNOWN_FWHM_NM, _UNKNOWN_WIDER = 55.0, 0.5
"""Three bells that stand for a lamp whose spectrum nobody tells."""


def seen_emitters(emitters: Sequence[Emitter], seed: int) -> FloatArray:
    """Return what each camera sees of each emitter at full, (DRAWN, emitters, 3): linear red, green, blue.

    Lamps of another ``seed`` are other samples of their kind.
    """
    rng = np.random.default_rng(seed)
    return np.stack([_seen(_emitter(rng, one) * one.flux) for one in emitters], axis=1)


def seen_whites(xy: FloatArray, seed: int) -> FloatArray:
    """Return the same of a lamp of unknown spectrum that gives the chromaticities (k, 2): (DRAWN, k, 3)."""
    rng = np.random.default_rng(seed)
    fwhm = _UNKNOWN_FWHM_NM * np.exp(_UNKNOWN_WIDER * rng.normal(size=(DRAWN, 3)))
    peak = np.array([middle + spread * rng.normal(size=DRAWN) for middle, spread in _UNKNOWN]).T
    shapes = 2.0 ** -(((_NM - peak[..., None]) / (0.5 * fwhm[..., None])) ** 2)
    shares = np.linalg.solve((shapes @ _observer()).transpose(0, 2, 1), xyy_to_xyz(xy).T)
    return np.asarray(np.einsum("nek,nec->nkc", shares, _seen_all(shapes)))


@lru_cache(maxsize=1)
def _cameras() -> FloatArray:
    """(DRAWN, wavelengths, 3)."""
    rng = np.random.default_rng(12345)
    width = np.log(_WIDTH_NM) + _WIDTHS * rng.normal(size=(DRAWN, 1))
    curves = np.stack([_sensitivity(rng, peak, spread, width) for peak, spread in _PEAKS], axis=2)
    lights = np.stack(
        [spectrum(k) for k in np.exp(rng.uniform(np.log(_WARMEST_K), np.log(_COOLEST_K), DRAWN))]
    )[:, _AT]
    curves /= np.einsum("nw,nwc->nc", lights, curves)[:, None, :]
    middles = np.repeat(np.arange(400.0, 690.0, 40.0), 2)[:, None]
    surfaces = 0.15 + 0.7 * np.exp(
        -0.5 * ((_NM - middles) / np.tile([30.0, 70.0], len(middles) // 2)[:, None]) ** 2
    )
    lit = surfaces * lights[:, None, :]
    seen, told = lit @ curves, lit @ _observer()
    d65 = np.linalg.inv(RGB_FROM_XYZ) @ np.ones(3)
    wanted = told / (lights @ _observer())[:, None, :] * d65 @ RGB_FROM_XYZ.T
    turned = seen.transpose(0, 2, 1)
    matrix = np.linalg.solve(turned @ seen + 1e-5 * len(surfaces) * np.eye(3), turned @ wanted)
    share = rng.uniform(0.0, 1.0, (DRAWN, 1, 1))
    share = np.where(np.abs(matrix).max(axis=(1, 2), keepdims=True) > _MOST_AMPLIFIED, 0.3 * share, share)
    matrix = share * matrix + (1.0 - share) * np.eye(3)
    return np.asarray(curves @ (matrix / matrix.sum(axis=1, keepdims=True)))


def _sensitivity(rng: np.random.Generator, peak: float, spread: float, width: FloatArray) -> FloatArray:
    off = _NM - rng.normal(peak, spread, (DRAWN, 1))
    left, right = (np.exp(width + _LOPSIDED * rng.normal(size=(DRAWN, 1))) for _ in range(2))
    bell = np.exp(-0.5 * (off / np.where(off < 0.0, left, right)) ** 2)
    leak = np.exp(-0.5 * ((_NM - rng.uniform(420.0, 650.0, (DRAWN, 1))) / 45.0) ** 2)
    return np.asarray(
        (bell + rng.uniform(0.0, _MOST_LEAK, (DRAWN, 1)) * leak) * np.exp(_RIPPLE * _ripples(rng))
    )


def _emitter(rng: np.random.Generator, emitter: Emitter) -> FloatArray:
    """(DRAWN, wavelengths) at about unit light."""
    moved, power = _MOVED_NM * rng.normal(size=(DRAWN, 1)), np.zeros((DRAWN, len(_NM)))
    for bell in emitter.spectrum:
        single, wider, higher = rng.normal(size=(3, DRAWN, 1))
        off = _NM - bell.peak_nm - moved - _PEAK_NM * single
        width = 0.5 * bell.fwhm_nm * np.exp(_WIDER * wider)
        power += bell.share * np.exp(_HIGHER * higher) * 2.0 ** -((off / width) ** 2)
    power *= np.exp(_SHAPED * _ripples(rng))
    power /= (power @ _observer()[:, 1])[:, None]
    return np.asarray(power * np.exp(_BRIGHTER * rng.normal(size=(DRAWN, 1))))


def _ripples(rng: np.random.Generator) -> FloatArray:
    """(DRAWN, wavelengths), smooth, of spread 1."""
    alike = np.exp(-0.5 * ((_NM[:, None] - _NM) / _RIPPLE_NM) ** 2) + 1e-6 * np.eye(len(_NM))
    return np.asarray(rng.normal(size=(DRAWN, len(_NM))) @ np.linalg.cholesky(alike).T)


def _seen(power: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("nw,nwc->nc", power, _cameras()))


def _seen_all(power: FloatArray) -> FloatArray:
    return np.asarray(power @ _cameras())


def _observer() -> FloatArray:
    return np.asarray(matching_functions()[_AT])
