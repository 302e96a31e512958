"""Events: commands, and what happens by itself (delays, auto-follows, a countdown), each at its moment."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.table import in_words
from onecrew.errors import Refused
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.perform import fade_to, perform, run_cue
from onecrew.playback.state import Playback

_MOST_EVENTS = 10_000
"""Events carried out in one call: a chain runs forward only, so no show comes near."""

Event = Literal["delay", "follow", "countdown"]


def advance(playback: Playback, now: float, compiled: CompiledShow) -> Playback:
    """Return the playback after everything due at or before ``now``; the same object if nothing was.

    A late call changes no timing: each event happens at its due time, in order. A countdown whose command is
    refused, by a lock for instance, leaves the sentence in ``remark``. While locked, an auto-follow waits.
    """
    for _ in range(_MOST_EVENTS):
        event = _next(playback)
        if event is None or event[0] > now:
            break
        playback = _happen(playback, *event, compiled)
    return playback


def next_event(playback: Playback) -> float | None:
    """Return the real time (s) of what happens next by itself, None if nothing will."""
    event = _next(playback)
    return None if event is None else event[0]


def _next(playback: Playback) -> tuple[float, Event] | None:
    events: list[tuple[float, Event]] = []
    if not playback.held:
        if playback.waiting is not None:
            events.append((playback.waiting.at + playback.behind_s, "delay"))
        if playback.follow_at is not None and not playback.locked:
            events.append((playback.follow_at + playback.behind_s, "follow"))
    if playback.countdown is not None:
        events.append((playback.countdown.at, "countdown"))
    return min(events, key=lambda event: event[0], default=None)


def _happen(playback: Playback, at: float, event: Event, compiled: CompiledShow) -> Playback:
    if event == "delay" and playback.waiting is not None:
        waiting = playback.waiting
        playback = replace(playback, waiting=None)
        cue = compiled.cue(waiting.cue)
        if cue is None:
            return playback
        return fade_to(playback, compiled, cue, at, afresh=waiting.afresh)
    if event == "follow":
        playback = replace(playback, follow_at=None)
        following = compiled.after(playback.cue)
        return playback if following is None else run_cue(playback, compiled, following, at)
    counting = playback.countdown
    playback = replace(playback, countdown=None)
    if counting is None:
        return playback
    try:
        return perform(playback, counting.command, at, compiled)
    except Refused as refusal:
        return replace(playback, remark=f"countdown to {in_words(counting.command)}: {refusal}")


def apply(playback: Playback, command: PlaybackCommand, now: float, compiled: CompiledShow) -> Playback:
    """Return the playback after ``command`` at real time ``now`` (s); what was due before happens first.

    Refused, with a sentence, where the present state does not allow it; nothing is changed then.
    """
    playback = advance(playback, now, compiled)
    if playback.remark or playback.advice:
        playback = replace(playback, remark="", advice="")
    return perform(playback, command, now, compiled)
