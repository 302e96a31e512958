"""Measured profile: a fixture's kind with the emitters that a meter found in this one lamp.

Each emitter was read alone at full, and maybe darker. From the readings at full come its chromaticity and its
share of the light; from the darker ones, against what the dimming law promises, one response for the whole
lamp: the mean over its emitters at each level, straight in log light over log level between the levels that
were read, held below the darkest. What is within ``SAME_LIGHT`` of the law is the law.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.playback.laws import laws_of
from onecrew.show.profile import Profile
from onecrew.show.show import EmitterReading, Fixture

SAME_LIGHT = 0.02
"""Relative difference of light that no response is made of: what a meter's own steps hide (own choice)."""
_LEVELS = np.concatenate((np.geomspace(1e-3, 1.0, 97), np.linspace(0.0, 1.0, 65)))
"""Close enough that straight lines between them are within 0.2 % of every law."""
_LEAST_RISE = 1e-9


def measured_profile(fixture: Fixture, profile: Profile) -> Profile:
    """Return the profile as it is for this lamp: the same where no emitter of it was read.

    Readings of emitters that the profile does not have count for nothing.
    """
    full = {one.emitter: one for one in at_full(fixture.emitter_readings) if one.emitter in profile.emitters}
    if not full:
        return profile
    share = sum(profile.emitters[name].flux for name in full) / sum(one.light for one in full.values())
    emitters = {
        name: emitter
        if name not in full
        else emitter.model_copy(update={"xy": full[name].xy, "flux": full[name].light * share})
        for name, emitter in profile.emitters.items()
    }
    return profile.model_copy(update={"emitters": emitters, **_dimming(profile, fixture, full)})


def at_full(readings: Sequence[EmitterReading]) -> list[EmitterReading]:
    """Return the readings at full level."""
    return [one for one in readings if one.level == 1.0]


def response(fixture: Fixture, profile: Profile) -> dict[float, dict[str, float]]:
    """Return by level below full, falling, and emitter: log of its light against what the law promises."""
    full = {one.emitter: one.light for one in at_full(fixture.emitter_readings)}
    found: dict[float, dict[str, float]] = {}
    darker = [one for one in fixture.emitter_readings if one.level < 1.0 and one.emitter in full]
    for one in sorted(darker, key=lambda one: -one.level):
        promised = float(_law(profile, np.array([one.level]))[0])
        off = float(np.log(one.light / full[one.emitter] / max(promised, 1e-9)))
        found.setdefault(one.level, {})[one.emitter] = off
    return found


def _dimming(profile: Profile, fixture: Fixture, full: Mapping[str, EmitterReading]) -> dict[str, object]:
    """The fields of a profile that say how it dims, where that is not as it says itself."""
    means = [
        (level, float(np.mean([by[name] for name in by if name in full] or [0.0])))
        for level, by in response(fixture, profile).items()
    ]
    if all(abs(off) <= SAME_LIGHT for _, off in means):
        return {}
    known = [(0.0, 0.0), *((float(np.log(level)), off) for level, off in means)]
    logs, offs = np.array(known[::-1]).T
    levels = np.unique(np.concatenate((_LEVELS, [level for level, _ in means])))
    output = _law(profile, levels)
    output[1:] *= np.exp(np.interp(np.log(levels[1:]), logs, offs))
    rising = np.maximum.accumulate(output) + _LEAST_RISE * np.arange(len(output))
    rising[0], rising[-1] = 0.0, 1.0
    kept = [0, *(i for i in range(1, len(rising) - 1) if rising[i] < 1.0 - _LEAST_RISE), len(rising) - 1]
    table = tuple((float(levels[i]), float(rising[i])) for i in kept)
    return {"dimming": "table", "dimming_table": table}


def _law(profile: Profile, levels: FloatArray) -> FloatArray:
    return laws_of([profile] * len(levels)).output(levels)
