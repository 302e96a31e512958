"""Move: send lamps from what shows now to other lights, in given times, past the flash guard."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from onecrew.playback.base import progress_at, showing
from onecrew.playback.curves import CURVES, LINEAR, STOPS, stops_above_floor
from onecrew.playback.effects import Effects
from onecrew.playback.frame import BoolArray, FloatArray
from onecrew.playback.glide import Glide
from onecrew.playback.lights import Lights, U
from onecrew.playback.score import Score, Target
from onecrew.playback.state import COLOUR, EFFECT, LEVEL, Movement, Playback
from onecrew.playback.voices import retuned
from onecrew.playback.watch import TURNS, TURNS_WITH_EFFECT, TURNS_WITH_EFFECT_IN_CHAIN, Watch, space_out
from onecrew.show.show import Cue

GREAT_CHANGE_UV = 0.15
"""Distance in u′v′ that counts as a change of colour for the flash guard. WCAG 2.2 takes 0.2 for a red flash
(from memory); what the emitters give can differ from what was asked."""

Layer = Literal["shown", "master", "blackout"]
"""What scales the look as a whole, field names of ``Playback``; ``shown`` is solo and without."""
LAYERS: tuple[Layer, ...] = get_args(Layer)


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
class Touch:
    """Which lamps (n,) are given a new level, colour, effect; the others keep moving as they do."""

    level: BoolArray
    colour: BoolArray
    effect: BoolArray


def everything(n: int) -> Touch:
    """Return the touch of a whole look."""
    every = np.ones(n, dtype=np.bool_)
    return Touch(every, every, every)


def move(
    playback: Playback,
    score: Score,
    now: float,
    target: Target,
    touch: Touch,
    times: Times,
    *,
    guarded: bool,
    urgent: bool = False,
) -> Playback:
    """Return the playback whose touched lamps leave at ``now`` (real s) from what shows for ``target``.

    Levels that rise take ``in_s``, levels that fall ``out_s``, colours and effects the longer of both. A
    lamp at black takes its new colour at once, one that falls to black keeps its own. ``guarded`` holds
    effects and changes to the flash guard; what is ``urgent`` does not wait for it all the same.
    """
    time = playback.show_time(now)
    old = playback.movement
    here = showing(old, time, score)
    goal = _goal(here, old.goal, target.lights, touch)
    factor = playback.shown.goal * playback.master.goal * playback.blackout.goal
    allowed = _allowed(playback, bool(touch.level.all()), target.effects)
    watch, free = _free_from(playback, score, now, here, goal, factor, guarded and not urgent, None, allowed)
    leave = time + (free - now)

    # A lamp that identify lights up is not black to the eye, whatever its level.
    black = (here.level == 0.0) & (playback.breath.at(now) == 0.0)
    voices, sounding = retuned(
        playback.voices,
        target.effects,
        time,
        progress=progress_at(old, time)[EFFECT],
        touched=touch.effect,
        from_black=black,
        guarded=guarded,
    )
    start_colour = np.where(black, goal.colour, here.colour)
    start_white = np.where(black, goal.white, here.white)
    rises, falls = goal.level > here.level, goal.level < here.level
    tinted = (start_colour != goal.colour).any(axis=0) | (start_white != goal.white)
    # What stands still leaves now and has arrived; what moves leaves when the guard lets it.
    moves = _rows(rises | falls, tinted, sounding)
    spans = moves * times.longer_s
    spans[LEVEL] = rises * times.in_s + falls * times.out_s
    begin = np.where(moves, leave, time)
    rows = _rows(touch.level, touch.colour, sounding)
    begin = np.where(rows, begin, old.begin)
    end = np.where(rows, begin + spans, old.end)
    start = Lights(
        level=np.where(touch.level, here.level, old.start.level),
        white=np.where(touch.colour, start_white, old.start.white),
        colour=np.where(touch.colour, start_colour, old.start.colour),
    )
    movement = Movement(
        start=start,
        goal=goal,
        begin=begin,
        end=end,
        curve=np.where(touch.level, np.int8(times.curve), old.curve).astype(np.int8),
        stops=stop_places(start.level, goal.level, score) if _by_stops(times.curve, old) else old.stops,
        by_white=np.where(touch.colour, start_white & goal.white, old.by_white),
        settled_at=float(end.max(initial=time)),
    )
    return replace(playback, movement=movement, voices=voices, asked=target.asked, watch=watch)


def _rows(level: BoolArray, colour: BoolArray, effect: BoolArray) -> BoolArray:
    """Three rows as one array (3, n), in the order of ``Movement``."""
    rows = np.empty((3, level.size), dtype=np.bool_)
    rows[LEVEL], rows[COLOUR], rows[EFFECT] = level, colour, effect
    return rows


def _by_stops(curve: int, old: Movement) -> bool:
    """Whether any lamp moves or will move in stops; the others never read their places on that scale."""
    return curve == STOPS or bool((old.curve == STOPS).any())


def stop_places(start: FloatArray, goal: FloatArray, score: Score) -> FloatArray:
    """Return start and goal level (n,) on the scale of the stops curve, (2, n)."""
    return np.stack([stops_above_floor(score.laws.output(level)) for level in (start, goal)])


def dimmed(playback: Playback, now: float) -> FloatArray:
    """Return the factor (n,) 0–1 by which solo, without, master and blackout scale the levels now."""
    return playback.shown.at(now) * playback.master.at(now) * playback.blackout.at(now)


def dim(
    playback: Playback,
    score: Score,
    now: float,
    layer: Layer,
    goal: ArrayLike,
    span_s: float,
    *,
    urgent: bool = False,
) -> Playback:
    """Return the playback in which one layer over the look goes to ``goal``, () or (n,), in ``span_s``.

    What is ``urgent`` does not wait for the flash guard, which remembers it all the same.
    """
    old: Glide = getattr(playback, layer)
    there = replace(old, goal=np.broadcast_to(np.asarray(goal, dtype=np.float64), old.goal.shape))
    factor = np.ones(len(score.ids))
    for name in LAYERS:
        factor = factor * (there if name == layer else getattr(playback, name)).goal
    here = showing(playback.movement, playback.show_time(now), score)
    guarded = is_guarded(playback, score) and not urgent
    allowed = _allowed(playback, False)
    watch, free = _free_from(
        playback, score, now, here, playback.movement.goal, factor, guarded, layer, allowed
    )
    # Solo and without move each lamp by itself; the others move all lamps at once, when the last is free.
    leave = free if old.goal.ndim else free.max(initial=now)
    glide = old.to(there.goal, now, leave, span_s)
    match layer:
        case "shown":
            return replace(playback, watch=watch, shown=glide)
        case "master":
            return replace(playback, watch=watch, master=glide)
        case "blackout":
            return replace(playback, watch=watch, blackout=glide)


def is_guarded(playback: Playback, score: Score) -> bool:
    """Return whether the flash guard watches over changes by hand: unless the current cue turned it off."""
    cue = score.cue(playback.cue) if playback.cue is not None else None
    return cue is None or cue.flash_guard


def _goal(here: Lights, old: Lights, new: Lights, touch: Touch) -> Lights:
    level = np.where(touch.level, new.level, old.level)
    keeps = (level == 0.0) & (here.level > 0.0)
    white = np.where(touch.colour, np.where(keeps, here.white, new.white), old.white)
    colour = np.where(touch.colour, np.where(keeps, here.colour, new.colour), old.colour)
    return Lights(level, white, colour)


def _free_from(
    playback: Playback,
    score: Score,
    now: float,
    here: Lights,
    goal: Lights,
    factor: FloatArray,
    guarded: bool,
    layer: Layer | None,
    allowed: NDArray[np.int64],
) -> tuple[Watch, FloatArray]:
    """When the flash guard lets each lamp leave ``here`` for ``goal``, dimmed by ``factor``."""
    shown = score.laws.output(here.level * dimmed(playback, now))
    to = score.laws.output(goal.level * factor)
    far = np.hypot(*(goal.colour[U:] - here.colour[U:])) >= GREAT_CHANGE_UV
    return space_out(
        playback.watch,
        now,
        shown=shown,
        goal=to,
        recoloured=far & (shown > 0.0) & (to > 0.0),
        crossing=_crossing(playback, now, layer),
        turns_allowed=allowed,
        guarded=guarded,
    )


def _allowed(playback: Playback, in_chain: bool, effects: Effects | None = None) -> NDArray[np.int64]:
    """How many changes of each lamp (n,) the flash guard lets begin in a second."""
    allowed = np.full(playback.marked.size, TURNS)
    few = TURNS_WITH_EFFECT_IN_CHAIN if in_chain else TURNS_WITH_EFFECT
    if playback.voices.live.size:
        allowed[playback.voices.live % allowed.size] = few
    if effects is not None:
        allowed[effects.kind > 0] = few
    return allowed


def _crossing(playback: Playback, now: float, layer: Layer | None) -> BoolArray:
    """Which lamps (n,) something else than what is about to move them (None: the look itself) is moving."""
    time = playback.show_time(now)
    result = np.zeros(playback.marked.size, dtype=np.bool_)
    if layer is not None and time < playback.movement.settled_at:
        result |= playback.movement.end[LEVEL] > time
    for name in LAYERS:
        glide = getattr(playback, name)
        if layer != name and now < glide.settled_at:
            result |= glide.end > now
    return result
