"""Perform: one command on a playback that is up to date. ``apply`` and ``advance`` both end here."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from onecrew.commands.models import (
    Back,
    Blackout,
    CancelCountdown,
    Compare,
    Countdown,
    Go,
    Hold,
    Identify,
    Lock,
    Master,
    PlaybackCommand,
    Recall,
    Revert,
    SetLight,
    Solo,
    TakeEnd,
    TakeStart,
    Without,
)
from onecrew.errors import Refused
from onecrew.playback.edits import compare, revert, set_light
from onecrew.playback.frame import FloatArray
from onecrew.playback.move import dim
from onecrew.playback.run import released, run_cue
from onecrew.playback.score import Score
from onecrew.playback.state import Counting, Playback
from onecrew.playback.takes import end_take, start_take
from onecrew.playback.words import words

BLACKOUT_FADE_S = 0.4
VIEW_FADE_S = 0.15
"""Solo and without: as good as at once, without the bang."""
BREATH_FADE_S = 0.5


def perform(playback: Playback, command: PlaybackCommand, now: float, score: Score) -> Playback:
    """Return the playback after the command; Refused, with nothing changed, where it cannot be."""
    if playback.locked and changes_light(command):
        raise Refused(f"the light is locked, so {words(command)} was not done: unlock first")
    match command:
        case Go():
            return _go(playback, score, now)
        case Back():
            return _back(playback, score, now)
        case Recall():
            cue = score.cue(command.cue)
            if cue is None:
                have = ", ".join(cue.number for cue in score.cues) or "none yet"
                raise Refused(f"there is no cue {command.cue} in this show; it has {have}")
            return run_cue(playback, score, cue, now, command.fade_s)
        case Hold():
            return _hold(playback, command.on, now)
        case Blackout():
            return black_out(playback, score, now, command.on, BLACKOUT_FADE_S)
        case Master():
            return dim(playback, score, now, "master", command.level, 0.0, urgent=True)
        case Lock():
            return _lock(playback, command.on, now)
        case SetLight():
            return set_light(playback, score, command, now)
        case Revert():
            return revert(playback, score, command, now)
        case Compare():
            return compare(playback, score, command, now)
        case Solo() | Without():
            return _view(playback, score, command, now)
        case Identify():
            return _identify(playback, score, command.fixtures, now)
        case Countdown():
            return replace(playback, countdown=Counting(now + command.seconds, command.command))
        case CancelCountdown():
            if playback.countdown is None:
                raise Refused("no countdown runs")
            return replace(playback, countdown=None)
        case TakeStart():
            return start_take(playback, score, command, now)
        case TakeEnd():
            return end_take(playback, command)


def changes_light(command: PlaybackCommand) -> bool:
    """Return whether a lock refuses the command: all but lock, blackout, take marks, cancel."""
    if isinstance(command, Countdown):
        return changes_light(command.command)
    if isinstance(command, TakeStart):
        return command.chain_from is not None
    return not isinstance(command, Lock | Blackout | TakeEnd | CancelCountdown)


def black_out(playback: Playback, score: Score, now: float, on: bool | None, fade_s: float) -> Playback:
    """Return the playback on its way to black or back, toggled for None."""
    dark = not playback.dark if on is None else on
    if dark == playback.dark:
        return playback
    # Into the dark at once, come what may; it is the way back that the flash guard may hold up.
    return replace(
        dim(playback, score, now, "blackout", 0.0 if dark else 1.0, fade_s, urgent=dark), dark=dark
    )


def _go(playback: Playback, score: Score, now: float) -> Playback:
    cue = score.after(playback.cue)
    if cue is None:
        if playback.cue is None:
            raise Refused("this show has no cues yet: store what is showing as a cue first")
        raise Refused(f"cue {playback.cue} is the last: nothing comes after it")
    return run_cue(playback, score, cue, now)


def _back(playback: Playback, score: Score, now: float) -> Playback:
    if playback.cue is None:
        raise Refused("no cue has run yet, so there is none to go back to")
    cue = score.before(playback.cue)
    if cue is None:
        raise Refused(f"cue {playback.cue} is the first: nothing comes before it")
    return run_cue(playback, score, cue, now)


def _hold(playback: Playback, on: bool | None, now: float) -> Playback:
    hold = not playback.held if on is None else on
    if hold == playback.held:
        return playback
    return replace(playback, held_at=now) if hold else released(playback, now)


def _lock(playback: Playback, on: bool | None, now: float) -> Playback:
    """A lock holds an auto-follow; one whose time came meanwhile goes on as the lock is opened."""
    locked = not playback.locked if on is None else on
    follow_at = playback.follow_at
    if playback.locked and not locked and follow_at is not None:
        follow_at = max(follow_at, playback.show_time(now))
    return replace(playback, locked=locked, follow_at=follow_at)


def _view(playback: Playback, score: Score, command: Solo | Without, now: float) -> Playback:
    lamps = score.lamps(command.fixtures)
    names = tuple(score.ids[lamp] for lamp in lamps)
    if isinstance(command, Solo):
        playback = replace(playback, solo=names)
    else:
        playback = replace(playback, without=names)
    return dim(playback, score, now, "shown", view(playback, score), VIEW_FADE_S)


def view(playback: Playback, score: Score) -> FloatArray:
    """Return the factor (n,), 0 or 1, that solo and without give each lamp."""
    return np.array(
        [
            float((not playback.solo or name in playback.solo) and name not in playback.without)
            for name in score.ids
        ],
        dtype=np.float64,
    )


def _identify(playback: Playback, score: Score, fixtures: tuple[str, ...], now: float) -> Playback:
    lamps = score.lamps(fixtures)
    weight = np.zeros(len(score.ids))
    weight[lamps] = 1.0
    anew = now >= playback.breath.settled_at and not playback.identify
    return replace(
        playback,
        identify=tuple(score.ids[lamp] for lamp in lamps),
        breath=playback.breath.to(weight, now, now, BREATH_FADE_S),
        breath_since=now if anew else playback.breath_since,
    )
