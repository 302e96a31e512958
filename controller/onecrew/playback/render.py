"""Render: the light of every lamp at one moment. The 44 Hz path: arrays only."""

from __future__ import annotations

import math

import numpy as np

from onecrew.colour.table import DUV_LIMIT, MIRED_MAX, MIRED_MIN, white_to_uv76_fast
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.effect_layers import taken_away
from onecrew.playback.fades import base_at, progress_at
from onecrew.playback.lights import DUV, MIRED, FloatArray, Frame, Lights, U, V
from onecrew.playback.state import EFFECT, Playback

PULSE_HZ = 0.4
"""Identify, well under any limit for flashing."""
_PULSE_MEAN, _PULSE_SWING = 0.35, 0.25


def render(playback: Playback, now: float, compiled: CompiledShow) -> Frame:
    """Return the frame at real time ``now`` (s), everything included; pure, and good for any later ``now``
    up to ``next_event``.
    """
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
    level = _pulsing(playback, level, now) * playback.blackout.at(now)
    return Frame(
        level=np.minimum(np.maximum(level, 0.0), 1.0),
        white=base.white,
        mired=colour[MIRED],
        duv=colour[DUV],
        u=colour[U],
        v=colour[V],
    )


def moving(playback: Playback, now: float) -> bool:
    """Return whether the frame still changes by itself at ``now``, events apart.

    Once it turns false, one more frame rendered at that moment is the final one.
    """
    ramps = (playback.blackout, playback.master, playback.shown, playback.pulse)
    if any(now < ramp.settled_at for ramp in ramps) or playback.identify:
        return True
    if playback.held:
        return False
    time = playback.show_time(now)
    if time < playback.movement.settled_at:
        return True
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
