"""Watch: the flash guard over cues and commands. It spaces out changes of direction that would flash.

WCAG 2.3.1 counts a general flash as a pair of opposing changes of relative luminance of 10 % of the maximum
or more, where the darker state is below 0.80, and allows no more than three in any second; the glossary's
red flash adds opposing changes of colour. The watch is stricter, because exposure makes any lamp the
brightest of its picture: it takes 10 % of the brighter state as a change, of whatever level, and every
large change of colour, and lets at most ``TURNS`` of them begin in any second, on any lamp or on the mean of
all. With the one that may run already, a second then holds five changes, two flashes and a half.

A change too many does not begin before the oldest of those has left the second: the light stands until then
and goes where the latest command sent it. Nothing is lost, and a second later all is as asked.

Everything is decided when a movement begins, from where the lamps are and where they go: between two
commands each lamp only rises or only falls. The effects keep the rule by themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.playback.frame import BoolArray, FloatArray

TURNS = 4
TURNS_WITH_EFFECT = 2
"""Fewer where an effect adds changes of its own."""
WINDOW_S = 1.0
CHANGE = 0.10
"""Share of the brighter state."""
DARKEST = 0.01
"""Output under which a lamp counts as that bright: one that hardly glows does not flash."""
_KEPT = TURNS + 1


@dataclass(frozen=True, slots=True, eq=False)
class Watch:
    """What was seen of n lamps and, as the last entry, of the mean of all; times are real."""

    way: NDArray[np.int8]
    """(n+1,): direction of the last change that counted, +1 or −1, 0 before the first."""
    extreme: FloatArray
    """(n+1,): brightest (way +1) or darkest (way −1) output since."""
    was_way: NDArray[np.int8]
    was_extreme: FloatArray
    """Both as they were before the newest change, which may not have begun yet."""
    turns: FloatArray
    """(5, n+1): when the latest changes began, newest last."""


def fresh_watch(n: int) -> Watch:
    """Return a watch over n lamps that has seen nothing."""
    way, extreme = np.zeros(n + 1, dtype=np.int8), np.zeros(n + 1)
    return Watch(way, extreme, way, extreme, np.full((_KEPT, n + 1), -1e18))


def space_out(
    watch: Watch,
    now: float,
    *,
    shown: FloatArray,
    goal: FloatArray,
    recoloured: BoolArray,
    busy: BoolArray,
    guarded: bool,
) -> tuple[Watch, FloatArray]:
    """Return the watch after a movement is ordered, and when (real time) each lamp may begin it, (n,).

    ``shown`` and ``goal`` (n,) are outputs now and at the end; ``recoloured`` tells lamps whose colour
    changes greatly, ``busy`` those with an effect. Unguarded, everything begins now but is remembered.
    """
    if not len(shown):
        return watch, np.zeros(0)
    seen = np.append(shown, shown.mean())
    to = np.append(goal, goal.mean())
    recolour = np.append(recoloured, False)
    limit = np.append(np.where(busy, TURNS_WITH_EFFECT, TURNS), TURNS)

    # A change that was ordered but has not begun is replaced by this one: forget it.
    unborn = watch.turns[-1] > now
    way = np.where(unborn, watch.was_way, watch.way)
    extreme = np.where(unborn, watch.was_extreme, watch.extreme)
    turns = np.where(unborn, np.roll(watch.turns, 1, axis=0), watch.turns)
    turns[0, unborn] = -1e18

    extreme = np.where(way > 0, np.maximum(extreme, seen), np.where(way < 0, np.minimum(extreme, seen), seen))
    step = CHANGE * np.maximum(np.maximum(extreme, to), DARKEST)
    falls = (way >= 0) & (to <= extreme - step)
    rises = (way <= 0) & (to >= extreme + step)
    turning = falls | rises | recolour

    oldest = np.take_along_axis(turns, (_KEPT - limit)[None, :], axis=0)[0]
    free = np.where(turning & guarded, np.maximum(now, oldest + WINDOW_S), now)
    free = np.maximum(free, np.where(to != seen, free[-1], now))

    pushed = np.vstack((turns[1:], np.where(turning, free, 0.0)))
    return (
        Watch(
            way=np.where(falls, -1, np.where(rises, 1, way)).astype(np.int8),
            extreme=np.where(falls | rises, seen, extreme),
            was_way=way.astype(np.int8),
            was_extreme=extreme,
            turns=np.where(turning, pushed, turns),
        ),
        free[:-1],
    )
