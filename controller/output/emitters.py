"""What a profile's emitters can mix, as the mixer of the colour room sees them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from controller.colour.mixing import Mix, Mixer
from controller.colour.spectra import bells
from controller.colour.table import white_to_uv76_fast
from controller.documents.profile import Emitter, Profile
from controller.errors import Mistake

FloatArray = NDArray[np.float64]

EVEN_LOW_K, EVEN_HIGH_K = 2700.0, 6500.0
"""The whites that even output keeps alike on a fixture with emitters: tungsten to overcast sky."""


@dataclass(frozen=True, slots=True)
class Blended:
    """What k colours take and give at full level, even output included."""

    drives: FloatArray
    """(k, n), 0–1 in linear light."""
    light: FloatArray
    """(k,), the light as a fraction of all emitters full on."""
    reached: FloatArray
    """(k, 2), the CIE 1976 chromaticities that come out."""


def mixer_of(profile: Profile, names: Sequence[str]) -> Mixer:
    """Return the mixer of the named emitters of a profile, in that order; with spectra if all have one.

    Raises ``Mistake`` for emitters that cannot be mixed, such as a spectrum without visible light.
    """
    try:
        return _mixer(tuple(profile.emitters[name] for name in names))
    except ValueError as error:
        raise Mistake(f"the emitters of profile {profile.id} cannot be mixed: {error}") from error


@lru_cache(maxsize=64)
def _mixer(emitters: tuple[Emitter, ...]) -> Mixer:
    """Kept, because a mixer takes up to 60 ms to make ready and every edit of the rig makes a new encoder."""
    spectra = None
    if has_spectra(emitters):
        spectra = np.stack([shape_of(emitter) for emitter in emitters])
    return Mixer(
        np.array([emitter.xy for emitter in emitters]),
        np.array([emitter.flux for emitter in emitters]),
        spectra,
    )


def shape_of(emitter: Emitter) -> FloatArray:
    """Return the typical spectrum (471,) that a profile tells for an emitter, 360–830 nm by 1 nm."""
    return bells((bell.peak_nm, bell.fwhm_nm, bell.share) for bell in emitter.spectrum)


def has_spectra(emitters: Sequence[Emitter]) -> bool:
    """Whether every emitter tells its spectrum, which *truest* needs."""
    return all(emitter.spectrum for emitter in emitters)


class Blend:
    """Some emitters of a profile under one way of mixing: the drives each colour takes, the light it gives.

    With ``even`` the drives are turned down so that every white from ``low_k`` to ``high_k`` gives the light
    of the weakest of them; colours that cannot give even that stay as bright as they can. *truest* without
    the spectra of all emitters is *brightest*: ``truest`` tells which it is.
    """

    def __init__(
        self,
        profile: Profile,
        names: Sequence[str],
        mixing: str = "brightest",
        even: bool = False,
        low_k: float = EVEN_LOW_K,
        high_k: float = EVEN_HIGH_K,
    ) -> None:
        self.names = tuple(names)
        self.mixer = mixer_of(profile, self.names)
        self.truest = mixing == "truest" and has_spectra([profile.emitters[name] for name in self.names])
        if self.truest:
            self.mixer.truest(white_to_uv76_fast([250.0], [0.0]))  # made ready here, not in the first tick
        self._even_light = self._weakest(low_k, high_k) if even else None

    def solve(self, uv: FloatArray, dim: FloatArray) -> Blended:
        """Return what the colours ``uv`` (k, 2), CIE 1976, take and give at full level.

        ``dim`` (k,) is the share of its light to which even output must turn each white down because of what
        a meter read; with even output off it has no effect.
        """
        mix = self._mix(uv)
        if self._even_light is None:
            return Blended(mix.drives, mix.light, mix.reached)
        turned = self.turned(mix.light, dim)
        return Blended(mix.drives * turned[:, None], mix.light * turned, mix.reached)

    def full_light(self, uv: FloatArray) -> FloatArray:
        """Return the light that the colours give with even output off, (k,)."""
        return self._mix(uv).light

    def turned(self, full_light: FloatArray, dim: FloatArray) -> FloatArray:
        """Return the share of ``full_light`` (k,) that even output leaves; 1 with even output off."""
        if self._even_light is None:
            return np.ones_like(full_light)
        share = self._even_light * dim / np.maximum(full_light, 1e-9)
        return np.asarray(np.minimum(share, 1.0), dtype=np.float64)

    def _mix(self, uv: FloatArray) -> Mix:
        return self.mixer.truest(uv) if self.truest else self.mixer.brightest(uv)

    def _weakest(self, low_k: float, high_k: float) -> float:
        if not self.truest:
            return self.mixer.even_light(low_k, high_k)
        mired = np.linspace(1e6 / high_k, 1e6 / low_k, 65)
        return float(self._mix(white_to_uv76_fast(mired, 0.0)).light.min())
