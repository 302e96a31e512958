"""Single lamp: the level of one lamp at rest, moved by hand, the command that people wait for most often.

What ``fades.move`` works out for every lamp is known beforehand here: nothing else moves, no colour and no
effect changes, and a hand does not wait for the flash guard. The playback that results is the same, with a
fraction of the array operations, each of which finds its caches cold when the light was at rest.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.fades import LINEAR, by_stops, crossing, dimmed, dimmed_goal, stop_places
from onecrew.playback.flash_guard import space_out
from onecrew.playback.lights import Lights
from onecrew.playback.state import LEVEL, Movement, Playback
from onecrew.show.light import Light


def can_move_single(playback: Playback, lamp: int, now: float) -> bool:
    """Return whether ``move_single`` is the whole of what a new level of ``lamp`` leads to.

    A lamp at black takes its colour with its level, and a comparison that ends moves other lamps.
    """
    movement = playback.movement
    return (
        playback.show_time(now) >= movement.settled_at
        and playback.aside is None
        and playback.effects.silent
        and bool(movement.goal.level[lamp] != 0.0)
    )


def move_single(
    playback: Playback, compiled: CompiledShow, now: float, lamp: int, light: Light, fade_s: float
) -> Playback:
    """Return the playback whose ``lamp`` leaves at ``now`` for ``light``, which differs in level at most."""
    old, time = playback.movement, playback.show_time(now)
    goal = Lights(_with(old.goal.level, lamp, light.level), old.goal.white, old.goal.colour)
    start = Lights(_with(old.start.level, lamp, old.goal.level[lamp]), old.start.white, old.start.colour)
    begin, end, curve, by_hand = old.begin.copy(), old.end.copy(), old.curve.copy(), playback.by_hand.copy()
    begin[LEVEL, lamp] = time
    end[LEVEL, lamp] = time + (fade_s if start.level[lamp] != goal.level[lamp] else 0.0)
    curve[lamp] = LINEAR
    by_hand[lamp] = True
    none = np.zeros_like(by_hand)
    history, _ = space_out(
        playback.flashes,
        now,
        shown=compiled.laws.output(old.goal.level * dimmed(playback, now)),
        goal=compiled.laws.output(goal.level * dimmed_goal(playback)),
        recoloured=none,
        crossing=crossing(playback, now, None),
        turns_allowed=np.zeros(by_hand.size, dtype=np.int64),  # read only where it guards
        guarded=False,
    )
    movement = Movement(
        start=start,
        goal=goal,
        begin=begin,
        end=end,
        curve=curve,
        stops=stop_places(start.level, goal.level, compiled) if by_stops(LINEAR, old) else old.stops,
        by_white=old.by_white,
    )
    asked = (*playback.asked[:lamp], light, *playback.asked[lamp + 1 :])
    return replace(playback, movement=movement, asked=asked, by_hand=by_hand, flashes=history)


def _with(values: FloatArray, lamp: int, value: float) -> FloatArray:
    values = values.copy()
    values[lamp] = value
    return values
