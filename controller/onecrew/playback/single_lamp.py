"""Single lamp: the level of one lamp at rest, moved by hand, the command that people wait for most often.

What ``fades.move`` works out for every lamp is known beforehand here: nothing else moves, no colour and no
effect changes, and a hand does not wait for the flash guard. The playback that results is the same, with a
fraction of the array operations, each of which finds its caches cold when the light was at rest. The frame
needs hardly any of them, so it can be shown before the playback is worked out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from onecrew.colour.arrays import with_one
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.fades import LINEAR, crossing, dimmed, dimmed_goal
from onecrew.playback.flash_guard import space_out
from onecrew.playback.lights import Lights
from onecrew.playback.state import LEVEL, Movement, Playback
from onecrew.show.light import Light


def can_move_single(playback: Playback, lamp: int, now: float) -> bool:
    """Return whether a ``SingleMove`` is the whole of what a new level of ``lamp`` leads to.

    A lamp at black takes its colour with its level, and a comparison that ends moves other lamps.
    """
    movement = playback.movement
    return (
        playback.show_time(now) >= movement.settled_at
        and playback.aside is None
        and playback.effects.silent
        and bool(movement.goal.level[lamp] != 0.0)
    )


@dataclass(frozen=True, eq=False)
class SingleMove:
    """``lamp`` leaves at real time ``now`` (s) for ``light``, which differs in level at most."""

    before: Playback
    compiled: CompiledShow
    now: float
    lamp: int
    light: Light
    fade_s: float

    @cached_property
    def playback(self) -> Playback:
        """What plays from ``now`` on; worked out when it is first read."""
        playback, compiled, now, lamp = self.before, self.compiled, self.now, self.lamp
        old, time = playback.movement, playback.show_time(now)
        leaves, goes = float(old.goal.level[lamp]), self.light.level
        start = Lights(with_one(old.start.level, lamp, leaves), old.start.white, old.start.colour)
        goal = Lights(with_one(old.goal.level, lamp, goes), old.goal.white, old.goal.colour)
        begin, end, curve = old.begin.copy(), old.end.copy(), old.curve.copy()
        begin[LEVEL, lamp] = time
        end[LEVEL, lamp] = time + (self.fade_s if goes != leaves else 0.0)
        curve[lamp] = LINEAR
        by_hand = playback.by_hand.copy()
        by_hand[lamp] = True
        history, _ = space_out(
            playback.flashes,
            now,
            shown=compiled.laws.output(old.goal.level * dimmed(playback, now)),
            goal=compiled.laws.output(goal.level * dimmed_goal(playback)),
            recoloured=np.zeros_like(by_hand),
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
            stops=old.stops,
            by_white=old.by_white,
        )
        asked = (*playback.asked[:lamp], self.light, *playback.asked[lamp + 1 :])
        return replace(playback, movement=movement, asked=asked, by_hand=by_hand, flashes=history)

    @property
    def is_worked_out(self) -> bool:
        return "playback" in self.__dict__


Plays = Playback | SingleMove
"""What plays, or a move from which it can be worked out."""


def worked_out(plays: Plays) -> Playback:
    """Return what plays."""
    return plays.playback if isinstance(plays, SingleMove) else plays
