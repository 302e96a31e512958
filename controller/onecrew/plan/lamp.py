"""Lamp: a fixture with what it gives now, as far as its profile tells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from onecrew.colour.locus_table import uv76_to_white_fast, white_to_uv76_fast
from onecrew.colour.spaces import uv76_to_xy, xy_to_uv76
from onecrew.fixtures.mode_encoders import mode_encoder
from onecrew.fixtures.modes import ModeEncoder
from onecrew.playback.measured import measured_profile
from onecrew.show.photometry import Photometry
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture

FIGURES = ("lux_at_1m", "lumens", "candela")


@dataclass(frozen=True, slots=True)
class Lamp:
    """One lamp of the rig for a forecast."""

    fixture: Fixture
    output: float
    """Fraction of the full light of its colour, 0–1."""
    gives: Photometry
    """What it gives at full in that colour; no white is named in it."""
    known: bool
    """False where neither profile nor meter tells: ``gives`` is then a guess from the flux figures."""


def photometry_now(fixture: Fixture, profile: Profile, xy: tuple[float, float]) -> Photometry | None:
    """What a fixture gives at full in the colour ``xy`` (CIE 1931); None without photometry or mode.

    A profile states its figure for a white, or a few; between them and for other colours the fixture's own
    mixing tells how much more or less light that colour has.
    """
    profile = measured_profile(fixture, profile)
    mode = profile.mode(fixture.mode)
    if profile.photometry is None or mode is None:
        return None
    encoder = mode_encoder(profile, mode, fixture.mixing, fixture.even)
    uv = xy_to_uv76(np.array([xy]))
    full = encoder.full_light(uv)
    light = float((full * encoder.turned(full, np.ones(1)))[0])
    return _at(profile.photometry, encoder, float(uv76_to_white_fast(uv)[0][0]), light)


def photometry_at_white(fixture: Fixture, profile: Profile, cct_k: float | None) -> Photometry | None:
    """The same for a white told in kelvin; None means whatever gives most light."""
    profile = measured_profile(fixture, profile)
    mode = profile.mode(fixture.mode)
    if profile.photometry is None or mode is None:
        return None
    if cct_k is None:
        encoder = mode_encoder(profile, mode, fixture.mixing, False)
        white = profile.photometry.cct_k
        return _at(profile.photometry, encoder, 1e6 / white if white is not None else 200.0, 1.0)
    x, y = uv76_to_xy(white_to_uv76_fast([1e6 / cct_k], [0.0]))[0]
    return photometry_now(fixture, profile, (float(x), float(y)))


def guessed(profile: Profile | None) -> Photometry:
    """A stand-in for missing photometry: the profile's flux figures as if they were lumens, all around."""
    flux = sum(emitter.flux for emitter in profile.emitters.values()) if profile is not None else 1.0
    return Photometry(lumens=flux, width_m=0.2, height_m=0.2)


def lamp_of(fixture: Fixture, profile: Profile | None, output: float, xy: tuple[float, float]) -> Lamp:
    """The lamp with what its profile says of it, or with what a meter read in its place."""
    gives = photometry_now(fixture, profile, xy) if profile is not None else None
    shape = gives or guessed(profile)
    if fixture.meter is None:
        return Lamp(fixture, output, shape, gives is not None)
    then = photometry_at_white(fixture, profile, fixture.meter.cct_k) if profile is not None else None
    share = _figure(shape) / _figure(then) if then is not None else 1.0
    figures = {"lumens": None, "candela": None, "lux_at_1m": fixture.meter.lux_at_1m * share}
    return Lamp(fixture, output, shape.model_copy(update=figures), True)


def _figure(gives: Photometry) -> float:
    return gives.lux_at_1m or gives.lumens or gives.candela or 1.0


def _at(stated: Photometry, encoder: ModeEncoder, mired: float, light: float) -> Photometry:
    """The photometry whose figure is that of ``light``, a share of the fixture's most, near a white."""
    [name] = [name for name in FIGURES if getattr(stated, name) is not None]
    points = [(stated.cct_k, getattr(stated, name)), *stated.whites]
    whites = np.array([1e6 / cct_k for cct_k, _ in points if cct_k is not None])
    most = float(points[0][1])
    if len(whites):
        shares = encoder.full_light(white_to_uv76_fast(whites, np.zeros(len(whites))))
        figures = np.array([figure for _, figure in points]) / np.maximum(shares, 1e-6)
        order = np.argsort(whites)
        most = float(np.interp(mired, whites[order], figures[order]))
    return stated.model_copy(update={name: max(most * light, 1e-9), "cct_k": None, "whites": ()})


def lamp_at_full(fixture: Fixture, profile: Profile | None, cct_k: float) -> Lamp:
    """The lamp at full, at the white of its photometry, else at ``cct_k``."""
    stated = profile.photometry if profile is not None else None
    white = stated.cct_k if stated is not None and stated.cct_k is not None else cct_k
    x, y = uv76_to_xy(white_to_uv76_fast([1e6 / white], [0.0]))[0]
    return lamp_of(fixture, profile, 1.0, (float(x), float(y)))
