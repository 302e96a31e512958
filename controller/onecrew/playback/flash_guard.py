"""Flash guard over cues and commands. It spaces out changes of direction that would flash.

WCAG 2.3.1 counts a general flash as a pair of opposing changes of relative luminance of 10 % of the maximum
or more, where the darker state is below 0.80, and allows no more than three in any second; its red flash adds
opposing changes of colour. The guard is stricter, because exposure makes any lamp the brightest of its
picture: it takes 10 % of the brighter state as a change, whatever the level, and every great change of
colour, and lets at most ``TURNS`` of them begin in any second, on any lamp or on the mean of all. With the
one that may run already, a second then holds five changes, two flashes and a half.

A change too many does not begin before enough of the others have left the second: the light stands until then
and goes where the latest command sent it. Nothing is lost, and a second later all is as asked.

Everything is decided when a movement begins, from where the lamps are and where they go: one movement only
raises or only lowers a lamp. Where two layers move a lamp at once (a fade under a blackout that ends) it may
turn once more, so such a movement counts double. Hands that run cues, black out and solo many times a second
can bring it to three flashes, which WCAG still allows; any chain of cues stays under. What never waits,
though it is remembered: into the blackout, and a hand on a level or on the master.

The effects keep the rule by themselves; where one plays, fewer other changes are let through.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import BoolArray, FloatArray
from onecrew.playback.fields import LONG_AGO, Per, array

TURNS = 4
TURNS_WITH_EFFECT = 2
"""By solo, without and the like, where an effect adds changes of its own."""
TURNS_WITH_EFFECT_IN_CHAIN = 1
"""By cues, likewise."""
WINDOW_S = 1.0
CHANGE = 0.10
"""Share of the brighter state."""
DARKEST = 1e-4
"""Output under which a lamp counts as that bright: one that hardly glows does not flash."""
_KEPT = 8


@dataclass(frozen=True, slots=True, eq=False)
class FlashHistory:
    """What the guard has seen of n lamps and, as the last entry, of the mean of all; times are real."""

    way: Annotated[NDArray[np.int8], array(per=Per.LAMP_AND_MEAN, dtype=np.int8)]
    """(n+1,): direction of the last change that counted, +1 or −1, 0 before the first."""
    extreme: Annotated[FloatArray, array(per=Per.LAMP_AND_MEAN)]
    """(n+1,): brightest (way +1) or darkest (way −1) output since."""
    was_way: Annotated[NDArray[np.int8], array(per=Per.LAMP_AND_MEAN, dtype=np.int8)]
    was_extreme: Annotated[FloatArray, array(per=Per.LAMP_AND_MEAN)]
    """Both as they were before the newest change, which may not have begun yet."""
    turns: Annotated[FloatArray, array(_KEPT, per=Per.LAMP_AND_MEAN, real=True, new=LONG_AGO)]
    """(8, n+1): when the latest changes began, newest last."""


def no_flashes(n: int) -> FlashHistory:
    """Return the history of n lamps of which nothing was seen."""
    way, extreme = np.zeros(n + 1, dtype=np.int8), np.zeros(n + 1)
    return FlashHistory(way, extreme, way, extreme, np.full((_KEPT, n + 1), LONG_AGO))


def space_out(
    history: FlashHistory,
    now: float,
    *,
    shown: FloatArray,
    goal: FloatArray,
    recoloured: BoolArray,
    crossing: BoolArray,
    turns_allowed: NDArray[np.int64],
    guarded: bool,
) -> tuple[FlashHistory, FloatArray]:
    """Return the history after a movement is ordered, and when (real time) each lamp may begin it, (n,).

    ``shown`` and ``goal`` (n,) are outputs now and at the end. ``recoloured`` tells lamps whose colour
    changes greatly, ``crossing`` those that another layer moves at the same time; ``turns_allowed`` is how
    many changes may begin in a second. Unguarded, everything begins now but is remembered.
    """
    n = len(shown)
    if not n:
        return history, np.zeros(0)
    seen, to = _and_the_mean(shown), _and_the_mean(goal)
    moves = to != seen
    way, extreme, turns = _begun(history, now)
    extreme = np.where(way > 0, np.maximum(extreme, seen), np.where(way < 0, np.minimum(extreme, seen), seen))
    step = CHANGE * np.maximum(np.maximum(extreme, to), DARKEST)
    falls = (way >= 0) & (to <= extreme - step)
    rises = (way <= 0) & (to >= extreme + step)
    count = (falls | rises).astype(np.int64)
    count[:n] |= recoloured
    if crossing.any():
        count[:n] += crossing & moves[:n]
        count[n] += moves[n]
    if not count.any():
        return FlashHistory(way, extreme, way, extreme, turns), np.full(n, now)

    free: FloatArray = np.full(n + 1, now)
    if guarded:
        free = _free(turns, count, np.append(turns_allowed, TURNS), now)
        free = np.maximum(free, np.where(moves, free[-1], now))
    after = FlashHistory(
        way=np.where(falls, -1, np.where(rises, 1, way)).astype(np.int8),
        extreme=np.where(falls | rises, seen, extreme),
        was_way=way.astype(np.int8),
        was_extreme=extreme,
        turns=_with(turns, count, free),
    )
    return after, free[:-1]


def _free(turns: FloatArray, count: NDArray[np.int64], limit: NDArray[np.int64], now: float) -> FloatArray:
    """When ``count`` more changes may begin, (n+1,): the one that has to leave the second before is known."""
    leaving = np.clip(_KEPT - 1 - limit + count, 0, _KEPT - 1)
    since = np.take_along_axis(turns, leaving[None, :], axis=0)[0]
    return np.where(count > 0, np.maximum(now, since + WINDOW_S), now)


def _with(turns: FloatArray, count: NDArray[np.int64], at: FloatArray) -> FloatArray:
    """The turns with ``count`` more, each ``at`` its lamp's time."""
    for more in range(int(count.max())):
        later = np.empty_like(turns)
        later[:-1], later[-1] = turns[1:], at
        turns = np.where(count > more, later, turns)
    return turns


def _begun(history: FlashHistory, now: float) -> tuple[NDArray[np.int8], FloatArray, FloatArray]:
    """Way, extreme and turns without the changes that were ordered but have not begun: a new one replaces
    them."""
    forget = history.turns[-1] > now
    if not forget.any():
        return history.way, history.extreme, history.turns
    return (
        np.where(forget, history.was_way, history.way),
        np.where(forget, history.was_extreme, history.extreme),
        np.sort(np.where(history.turns > now, LONG_AGO, history.turns), axis=0),
    )


def _and_the_mean(values: FloatArray) -> FloatArray:
    """(n,) → (n+1,): the values and, last, their mean."""
    more = np.empty(len(values) + 1)
    more[:-1] = values
    more[-1] = np.add.reduce(values) / len(values)
    return more
