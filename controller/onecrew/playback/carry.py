"""Carry: keep playing while the show under it is edited."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np

from onecrew.playback.curves import STOPS
from onecrew.playback.frame import AnyArray
from onecrew.playback.glide import Glide
from onecrew.playback.lights import Lights
from onecrew.playback.move import stop_places
from onecrew.playback.score import DARK, Score
from onecrew.playback.state import LONG_AGO, Movement, Playback, Voices, voices_of
from onecrew.playback.watch import Watch


def carry(playback: Playback, old: Score, new: Score, now: float) -> Playback:
    """Return the playback on the edited show, with the light of ``now`` (real s) as it was.

    Fixtures keep their light wherever they stand in the rig now; new ones are black, removed ones gone. An
    edited cue changes nothing before it is run again. What was edited by hand and is stored now counts as
    stored.
    """
    del now  # nothing here depends on the moment; everything keeps its times
    playback = playback if new.ids == old.ids else _reordered(playback, old, new)
    playback = replace(playback, movement=_by_law(playback.movement, new))
    cue = new.cue(playback.cue) if playback.cue is not None else None
    marked = playback.marked
    if cue is not None:
        stored = new.target(cue).asked
        asked = playback.asked if playback.aside is None else playback.aside
        marked = marked & np.array([a != b for a, b in zip(asked, stored, strict=True)], dtype=np.bool_)
    after = new.after(playback.cue)
    waiting = playback.waiting
    return replace(
        playback,
        marked=marked,
        next=after.number if after else None,
        waiting=waiting if waiting is not None and new.cue(waiting.cue) is not None else None,
    )


def _by_law(movement: Movement, score: Score) -> Movement:
    """The movement with its stops reckoned by the laws the lamps have now."""
    if not (movement.curve == STOPS).any():
        return movement
    return replace(movement, stops=stop_places(movement.start.level, movement.goal.level, score))


def _reordered(playback: Playback, old: Score, new: Score) -> Playback:
    source = np.array([old.index.get(name, -1) for name in new.ids], dtype=np.int64)
    known = source >= 0

    def pick(values: AnyArray, default: float | bool = 0.0) -> AnyArray:
        """The values of the lamps in their new places, along the last axis."""
        picked = np.full((*values.shape[:-1], len(source)), default, dtype=values.dtype)
        picked[..., known] = values[..., source[known]]
        return picked

    def lights(values: Lights) -> Lights:
        colour, white = pick(values.colour), pick(values.white, False)
        colour[:, ~known] = new.natural.colour[:, ~known]
        white[~known] = new.natural.white[~known]
        return Lights(pick(values.level), white, colour)

    movement = playback.movement
    goal = lights(movement.goal)
    asked = tuple(playback.asked[i] if i >= 0 else DARK for i in source.tolist())
    aside = playback.aside
    here = set(new.ids)
    return replace(
        playback,
        ids=new.ids,
        movement=Movement(
            start=lights(movement.start),
            goal=goal,
            begin=pick(movement.begin, LONG_AGO),
            end=pick(movement.end, LONG_AGO),
            curve=pick(movement.curve),
            stops=pick(movement.stops),
            by_white=np.where(known, pick(movement.by_white, False), goal.white),
            settled_at=movement.settled_at,
        ),
        voices=_voices(playback.voices, pick),
        asked=asked,
        marked=pick(playback.marked, False),
        shown=_glide(playback.shown, pick, 0.0 if playback.solo else 1.0),
        breath=_glide(playback.breath, pick, 0.0),
        solo=tuple(name for name in playback.solo if name in here),
        without=tuple(name for name in playback.without if name in here),
        identify=tuple(name for name in playback.identify if name in here),
        aside=None if aside is None else tuple(aside[i] if i >= 0 else DARK for i in source.tolist()),
        watch=_watch(playback.watch, pick),
    )


def _voices(voices: Voices, pick: Callable[..., AnyArray]) -> Voices:
    made = ("live", "silent")
    return voices_of(**{f.name: pick(getattr(voices, f.name)) for f in fields(voices) if f.name not in made})


def _glide(glide: Glide, pick: Callable[..., AnyArray], default: float) -> Glide:
    return Glide(
        pick(glide.start, default),
        pick(glide.goal, default),
        pick(glide.begin, LONG_AGO),
        pick(glide.end, LONG_AGO),
        glide.settled_at,
    )


def _watch(watch: Watch, pick: Callable[..., AnyArray]) -> Watch:
    """The lamps' own histories; that of the mean of all goes on as it is."""
    result = {}
    for field in fields(watch):
        values = getattr(watch, field.name)
        picked = pick(values[..., :-1], -1e18 if field.name == "turns" else 0.0)
        result[field.name] = np.concatenate((picked, values[..., -1:]), axis=-1)
    return Watch(**result)
