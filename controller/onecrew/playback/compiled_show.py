"""Compiled show: a show made ready to play — its lamps in rig order, its cues in order of their numbers."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.errors import Refused
from onecrew.language.names import cues_elsewhere
from onecrew.playback.effects import Effects, effects_of
from onecrew.playback.laws import Laws, laws_of
from onecrew.playback.lights import Lights, lights_of, natural_lights
from onecrew.playback.measured import measured_profile
from onecrew.show.base import cue_order
from onecrew.show.light import Light
from onecrew.show.profile import Mode, Profile
from onecrew.show.show import Cue, Show

DARK = Light(level=0.0)
"""The light of a lamp that a look does not name."""


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """Light, colour and effect for all n lamps: as a document says it, and as arrays."""

    asked: tuple[Light, ...]
    lights: Lights
    effects: Effects


@dataclass(frozen=True, slots=True, eq=False)
class CompiledShow:
    """What playback needs of a show. Made by ``compile_show``; a changed show gets a new one."""

    ids: tuple[str, ...]
    """Fixture ids in rig order, the order of every array."""
    index: Mapping[str, int]
    cues: tuple[Cue, ...]
    """In the order of their numbers."""
    laws: Laws
    natural: Lights
    """Every lamp at level 0, in the colour it has when a light names none."""
    camera_white_k: float
    """The camera's white balance, around which hues lie."""
    elsewhere: Mapping[str, str]
    """By number: cues of the other scenes, and which scene that is."""
    _orders: tuple[tuple[int, int], ...]
    _compiled: dict[str, Target] = field(default_factory=dict)

    def cue(self, number: str | None) -> Cue | None:
        """Return the cue with this number, compared by ``cue_order``; there is none for None."""
        if number is None:
            return None
        at = bisect_left(self._orders, cue_order(number))
        return self.cues[at] if at < len(self.cues) and self._orders[at] == cue_order(number) else None

    def after(self, number: str | None) -> Cue | None:
        """Return the first cue after this number, the first of all for None."""
        at = 0 if number is None else bisect_right(self._orders, cue_order(number))
        return self.cues[at] if at < len(self.cues) else None

    def before(self, number: str) -> Cue | None:
        """Return the last cue before this number."""
        at = bisect_left(self._orders, cue_order(number))
        return self.cues[at - 1] if at else None

    def target(self, cue: Cue) -> Target:
        """Return a cue's look for every lamp; worked out once."""
        found = self._compiled.get(cue.number)
        if found is None:
            asked = tuple(cue.look.get(name, DARK) for name in self.ids)
            found = Target(asked, lights_of(asked, self.natural), effects_of(asked))
            self._compiled[cue.number] = found
        return found

    def lamps(self, names: Sequence[str]) -> list[int]:
        """Return the places of these fixtures in rig order, each once; Refused for an unknown one."""
        unknown = [name for name in names if name not in self.index]
        if unknown:
            have = ", ".join(self.ids) or "none yet"
            raise Refused(f"there is no fixture {unknown[0]} in this show; it has {have}")
        return sorted({self.index[name] for name in names})


def compile_show(show: Show, profiles: Mapping[str, Profile]) -> CompiledShow:
    """Return a show made ready whose fixtures all have a known profile and mode (see ``show.check``)."""
    fixtures = show.rig.fixtures
    used = [measured_profile(fixture, profiles[fixture.profile]) for fixture in fixtures]
    natures = [_nature(profile, profile.mode(f.mode)) for profile, f in zip(used, fixtures, strict=True)]
    cues = tuple(sorted(show.cues, key=lambda cue: cue_order(cue.number)))
    return CompiledShow(
        ids=tuple(fixture.id for fixture in fixtures),
        index={fixture.id: place for place, fixture in enumerate(fixtures)},
        cues=cues,
        laws=laws_of(used),
        natural=natural_lights(
            np.array([xy for xy, _ in natures], dtype=np.float64).reshape(-1, 2),
            np.array([on_locus for _, on_locus in natures], dtype=np.bool_),
        ),
        camera_white_k=show.camera.white_balance_k,
        elsewhere=cues_elsewhere(show),
        _orders=tuple(cue_order(cue.number) for cue in cues),
    )


def _nature(profile: Profile, mode: Mode | None) -> tuple[tuple[float, float], bool]:
    """The CIE 1931 chromaticity a lamp has by nature, and whether to move it onto the Planckian locus.

    With up to two emitters it is the light of all of them together, as it is. With more, which can mix any
    white, it is the white nearest to that. A mode with a CCT channel takes the white nearest to its
    emitters' light too.
    """
    names = mode.emitters if mode is not None and mode.emitters else tuple(profile.emitters)
    x, y = _together([(profile.emitters[name].xy, profile.emitters[name].flux) for name in names])
    steered = len(names) > 2 or (mode is not None and mode.cct is not None)
    return (x, y), steered


def _together(lights: Sequence[tuple[tuple[float, float], float]]) -> tuple[float, float]:
    """Chromaticity of lights mixed: the mean of xy weighted by flux / y (CIE 15:2004, additive mixture)."""
    weights: FloatArray = np.array([flux / xy[1] for xy, flux in lights])
    x, y = (weights @ np.array([xy for xy, _ in lights]) / weights.sum()).tolist()
    return x, y
