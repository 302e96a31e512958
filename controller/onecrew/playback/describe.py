"""Describe: what playback is doing, for people and for documents."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from onecrew.colour.spaces import uv76_to_xy
from onecrew.playback.edits import here_or_goal
from onecrew.playback.frame import FloatArray
from onecrew.playback.lights import U
from onecrew.playback.move import times_of
from onecrew.playback.score import DARK, Score
from onecrew.playback.state import Playback
from onecrew.playback.words import words
from onecrew.show.light import Look
from onecrew.show.snapshot import CountdownState, FadeState


@dataclass(frozen=True, slots=True, eq=False)
class Goals:
    """Where every lamp is going, before effects, master, blackout: ``level`` (n,), CIE 1931 ``xy`` (n, 2)."""

    level: FloatArray
    xy: FloatArray


def look_of(playback: Playback, now: float, score: Score) -> Look:
    """Return the look that is showing at real time ``now``, edits included: what Store stores.

    Master, blackout, solo, without, identify and a comparison are left out; effects stand as effects. A lamp
    that has arrived is given exactly as it was asked for, one in the middle of a fade as it is.
    """
    if playback.aside is not None:
        lights = list(playback.aside)
    else:
        lights = here_or_goal(playback, score, range(len(score.ids)), now)
    return {name: light for name, light in zip(score.ids, lights, strict=True) if light != DARK}


def edited(playback: Playback, score: Score) -> set[str]:
    """Return the fixtures whose light was changed by hand and differs from the stored look of the cue."""
    lamps = np.flatnonzero(playback.marked).tolist()
    cue = score.cue(playback.cue) if playback.cue is not None else None
    if cue is None:
        return {score.ids[lamp] for lamp in lamps}
    stored = score.target(cue).asked
    asked = playback.asked if playback.aside is None else playback.aside
    return {score.ids[lamp] for lamp in lamps if asked[lamp] != stored[lamp]}


def fade(playback: Playback, now: float, score: Score) -> FadeState | None:
    """Return how far the longest running fade is, None when none runs; a delay counts as its beginning."""
    time = playback.show_time(now)
    if playback.waiting is not None:
        cue = score.cue(playback.waiting.cue)
        span = times_of(cue, None).longer_s if cue is not None else 0.0
        return FadeState(progress=0.0, left_s=max(0.0, playback.waiting.at - time) + span)
    movement = playback.movement
    running = movement.end > time
    if not running.any():
        return None
    last = float(movement.end.max())
    first = float(movement.begin[running & (movement.end == last)].min())
    return FadeState(progress=max(0.0, (time - first) / (last - first)), left_s=last - time)


def auto_follow_left_s(playback: Playback, now: float) -> float | None:
    """Return the seconds until the next cue runs by itself, None if none will."""
    return None if playback.follow_at is None else max(0.0, playback.follow_at - playback.show_time(now))


def countdown(playback: Playback, now: float) -> CountdownState | None:
    """Return the running countdown, None if there is none."""
    counting = playback.countdown
    if counting is None:
        return None
    return CountdownState(left_s=max(0.0, counting.at - now), command=words(counting.command))


def goals(playback: Playback) -> Goals:
    """Return where every lamp is going; a cue that waits out its delay is not under way yet."""
    goal = playback.movement.goal
    return Goals(goal.level, uv76_to_xy(goal.colour[U:].T))
