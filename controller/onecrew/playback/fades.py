"""Fades: where lamps are on their way, and how they are sent to other lights, past the flash guard."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from onecrew.colour.arrays import BoolArray, FloatArray
from onecrew.playback.compiled_show import CompiledShow, Target
from onecrew.playback.effect_layers import retuned
from onecrew.playback.effects import Effects, ease
from onecrew.playback.flash_guard import (
    TURNS,
    TURNS_WITH_EFFECT,
    TURNS_WITH_EFFECT_IN_CHAIN,
    FlashHistory,
    space_out,
)
from onecrew.playback.lights import Lights, U, with_chromaticity
from onecrew.playback.state import COLOUR, EFFECT, LEVEL, Movement, Playback, Ramp
from onecrew.show.show import Cue

LINEAR, EASE, STOPS = 0, 1, 2
CURVES = {"linear": LINEAR, "ease": EASE, "stops": STOPS}

STOPS_FLOOR = 2.0**-10
"""Output below which nothing more is seen: ten stops under full, about the 0.1 % at which the dimming curve
of IEC 62386-102 ends. A fade in stops runs straight through what lies below, in the time of one stop."""


def stops_above_floor(output: FloatArray) -> FloatArray:
    """Return the place of an output 0–1 on the scale of the stops curve, −1 (black) to 10 (full).

    Stops above ``STOPS_FLOOR``; below it a straight scale of one stop's length, so that black has a place.

    >>> stops_above_floor(np.array([0.0, 2.0**-10, 0.5, 1.0])).tolist()
    [-1.0, 0.0, 9.0, 10.0]
    """
    above = np.log2(np.maximum(output, STOPS_FLOOR) / STOPS_FLOOR)
    return np.where(output < STOPS_FLOOR, output / STOPS_FLOOR - 1.0, above)


def output_at_stops(stops: FloatArray) -> FloatArray:
    """Return the output at a place on the scale of the stops curve, the inverse of ``stops_above_floor``."""
    return STOPS_FLOOR * np.where(stops < 0.0, 1.0 + stops, np.exp2(stops))


_TICKS = 2.0**20
"""Elapsed time is rounded to about a microsecond, so that a replay at another time of day, whose seconds
carry other rounding errors, gives the same numbers."""


def progress_at(movement: Movement, time: float) -> FloatArray:
    """Return the share (3, n) of each movement of level, colour and effect done at show ``time``, 0–1."""
    elapsed = np.rint((time - movement.begin) * _TICKS)
    span = np.maximum((movement.end - movement.begin) * _TICKS, 1e-3)
    progress: FloatArray = np.clip(elapsed / span, 0.0, 1.0)
    progress[time >= movement.end] = 1.0
    return progress


def base_at(movement: Movement, progress: FloatArray, compiled: CompiledShow) -> Lights:
    """Return level and colour of every lamp, given ``progress_at``; u′ and v′ of whites may be stale."""
    start, goal = movement.start, movement.goal
    along = progress[LEVEL]
    curve = movement.curve
    eased = np.where(curve == EASE, ease(along), along) if (curve == EASE).any() else along
    level = start.level + (goal.level - start.level) * eased
    by_stops = curve == STOPS
    if by_stops.any():
        place = movement.stops[0] + (movement.stops[1] - movement.stops[0]) * along
        by_law = compiled.laws.level(np.clip(output_at_stops(place), 0.0, 1.0))
        level = np.where(by_stops & (along > 0.0), by_law, level)
    done = along >= 1.0
    level = np.where(done, goal.level, level)
    along = progress[COLOUR]
    done = along >= 1.0
    colour = np.where(done, goal.colour, start.colour + (goal.colour - start.colour) * along)
    white = np.where(done, goal.white, np.where(along > 0.0, movement.by_white, start.white))
    return Lights(level, white, colour)


@lru_cache(maxsize=1)
def showing(movement: Movement, time: float, compiled: CompiledShow) -> Lights:
    """Return level and colour of every lamp at show ``time``, whole: the start of the next movement.

    One command asks several times, hence the memory of one answer.
    """
    if time >= movement.settled_at:
        return movement.goal
    return with_chromaticity(base_at(movement, progress_at(movement, time), compiled))


GREAT_CHANGE_UV = 0.15
"""Distance in u′v′ that counts as a change of colour for the flash guard. WCAG 2.2 takes 0.2 for a red flash
(from memory); what the emitters give can differ from what was asked."""

Scale = Literal["shown", "master", "blackout"]
"""What scales the look as a whole, field names of ``Playback``; ``shown`` is solo and without."""
SCALES: tuple[Scale, ...] = get_args(Scale)


@dataclass(frozen=True, slots=True)
class Times:
    """How long rising and falling levels take (s), and by which curve."""

    in_s: float
    out_s: float
    curve: int = LINEAR

    @property
    def longer_s(self) -> float:
        return max(self.in_s, self.out_s)


def times_of(cue: Cue, fade_s: float | None) -> Times:
    """Return a cue's own times, or ``fade_s`` for everything."""
    curve = CURVES[cue.fade.curve]
    return Times(cue.fade.in_s, cue.fade.out_s, curve) if fade_s is None else Times(fade_s, fade_s, curve)


@dataclass(frozen=True, slots=True, eq=False)
class Affected:
    """Which lamps (n,) are given a new level, colour, effect; the others keep moving as they do."""

    level: BoolArray
    colour: BoolArray
    effect: BoolArray


def everything(n: int) -> Affected:
    """Return what a whole look affects."""
    every = np.ones(n, dtype=np.bool_)
    return Affected(every, every, every)


def move(
    playback: Playback,
    compiled: CompiledShow,
    now: float,
    target: Target,
    affected: Affected,
    times: Times,
    *,
    guarded: bool,
    urgent: bool = False,
    afresh: bool = False,
) -> Playback:
    """Return the playback whose touched lamps leave at ``now`` (real s) from what shows for ``target``.

    Levels that rise take ``in_s``, levels that fall ``out_s``, colours and effects the longer of both. A
    lamp at black takes its new colour at once, one that falls to black keeps its own. ``guarded`` holds
    effects and changes to the flash guard; what is ``urgent`` does not wait for it all the same.
    ``afresh``, every effect begins its clock at ``now``.
    """
    time = playback.show_time(now)
    old = playback.movement
    here = showing(old, time, compiled)
    goal = _goal(here, old.goal, target.lights, affected)
    factor = dimmed_goal(playback)
    allowed = _allowed(playback, bool(affected.level.all()), target.effects)
    history, free = _free_from(
        playback, compiled, now, here, goal, factor, guarded and not urgent, None, allowed
    )
    leave = time + (free - now)

    # A lamp that identify lights up is not black to the eye, whatever its level.
    black = (here.level == 0.0) & (playback.pulse.at(now) == 0.0)
    effects, changing = retuned(
        playback.effects,
        target.effects,
        time,
        progress=progress_at(old, time)[EFFECT],
        touched=affected.effect,
        from_black=black,
        guarded=guarded,
        afresh=afresh,
    )
    start = Lights(
        level=here.level,
        white=np.where(black, goal.white, here.white),
        colour=np.where(black, goal.colour, here.colour),
    )
    begin, end = _span(old, start, goal, affected, changing, times, time, leave)
    movement = _way(old, start, goal, affected, times.curve, begin, end, compiled)
    return replace(playback, movement=movement, effects=effects, asked=target.asked, flashes=history)


def _span(
    old: Movement,
    start: Lights,
    goal: Lights,
    affected: Affected,
    changing: BoolArray,
    times: Times,
    time: float,
    leave: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return when each lamp begins and ends, (3, n) show seconds; what is not affected goes on as in ``old``.

    What stands still leaves at ``time`` and has arrived; what moves leaves when the guard lets it.
    """
    rises, falls = goal.level > start.level, goal.level < start.level
    tinted = (start.colour != goal.colour).any(axis=0) | (start.white != goal.white)
    moves = _rows(rises | falls, tinted, changing)
    spans = moves * times.longer_s
    spans[LEVEL] = rises * times.in_s + falls * times.out_s
    begin = np.where(moves, leave, time)
    rows = _rows(affected.level, affected.colour, changing)
    return np.where(rows, begin, old.begin), np.where(rows, begin + spans, old.end)


def _way(
    old: Movement,
    start: Lights,
    goal: Lights,
    affected: Affected,
    curve: int,
    begin: FloatArray,
    end: FloatArray,
    compiled: CompiledShow,
) -> Movement:
    """Return the movement to ``goal`` of what is affected from ``start``, of the rest from where it came."""
    level = np.where(affected.level, start.level, old.start.level)
    return Movement(
        start=Lights(
            level=level,
            white=np.where(affected.colour, start.white, old.start.white),
            colour=np.where(affected.colour, start.colour, old.start.colour),
        ),
        goal=goal,
        begin=begin,
        end=end,
        curve=np.where(affected.level, np.int8(curve), old.curve).astype(np.int8),
        stops=stop_places(level, goal.level, compiled) if curve == STOPS else old.stops,
        by_white=np.where(affected.colour, start.white & goal.white, old.by_white),
    )


def _rows(level: BoolArray, colour: BoolArray, effect: BoolArray) -> BoolArray:
    """Three rows as one array (3, n), in the order of ``Movement``."""
    rows = np.empty((3, level.size), dtype=np.bool_)
    rows[LEVEL], rows[COLOUR], rows[EFFECT] = level, colour, effect
    return rows


def stop_places(start: FloatArray, goal: FloatArray, compiled: CompiledShow) -> FloatArray:
    """Return start and goal level (n,) on the scale of the stops curve, (2, n)."""
    return np.stack([stops_above_floor(compiled.laws.output(level)) for level in (start, goal)])


def dimmed(playback: Playback, now: float) -> FloatArray:
    """Return the factor (n,) 0–1 by which solo, without, master and blackout scale the levels now."""
    return playback.shown.at(now) * playback.master.at(now) * playback.blackout.at(now)


def dimmed_goal(playback: Playback) -> FloatArray:
    """Return the factor (n,) that solo, without, master and blackout are going to."""
    return playback.shown.goal * playback.master.goal * playback.blackout.goal


def dim(
    playback: Playback,
    compiled: CompiledShow,
    now: float,
    scale: Scale,
    goal: ArrayLike,
    span_s: float,
    *,
    urgent: bool = False,
) -> Playback:
    """Return the playback in which one scale over the look goes to ``goal``, () or (n,), in ``span_s``.

    What is ``urgent`` does not wait for the flash guard, which remembers it all the same.
    """
    old: Ramp = getattr(playback, scale)
    there = replace(old, goal=np.broadcast_to(np.asarray(goal, dtype=np.float64), old.goal.shape))
    factor = np.ones(len(compiled.ids))
    for name in SCALES:
        factor = factor * (there if name == scale else getattr(playback, name)).goal
    here = showing(playback.movement, playback.show_time(now), compiled)
    guarded = is_guarded(playback, compiled) and not urgent
    allowed = _allowed(playback, False)
    history, free = _free_from(
        playback, compiled, now, here, playback.movement.goal, factor, guarded, scale, allowed
    )
    # Solo and without move each lamp by itself; the others move all lamps at once, when the last is free.
    leave = free if old.goal.ndim else free.max(initial=now)
    ramp = old.to(there.goal, now, leave, span_s)
    match scale:
        case "shown":
            return replace(playback, flashes=history, shown=ramp)
        case "master":
            return replace(playback, flashes=history, master=ramp)
        case "blackout":
            return replace(playback, flashes=history, blackout=ramp)


def is_guarded(playback: Playback, compiled: CompiledShow) -> bool:
    """Return whether the flash guard watches over changes by hand: unless the current cue turned it off."""
    cue = compiled.cue(playback.cue)
    return cue is None or cue.flash_guard


def _goal(here: Lights, old: Lights, new: Lights, affected: Affected) -> Lights:
    level = np.where(affected.level, new.level, old.level)
    keeps = (level == 0.0) & (here.level > 0.0)
    white = np.where(affected.colour, np.where(keeps, here.white, new.white), old.white)
    colour = np.where(affected.colour, np.where(keeps, here.colour, new.colour), old.colour)
    return Lights(level, white, colour)


def _free_from(
    playback: Playback,
    compiled: CompiledShow,
    now: float,
    here: Lights,
    goal: Lights,
    factor: FloatArray,
    guarded: bool,
    scale: Scale | None,
    allowed: NDArray[np.int64],
) -> tuple[FlashHistory, FloatArray]:
    """When the flash guard lets each lamp leave ``here`` for ``goal``, dimmed by ``factor``."""
    shown = compiled.laws.output(here.level * dimmed(playback, now))
    to = compiled.laws.output(goal.level * factor)
    far = np.hypot(*(goal.colour[U:] - here.colour[U:])) >= GREAT_CHANGE_UV
    return space_out(
        playback.flashes,
        now,
        shown=shown,
        goal=to,
        recoloured=far & (shown > 0.0) & (to > 0.0),
        crossing=crossing(playback, now, scale),
        turns_allowed=allowed,
        guarded=guarded,
    )


def _allowed(playback: Playback, in_chain: bool, effects: Effects | None = None) -> NDArray[np.int64]:
    """How many changes of each lamp (n,) the flash guard lets begin in a second."""
    allowed = np.full(playback.by_hand.size, TURNS)
    few = TURNS_WITH_EFFECT_IN_CHAIN if in_chain else TURNS_WITH_EFFECT
    if playback.effects.live.size:
        allowed[playback.effects.live % allowed.size] = few
    if effects is not None:
        allowed[effects.kind > 0] = few
    return allowed


def crossing(playback: Playback, now: float, scale: Scale | None) -> BoolArray:
    """Return which lamps (n,) something else than ``scale`` (None: the look itself) is moving."""
    time = playback.show_time(now)
    result = np.zeros(playback.by_hand.size, dtype=np.bool_)
    if scale is not None and time < playback.movement.settled_at:
        result |= playback.movement.end[LEVEL] > time
    for name in SCALES:
        ramp = getattr(playback, name)
        if scale != name and now < ramp.settled_at:
            result |= ramp.end > now
    return result
