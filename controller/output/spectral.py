"""Spectral: the spectrum that a fixture's mix has by its profile, and what the truest mix costs in light.

A profile's spectra are typical shapes, not a measurement of the lamp on the stand: so is what follows from
them.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from controller.colour.rendition import NeedsSpectralExtra, Rendition, rendition
from controller.colour.spaces import xy_to_uv76
from controller.colour.spectra import at_unit_light
from controller.documents.profile import Mode, Profile
from controller.errors import Mistake
from controller.output.dimming import FloatArray
from controller.output.emitters import has_spectra, mixer_of, shape_of

TYPICAL = "by the profile's spectra, which are typical and not measured: a guide, not a meter reading"


def spectrum_of(profile: Profile, mode: Mode, drives: Mapping[str, float]) -> FloatArray:
    """Return the relative spectral power (471,), 360–830 nm by 1 nm, of emitters driven by ``drives`` 0–1.

    Every emitter counts with its flux. Raises ``Mistake`` with the reason where the spectrum is not known:
    the profile gives none for an emitter, the fixture mixes its emitters by itself, or nothing is driven.
    """
    if mode.cct is not None:
        raise Mistake(f"{profile.id}/{mode.name} mixes its whites by itself, so their spectrum is not known")
    lit = {name: drive for name, drive in drives.items() if drive > 0.0}
    blank = [name for name in lit if not profile.emitters[name].spectrum]
    if blank:
        raise Mistake(f"the profile {profile.id} gives no spectrum for {', '.join(blank)}")
    if not lit:
        raise Mistake("nothing is driven, so there is no spectrum")
    flux = np.array([profile.emitters[name].flux * drive for name, drive in lit.items()])
    power = np.array([shape_of(profile.emitters[name]) for name in lit])
    return np.asarray(flux @ at_unit_light(power), dtype=np.float64)


def rendition_of(profile: Profile, mode: Mode, drives: Mapping[str, float]) -> tuple[Rendition | None, str]:
    """Return how surfaces fare under emitters driven by ``drives``, and a sentence about it.

    The sentence says how far to trust the figures, or why there are none. The first call loads
    colour-science, which takes about a second.
    """
    try:
        return rendition(spectrum_of(profile, mode, drives)), TYPICAL
    except (Mistake, NeedsSpectralExtra) as reason:
        return None, str(reason)
    except ValueError:
        return None, "this light is no white, so there is nothing to compare it with"


def truest_stops(profile: Profile, mode: Mode, xy: tuple[float, float]) -> float | None:
    """Return the stops of light that the truest mix of a CIE 1931 chromaticity costs against the brightest.

    At least 0; None where a mode has no emitters to mix, or not the spectra of all.
    """
    if not mode.emitters or not has_spectra([profile.emitters[name] for name in mode.emitters]):
        return None
    return float(mixer_of(profile, mode.emitters).stops_lost(xy_to_uv76([xy]))[0])
