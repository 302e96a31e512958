"""Flicker: the shutter against light that pulses, on the mains or by its own dimming.

Light on the mains pulses at twice its frequency. A shutter that holds a whole number of pulses gets the same
light in every frame and on every line of a rolling shutter; one that does not may pulse or show bands. By how
much depends on the lamp; the figures here are the worst of it: for mains a lamp that goes dark in every pulse
(raised cosine), log₂((1 + s)/(1 − s)) with s = |sinc(f t)|; for pulse-width dimming n or n + 1 pulses in a
frame, log₂((n + 1)/n). The rule of whole pulses is common practice; the figures are own arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from onecrew.language.saying import figure
from onecrew.plan.exposure import shutter_s_of
from onecrew.show.profile import Profile
from onecrew.show.show import Camera, Fixture

WHOLE = 0.02
"""A shutter this near to a whole number of pulses counts as whole."""
SEEN_STOPS = 0.05
"""Pulsing below this is not worth a word. Common practice, no source."""
MAINS_HZ = (50, 60)


@dataclass(frozen=True, slots=True)
class Pulsing:
    """One kind of pulsing light against the shutter."""

    what: str
    """'50 Hz mains', or the lamp."""
    per_s: float
    """Pulses in a second."""
    pulses: float
    """Pulses in one exposure."""
    whole: bool
    swing_stops: float
    """By how much frames may differ at worst, peak to peak; inf where a frame may hold no pulse at all."""
    safe_s: tuple[float, ...]
    """The nearest exposure times of whole pulses, shorter and longer, within a frame."""


def on_mains(camera: Camera, mains_hz: float) -> Pulsing:
    """Light that pulses at twice the mains frequency.

    >>> [round(360 * 24 * time, 1) for time in on_mains(Camera(fps=24, shutter_deg=180), 50).safe_s]
    [172.8, 259.2]
    """
    time, rate = shutter_s_of(camera), 2.0 * mains_hz
    pulses = time * rate
    part = math.pi * pulses
    depth = abs(math.sin(part) / part)
    swing = math.log2((1.0 + depth) / (1.0 - depth)) if depth < 1.0 else math.inf
    return _pulsing(f"{mains_hz:g} Hz mains", rate, pulses, swing, camera)


def dimmed_by_pulses(camera: Camera, name: str, pwm_hz: float) -> Pulsing:
    """A lamp whose dimming switches ``pwm_hz`` times a second."""
    pulses = shutter_s_of(camera) * pwm_hz
    least = math.floor(pulses + WHOLE / 2)
    return _pulsing(name, pwm_hz, pulses, math.log2((least + 1) / least) if least else math.inf, camera)


def _pulsing(what: str, rate: float, pulses: float, swing: float, camera: Camera) -> Pulsing:
    whole = pulses > 0.5 and abs(pulses - round(pulses)) <= WHOLE
    near = {math.floor(pulses), math.ceil(pulses)}
    if pulses < 1.0:
        near = {1}
    safe = tuple(n / rate for n in sorted(near) if n >= 1 and n / rate <= 1.0 / camera.fps + 1e-9)
    return Pulsing(what, rate, pulses, whole, 0.0 if whole else swing, () if whole else safe)


def advice(
    camera: Camera,
    fixtures: Sequence[Fixture],
    profiles: Mapping[str, Profile],
    mains_hz: float | None = None,
) -> Iterator[str]:
    """What to mind about the shutter, one sentence each; nothing where all is whole or not seen.

    Mains count where a practical is in the rig: what is in it is not known. Without ``mains_hz``, 50 and 60.
    """
    practicals = [fixture.id for fixture in fixtures if fixture.role == "practical"]
    if practicals:
        for hz in MAINS_HZ if mains_hz is None else (mains_hz,):
            found = on_mains(camera, hz)
            if found.swing_stops > SEEN_STOPS:
                bulbs = ", ".join(practicals)
                yield f"{_sentence(found, camera)} That is for {bulbs}, if they pulse with the mains."
    for fixture in fixtures:
        profile, pwm_hz = profiles.get(fixture.profile), fixture.pwm_hz
        if pwm_hz is None and profile is not None and profile.photometry is not None:
            pwm_hz = profile.photometry.pwm_hz
        if pwm_hz is not None:
            found = dimmed_by_pulses(camera, fixture.id, pwm_hz)
            if found.swing_stops > SEEN_STOPS:
                yield _sentence(found, camera)


def shutter_words(camera: Camera) -> str:
    """'1/50 s: whole pulses on 50 Hz mains, 2.4 on 60 Hz' for a sheet."""
    said = []
    for hz in MAINS_HZ:
        found = on_mains(camera, hz)
        if found.whole:
            said.append(f"{found.pulses:.0f} whole pulses on {hz} Hz mains")
        else:
            worst = (
                "may miss light" if math.isinf(found.swing_stops) else f"up to {found.swing_stops:.2g} stop"
            )
            said.append(f"{figure(found.pulses)} pulses on {hz} Hz ({worst})")
    return f"{', '.join(said)}; common practice"


def _sentence(found: Pulsing, camera: Camera) -> str:
    worst = (
        "a frame may hold no light at all"
        if math.isinf(found.swing_stops)
        else (f"frames may differ by up to {found.swing_stops:.2g} stop or show bands")
    )
    safe = " or ".join(f"{time_words(time)} ({360 * time * camera.fps:.4g}°)" for time in found.safe_s)
    fix = f"whole pulses are {safe}" if safe else "no shutter within a frame holds whole pulses"
    return (
        f"Flicker: {time_words(shutter_s_of(camera))} holds {figure(found.pulses, 4)} pulses of {found.what} "
        f"({found.per_s:g} a second): {worst}; {fix} (common practice; film a test)."
    )


def time_words(time_s: float) -> str:
    """An exposure time as '1/50 s' or '0.5 s'."""
    return f"1/{1 / time_s:.4g} s" if time_s < 0.5 else f"{time_s:g} s"
