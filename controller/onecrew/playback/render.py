"""Render: what shows at one moment — the frame (the 44 Hz path, arrays only), and in documents' words."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.colour.limits import DUV_LIMIT
from onecrew.colour.locus_table import MIRED_MAX, MIRED_MIN, white_to_uv76_fast
from onecrew.colour.spaces import uv76_to_xy
from onecrew.commands.table import in_words
from onecrew.playback.compiled_show import DARK, CompiledShow
from onecrew.playback.edits import here_or_goal
from onecrew.playback.effect_layers import taken_away
from onecrew.playback.fades import base_at, progress_at, times_of
from onecrew.playback.lights import DUV, MIRED, Frame, Lights, U, V
from onecrew.playback.single_lamp import SingleMove
from onecrew.playback.state import EFFECT, Playback, Still
from onecrew.show.light import Look
from onecrew.show.snapshot import CountdownState, FadeState

PULSE_HZ = 0.4
"""Identify, well under any limit for flashing."""
_PULSE_MEAN, _PULSE_SWING = 0.35, 0.25


def render(playback: Playback, now: float, compiled: CompiledShow) -> Frame:
    """Return the frame at real time ``now`` (s), everything included; pure, and good for any later ``now``
    up to ``next_event``.
    """
    if playback.still is not None:
        return _frame(still_lights(playback.still, compiled), playback.blackout.at(now))
    time = playback.show_time(now)
    movement = playback.movement
    if time >= movement.settled_at:
        base = movement.goal
        progress = None
    else:
        progress = progress_at(movement, time)
        base = base_at(movement, progress, compiled)
    level, colour = base.level, base.colour
    if not playback.effects.silent:
        along = np.ones_like(level) if progress is None else progress[EFFECT]
        level, colour = _with_effects(playback, base, time, along, compiled)
    level = level * (playback.shown.at(now) * playback.master.at(now))
    return _frame(Lights(_pulsing(playback, level, now), base.white, colour), playback.blackout.at(now))


def single_level(move: SingleMove, now: float) -> float:
    """Return the level of the lamp in the frame of a move that takes no time, where nothing else moves."""
    playback = move.before
    shown, master = float(playback.shown.at(now)[move.lamp]), float(playback.master.at(now))
    level = move.light.level * (shown * master) * float(playback.blackout.at(now))
    return min(max(level, 0.0), 1.0)


def still_lights(still: Still, compiled: CompiledShow) -> Lights:
    """Return the lights of a still: one lamp at its share of light, the others out."""
    natural = compiled.natural
    lamps = [compiled.index[name] for name in still.fixtures if name in compiled.index]
    output = np.zeros_like(natural.level)
    output[lamps] = still.output
    lights = Lights(compiled.laws.level(output), natural.white.copy(), natural.colour.copy())
    if still.cct_k is not None:
        lights.white[lamps] = True
        lights.colour[:U, lamps] = np.array([[1e6 / still.cct_k], [still.duv]])
    return lights


def _frame(lights: Lights, share: FloatArray | float) -> Frame:
    return Frame(
        level=np.minimum(np.maximum(lights.level * share, 0.0), 1.0),
        white=lights.white,
        mired=lights.colour[MIRED],
        duv=lights.colour[DUV],
        u=lights.colour[U],
        v=lights.colour[V],
    )


def moving(playback: Playback, now: float) -> bool:
    """Return whether the frame still changes by itself at ``now``, events apart.

    Once it turns false, one more frame rendered at that moment is the final one.
    """
    ramps = (playback.blackout, playback.master, playback.shown, playback.pulse)
    if any(now < ramp.settled_at for ramp in ramps) or playback.identify:
        return True
    if playback.held or playback.still is not None:
        return False
    time = playback.show_time(now)
    if time < playback.movement.settled_at:
        return True
    if not playback.effects.live.size:
        return False
    n = playback.by_hand.size
    coming = playback.effects.live[playback.effects.live >= n] - n
    return bool((playback.movement.goal.level[coming] > 0.0).any())


def _with_effects(
    playback: Playback, base: Lights, time: float, progress: FloatArray, compiled: CompiledShow
) -> tuple[FloatArray, FloatArray]:
    taken = taken_away(playback.effects, time, progress)
    output = compiled.laws.output(base.level) * (1.0 - taken.dip)
    level = np.where(taken.dip > 0.0, compiled.laws.level(np.maximum(output, 0.0)), base.level)
    shifted = np.flatnonzero((taken.warm != 0.0) | (taken.green != 0.0))
    colour = base.colour.copy()
    before = colour[:U, shifted]
    after = before + np.stack((taken.warm[shifted], taken.green[shifted]))
    after[MIRED] = np.clip(after[MIRED], MIRED_MIN, MIRED_MAX)
    after[DUV] = np.clip(after[DUV], -DUV_LIMIT, DUV_LIMIT)
    colour[:U, shifted] = after
    if not base.white[shifted].all():
        # What is no white moves as the white it comes from, goes to or is nearest by nature would.
        step = white_to_uv76_fast(*after) - white_to_uv76_fast(*before)
        colour[U:, shifted] = np.clip(colour[U:, shifted] + step.T, 1e-3, 0.63)
    return level, colour


def _pulsing(playback: Playback, level: FloatArray, now: float) -> FloatArray:
    if not playback.identify and now >= playback.pulse.settled_at:
        return level
    turn = math.cos(2.0 * math.pi * PULSE_HZ * (now - playback.pulse_since))
    weight = playback.pulse.at(now)
    return level + (_PULSE_MEAN - _PULSE_SWING * turn - level) * weight


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


def fade_state(playback: Playback, now: float, compiled: CompiledShow) -> FadeState | None:
    """Return how far the longest running fade is, None when none runs; a delay counts as its beginning."""
    time = playback.show_time(now)
    if playback.waiting is not None:
        cue = compiled.cue(playback.waiting.cue)
        span = times_of(cue, None).longer_s if cue is not None else 0.0
        return FadeState(progress=0.0, left_s=max(0.0, playback.waiting.at - time) + span)
    movement = playback.movement
    # A change of no length may lie ahead of what shows: it has no share that is done.
    running = movement.end > np.maximum(time, movement.begin)
    if not running.any():
        return None
    last = float(movement.end[running].max())
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


def countdown_state(playback: Playback, now: float) -> CountdownState | None:
    """Return the running countdown, None if there is none."""
    counting = playback.countdown
    if counting is None:
        return None
    return CountdownState(left_s=max(0.0, counting.at - now), command=in_words(counting.command))


def goals(playback: Playback) -> Goals:
    """Return where every lamp is going; a cue that waits out its delay is not under way yet."""
    goal = playback.movement.goal
    return Goals(goal.level, uv76_to_xy(goal.colour[U:].T))
