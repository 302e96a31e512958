"""A small stage for the playback tests: invented lamps of every dimming law, cues made on the spot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.commands.command import PlaybackCommand
from onecrew.playback.compiled_show import CompiledShow, compile_show
from onecrew.playback.events import advance, apply
from onecrew.playback.lights import Frame
from onecrew.playback.render import moving, render
from onecrew.playback.state import Playback, begin
from onecrew.show.profile import Profile
from onecrew.show.show import Show

TABLE = ((0.0, 0.0), (0.2, 0.01), (0.6, 0.3), (1.0, 1.0))
_SIX = {
    "red": {"xy": [0.69, 0.308], "flux": 1.0},
    "lime": {"xy": [0.41, 0.55], "flux": 2.0},
    "blue": {"xy": [0.14, 0.05], "flux": 0.3},
}


def profile(law: str) -> Profile:
    """An invented three-emitter lamp that dims by ``law``."""
    return Profile.model_validate(
        {
            "id": law,
            "name": f"Invented lamp, {law} law",
            "dimming": law,
            "dimming_table": TABLE if law == "table" else (),
            "emitters": _SIX,
            "modes": [{"name": "m", "channels": [{"emitter": name, "bits": 16} for name in _SIX]}],
        }
    )


PROFILES = {law: profile(law) for law in ("linear", "square", "log", "table")}


def show_of(fixtures: Mapping[str, str], cues: Sequence[Mapping[str, Any]]) -> Show:
    """A show of fixtures (id → law) and cues in their document form."""
    rig = [
        {
            "id": name,
            "profile": law,
            "mode": "m",
            "universe": 1 + place // 80,
            "address": 1 + 6 * (place % 80),
            "role": "key",
        }
        for place, (name, law) in enumerate(fixtures.items())
    ]
    return Show.model_validate({"name": "Stage", "rig": {"fixtures": rig}, "cues": list(cues)})


@dataclass
class Stage:
    """A playback with its compiled: commands and frames in one line each. ``now`` is whatever a test says."""

    compiled: CompiledShow
    playback: Playback
    show: Show
    commands: list[tuple[float, PlaybackCommand]] = field(default_factory=list)

    def do(self, now: float, *commands: PlaybackCommand) -> Stage:
        for command in commands:
            self.playback = apply(self.playback, command, now, self.compiled)
            self.commands.append((now, command))
        return self

    def frame(self, now: float) -> Frame:
        self.playback = advance(self.playback, now, self.compiled)
        return render(self.playback, now, self.compiled)

    def level(self, now: float, lamp: str) -> float:
        return float(self.frame(now).level[self.compiled.index[lamp]])

    def levels(self, times: Iterable[float]) -> FloatArray:
        return np.array([self.frame(now).level for now in times])

    def outputs(self, times: Iterable[float]) -> FloatArray:
        return np.array([self.compiled.laws.output(self.frame(now).level) for now in times])

    def moving(self, now: float) -> bool:
        return moving(self.playback, now)


def stage(
    fixtures: Mapping[str, str] | Sequence[str], cues: Sequence[Mapping[str, Any]], now: float = 0.0
) -> Stage:
    """A stage just opened at ``now``; fixtures given by name alone dim linearly."""
    if not isinstance(fixtures, Mapping):
        fixtures = dict.fromkeys(fixtures, "linear")
    show = show_of(fixtures, cues)
    compiled = compile_show(show, PROFILES)
    return Stage(compiled, begin(compiled, now), show)


def cue(number: str, look: Mapping[str, Any] | None = None, **fields: Any) -> dict[str, Any]:
    """A cue's document; a look may give a bare level instead of a light."""
    lights = {
        name: light if isinstance(light, Mapping) else {"level": light}
        for name, light in (look or {}).items()
    }
    return {"number": number, "fade": {"in_s": 2.0, "out_s": 2.0}, "look": lights, **fields}


def same_frame(one: Frame, other: Frame) -> bool:
    """Whether two frames agree bit for bit."""
    return all(
        np.array_equal(getattr(one, name), getattr(other, name))
        for name in ("level", "white", "mired", "duv", "u", "v")
    )
