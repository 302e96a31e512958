"""Edits: lamps changed by hand on top of the cue — set, revert, compare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from onecrew.commands.models import Compare, Revert, SetLight
from onecrew.errors import Refused
from onecrew.playback.base import showing
from onecrew.playback.effects import Effects, effects_of
from onecrew.playback.frame import BoolArray
from onecrew.playback.lights import Lights, light_at, lights_of
from onecrew.playback.move import Times, Touch, is_guarded, move
from onecrew.playback.nudge import changed
from onecrew.playback.score import Score, Target
from onecrew.playback.state import INCOMING, Playback
from onecrew.show.light import Light
from onecrew.show.show import Cue

SHORT_FADE_S = 0.25
"""Revert and compare: short enough to see the difference, long enough not to startle who stands in it."""


def set_light(playback: Playback, score: Score, command: SetLight, now: float) -> Playback:
    """Return the playback with some lamps changed; absolute values first, then relative ones.

    What the command does not name keeps moving as it does. A relative value counts from where the lamp is:
    from what shows where a cue is still fading, from its goal where a hand is already moving it.
    """
    lamps = score.lamps(command.fixtures)
    if playback.aside is not None:
        playback = _show(playback, score, playback.aside, now, SHORT_FADE_S)
    before = here_or_goal(playback, score, lamps, now)
    after = changed(before, lamps, command, score)
    level = any(field is not None for field in (command.level, command.level_by, command.stops_by))
    colour = [
        (light.white, light.xy) != (old.white, old.xy) for light, old in zip(after, before, strict=True)
    ]
    asked = list(playback.asked)
    for lamp, light, recoloured in zip(lamps, after, colour, strict=True):
        was = asked[lamp]
        # A lamp caught on its way to black is not in the colour of the black look: it keeps what it shows.
        tone = light if recoloured or (level and was.level == 0.0) else was
        asked[lamp] = Light(
            level=light.level if level else was.level, white=tone.white, xy=tone.xy, effect=light.effect
        )
    marked = playback.marked.copy()
    marked[lamps] = True
    playback = replace(playback, marked=marked)
    every = np.zeros(len(score.ids), dtype=np.bool_)
    every[lamps] = True
    black = playback.movement.goal.level == 0.0
    tinted = np.zeros(len(score.ids), dtype=np.bool_)
    tinted[lamps] = colour
    touch = Touch(
        level=every if level else np.zeros_like(every),
        colour=(tinted | black) & every,
        effect=every if command.effect is not None else np.zeros_like(every),
    )
    # A hand on a level is obeyed at once, whatever the flash guard would say to it.
    return _send(playback, score, now, asked, lamps, touch, command.fade_s, urgent=True)


def revert(playback: Playback, score: Score, command: Revert, now: float) -> Playback:
    """Return the playback with edits dropped: all, or those of the named fixtures."""
    cue = current(playback, score, "revert to")
    if playback.aside is not None:
        playback = _show(playback, score, playback.aside, now, SHORT_FADE_S)
    lamps = score.lamps(command.fixtures) if command.fixtures else list(range(len(score.ids)))
    stored = score.target(cue).asked
    asked = list(playback.asked)
    for lamp in lamps:
        asked[lamp] = stored[lamp]
    marked = playback.marked.copy()
    marked[lamps] = False
    return _show(replace(playback, marked=marked), score, asked, now, SHORT_FADE_S)


def compare(playback: Playback, score: Score, command: Compare, now: float) -> Playback:
    """Return the playback that shows the stored look of the current cue, or the edited one again."""
    on = not playback.comparing if command.on is None else command.on
    if on == playback.comparing:
        return playback
    if playback.aside is not None:
        return _show(replace(playback, aside=None), score, playback.aside, now, SHORT_FADE_S)
    stored = score.target(current(playback, score, "compare with")).asked
    edited = playback.asked
    shown = [stored[i] if playback.marked[i] else light for i, light in enumerate(edited)]
    return replace(_show(playback, score, shown, now, SHORT_FADE_S), aside=edited)


def current(playback: Playback, score: Score, purpose: str) -> Cue:
    """Return the current cue; Refused if there is none."""
    cue = score.cue(playback.cue) if playback.cue is not None else None
    if cue is None:
        raise Refused(f"no cue is showing, so there is no look to {purpose}: recall one first")
    return cue


def here_or_goal(playback: Playback, score: Score, lamps: Sequence[int], now: float) -> list[Light]:
    """Return the light of these lamps as asked where they are there or moved by hand, else as it shows."""
    time = playback.show_time(now)
    if time >= playback.movement.settled_at:
        return [playback.asked[lamp] for lamp in lamps]
    moving: BoolArray = (playback.movement.end > time).any(axis=0) & ~playback.marked
    here = showing(playback.movement, time, score)
    return [
        light_at(here, lamp, playback.asked[lamp].effect) if moving[lamp] else playback.asked[lamp]
        for lamp in lamps
    ]


def _show(playback: Playback, score: Score, asked: Sequence[Light], now: float, fade_s: float) -> Playback:
    """Send the lamps whose light differs from what is asked of them now; at once while the show is held."""
    fade_s = 0.0 if playback.held else fade_s
    playback = replace(playback, aside=None)
    lamps = [i for i, (new, old) in enumerate(zip(asked, playback.asked, strict=True)) if new != old]
    every = np.zeros(len(score.ids), dtype=np.bool_)
    every[lamps] = True
    return _send(playback, score, now, asked, lamps, Touch(every, every, every), fade_s)


def _send(
    playback: Playback,
    score: Score,
    now: float,
    asked: Sequence[Light],
    lamps: Sequence[int],
    touch: Touch,
    fade_s: float,
    *,
    urgent: bool = False,
) -> Playback:
    goal, voices = playback.movement.goal, playback.voices
    lights = Lights(goal.level.copy(), goal.white.copy(), goal.colour.copy())
    effects = Effects(
        voices.kind[INCOMING].copy(),
        voices.rate[INCOMING].copy(),
        voices.depth[INCOMING].copy(),
        voices.seed[INCOMING].copy(),
    )
    if lamps:
        new = lights_of([asked[lamp] for lamp in lamps], score.natural.take(lamps))
        lights.level[lamps], lights.white[lamps] = new.level, new.white
        lights.colour[:, lamps] = new.colour
        heard = effects_of([asked[lamp] for lamp in lamps])
        for field in ("kind", "rate", "depth", "seed"):
            getattr(effects, field)[lamps] = getattr(heard, field)
    return move(
        playback,
        score,
        now,
        Target(tuple(asked), lights, effects),
        touch,
        Times(fade_s, fade_s),
        guarded=is_guarded(playback, score),
        urgent=urgent,
    )
