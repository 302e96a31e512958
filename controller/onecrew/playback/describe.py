"""Describe: what playback is doing, for people and for documents."""

from __future__ import annotations

from dataclasses import dataclass

from onecrew.colour.spaces import uv76_to_xy
from onecrew.commands.table import in_words
from onecrew.playback.compiled_show import DARK, CompiledShow
from onecrew.playback.edits import here_or_goal
from onecrew.playback.fades import times_of
from onecrew.playback.lights import FloatArray, U
from onecrew.playback.state import Playback
from onecrew.show.light import Look
from onecrew.show.snapshot import CountdownState, FadeState


@dataclass(frozen=True, slots=True, eq=False)
class Goals:
    """Where every lamp is going, before effects, master, blackout: ``level`` (n,), CIE 1931 ``xy`` (n, 2)."""

    level: FloatArray
    xy: FloatArray


def look_of(playback: Playback, now: float, compiled: CompiledShow) -> Look:
    """Return the look that is showing at real time ``now``, edits included: what Store stores.

    Master, blackout, solo, without, identify and a comparison are left out; effects stand as effects. A lamp
    that has arrived is given exactly as it was asked for, one in the middle of a fade as it is.
    """
    if playback.aside is not None:
        lights = list(playback.aside)
    else:
        lights = here_or_goal(playback, compiled, range(len(compiled.ids)), now)
    return {name: light for name, light in zip(compiled.ids, lights, strict=True) if light != DARK}


def fade(playback: Playback, now: float, compiled: CompiledShow) -> FadeState | None:
    """Return how far the longest running fade is, None when none runs; a delay counts as its beginning."""
    time = playback.show_time(now)
    if playback.waiting is not None:
        cue = compiled.cue(playback.waiting.cue)
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


def rested(playback: Playback, now: float) -> bool:
    """Return whether every lamp has arrived, with nothing that dims it still on its way; effects go on."""
    ramps = (playback.blackout, playback.master, playback.shown)
    there = playback.waiting is None and playback.show_time(now) >= playback.movement.settled_at
    return there and all(now >= ramp.settled_at for ramp in ramps)


def countdown(playback: Playback, now: float) -> CountdownState | None:
    """Return the running countdown, None if there is none."""
    counting = playback.countdown
    if counting is None:
        return None
    return CountdownState(left_s=max(0.0, counting.at - now), command=in_words(counting.command))


def goals(playback: Playback) -> Goals:
    """Return where every lamp is going; a cue that waits out its delay is not under way yet."""
    goal = playback.movement.goal
    return Goals(goal.level, uv76_to_xy(goal.colour[U:].T))
