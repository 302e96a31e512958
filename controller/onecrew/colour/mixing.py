"""Emitter mixing: the drives 0–1 of one to eight emitters that give a chromaticity exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.best_rendition import BestRendition, Measure
from onecrew.colour.cmf import COUNT
from onecrew.colour.hull import Hull
from onecrew.colour.limits import DUV_LIMIT
from onecrew.colour.locus_table import uv76_to_white_fast, white_to_uv76_fast
from onecrew.colour.spaces import uv76_to_xyz, xy_to_uv76, xyy_to_xyz
from onecrew.colour.spectra import spectrum_to_xyz
from onecrew.colour.zonotope import Zonotope

MOST_EMITTERS = 8
MOST_STOPS_LOST = 1.5
"""What best rendition may cost by default: an emitter too weak for its part must not darken the lamp."""
_SURELY_WHITE = 0.02
"""Distance from the locus in CIE 1960 (u, v) up to which a colour's own CCT is the reference."""
_MIDDLE_MIRED = 250.0
"""4000 K."""


@dataclass(frozen=True, slots=True)
class Mix:
    """Drives for a number of colours at full level; treat the arrays as read-only."""

    drives: FloatArray
    """(k, n), 0–1 in linear light, for level 1; a level scales them."""
    light: FloatArray
    """(k,), luminous flux as a fraction of the flux with every emitter full on."""
    reached: FloatArray
    """(k, 2), the CIE 1976 (u′, v′) that the drives give."""
    off_by: FloatArray
    """(k,), distance in (u′, v′) from what was asked; 0 where it can be reached."""


class Mixer:
    """The emitters of one kind of fixture, made ready to mix many colours at once.

    ``xy`` (n, 2) are the emitters' CIE 1931 chromaticities, ``flux`` (n,) their luminous flux at full
    drive in any one unit, ``spectra`` (n, 471), if known, their relative spectral power on the 1 nm grid
    360–830 nm. n is 1–8. ValueError says what is wrong with them.
    """

    def __init__(self, xy: ArrayLike, flux: ArrayLike, spectra: ArrayLike | None = None) -> None:
        xy, flux = np.asarray(xy, dtype=np.float64), np.asarray(flux, dtype=np.float64)
        if xy.ndim != 2 or xy.shape[1] != 2 or not 1 <= len(xy) <= MOST_EMITTERS:
            raise ValueError(
                f"a mixer takes 1 to {MOST_EMITTERS} emitters with xy of shape (n, 2), got {xy.shape}"
            )
        if flux.shape != (len(xy),):
            raise ValueError(f"flux needs one value per emitter, shape ({len(xy)},), got {flux.shape}")
        if not (np.isfinite(xy).all() and (xy > 0.0).all() and (xy.sum(axis=1) <= 1.0 + 1e-9).all()):
            raise ValueError("emitter chromaticities need x > 0, y > 0 and x + y up to 1")
        if not (np.isfinite(flux).all() and (flux > 0.0).all()):
            raise ValueError("emitter flux must be above 0")
        if spectra is not None:
            spectra = np.asarray(spectra, dtype=np.float64)
            if spectra.shape != (len(xy), COUNT) or not (
                np.isfinite(spectra).all() and (spectra >= 0.0).all()
            ):
                raise ValueError(f"spectra need shape ({len(xy)}, {COUNT}) and no power below 0")
            if not (spectrum_to_xyz(spectra)[:, 1] > 0.0).all():
                raise ValueError("each spectrum needs some light")
        self.count = len(xy)
        self._spectra = spectra
        self._best_rendition: dict[str, BestRendition] = {}
        self._whole = float(flux.sum())
        self._vectors = xyy_to_xyz(xy, flux / self._whole)
        self._zonotope = Zonotope(self._vectors)
        self._hull = Hull(xy_to_uv76(xy))

    def gamut(self) -> FloatArray:
        """Corners of the reachable colours in CIE 1976 (u′, v′), counter-clockwise, (m, 2)."""
        return self._hull.vertices.copy()

    def most_light(self, uv76: ArrayLike) -> Mix:
        """The drives with the most light at each colour (k, 2) in CIE 1976 (u′, v′).

        A colour outside the gamut goes to the nearest reachable one in (u′, v′). The colours must be
        finite. Drives move continuously with the colour.
        """
        reached, off_by = self._hull.nearest(_colours(uv76))
        light, drives = self._zonotope.exits(uv76_to_xyz(reached))
        return Mix(drives, light, reached, off_by)

    def best_rendition(
        self,
        uv76: ArrayLike,
        cct_k: ArrayLike | None = None,
        measure: Measure = "surfaces",
        within_stops: float | None = MOST_STOPS_LOST,
    ) -> Mix:
        """The drives whose spectrum is closest to the reference illuminant, at each (u′, v′) (k, 2).

        The reference is that of ``cct_k`` kelvin (k,), clamped to 1000–25000 K, or else of each colour's own
        CCT; where a colour is too far from white to have one, of 4000 K, with a gradual change in between.
        ``best_rendition.py`` says what closest means by either measure. Where that would be more than
        ``within_stops`` darker than the brightest mix, as much of the brightest as needed is mixed in; None
        sets no limit. The most-driven emitter is at 1 unless so limited. Gamut, errors and continuity as
        for ``most_light``; ValueError when the mixer has no spectra.
        """
        if self._spectra is None:
            raise ValueError("the best-rendition mix needs the spectra of the emitters")
        if measure not in self._best_rendition:
            self._best_rendition[measure] = BestRendition(self._vectors, self._spectra, measure)
        reached, off_by = self._hull.nearest(_colours(uv76))
        if cct_k is None:
            mired = _reference_mired(reached)
        else:
            mired = np.broadcast_to(1e6 / np.asarray(cct_k, dtype=np.float64), off_by.shape)
        rays = uv76_to_xyz(reached)
        amounts = self._best_rendition[measure].amounts(rays, mired)
        if within_stops is not None:
            amounts = self._lightened(amounts, rays, 2.0 ** max(within_stops, 0.0))
        drives = amounts / amounts.max(axis=1, keepdims=True)
        return Mix(drives, drives @ self._vectors[:, 1], reached, off_by)

    def _lightened(self, amounts: FloatArray, rays: FloatArray, factor: float) -> FloatArray:
        """Drives for unit light, made brighter until full on they are at most ``factor`` × darker."""
        light, drives = self._zonotope.exits(rays)
        bright = drives / light[:, None]
        most = (factor / light)[:, None]
        over = np.maximum(amounts - most, 0.0)
        share = (over / np.where(over > 0.0, amounts - bright, 1.0)).max(axis=1, keepdims=True)
        lightened: FloatArray = amounts + np.minimum(share, 1.0) * (bright - amounts)
        return lightened

    def stops_lost(
        self, uv76: ArrayLike, measure: Measure = "surfaces", within_stops: float | None = MOST_STOPS_LOST
    ) -> FloatArray:
        """Stops of light (k,) that the best-rendition mix costs against most light, at least 0."""
        true = self.best_rendition(uv76, measure=measure, within_stops=within_stops)
        lost: FloatArray = np.log2(self.most_light(uv76).light / true.light)
        return np.maximum(lost, 0.0)

    def even_light(self, low_k: float = 2700.0, high_k: float = 6500.0, duv: float = 0.0) -> float:
        """The light, as in ``Mix.light``, that every white from ``low_k`` to ``high_k`` reaches."""
        if not 0.0 < low_k <= high_k:
            raise ValueError(f"the whites need low_k up to high_k, got {low_k:g} to {high_k:g} K")
        warm, cool = 1e6 / low_k, 1e6 / high_k
        mired = np.linspace(cool, warm, max(2, int(np.ceil((warm - cool) * 2.0)) + 1))
        return float(self.most_light(white_to_uv76_fast(mired, duv)).light.min())


def _colours(uv76: ArrayLike) -> FloatArray:
    colours = np.asarray(uv76, dtype=np.float64)
    if colours.ndim != 2 or colours.shape[1] != 2:
        raise ValueError(f"colours need shape (k, 2), got {colours.shape}")
    return colours


def _reference_mired(uv76: FloatArray) -> FloatArray:
    """Mired of the illuminant to judge each colour by; moves continuously over all colours."""
    mired, _ = uv76_to_white_fast(uv76)
    aside = (uv76 - white_to_uv76_fast(mired, 0.0)) / (1.0, 1.5)
    distance = np.hypot(aside[:, 0], aside[:, 1])
    white = np.clip((DUV_LIMIT - distance) / (DUV_LIMIT - _SURELY_WHITE), 0.0, 1.0)
    return _MIDDLE_MIRED + white * (mired - _MIDDLE_MIRED)
