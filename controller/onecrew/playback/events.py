"""Events: commands, and what happens by itself (delays, auto-follows, a countdown, the end of a still or of a
pulse), each at its moment.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.light import PULSED_S, Compare, Edits, Identify, Revert, SetLight, Solo, Without
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.stills import KEPT_S, ShowStill
from onecrew.commands.table import in_words, row_of
from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.errors import Refused
from onecrew.language.names import no_cue
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.cue_runs import end_delay, released, run_cue
from onecrew.playback.edits import bring_back, compare, revert, set_light, show_part, single_move
from onecrew.playback.fades import dim
from onecrew.playback.render import moving
from onecrew.playback.single_lamp import SingleMove
from onecrew.playback.state import Counting, Playback, Still
from onecrew.playback.takes import end_take, start_take

_MOST_EVENTS = 10_000
"""Events carried out in one call: a chain runs forward only, so no show comes near."""

Event = Literal["delay", "follow", "countdown", "still", "identify"]


def advance(playback: Playback, now: float, compiled: CompiledShow) -> Playback:
    """Return the playback after everything due at or before ``now``; the same object if nothing was.

    A late call changes no timing: each event happens at its due time, in order. A countdown whose command is
    refused, by a lock for instance, leaves the sentence in ``remark``. While locked, an auto-follow and the
    end of a still wait.
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
    if playback.still is not None and not playback.locked:
        events.append((playback.still.until, "still"))
    if playback.identify_until is not None:
        events.append((playback.identify_until, "identify"))
    return min(events, key=lambda event: event[0], default=None)


def _happen(playback: Playback, at: float, event: Event, compiled: CompiledShow) -> Playback:
    if event == "delay" and playback.waiting is not None:
        return end_delay(playback, compiled, playback.waiting, at)
    if event == "follow":
        playback = replace(playback, follow_at=None)
        following = compiled.after(playback.cue)
        return playback if following is None else run_cue(playback, compiled, following, at)
    if event == "still":
        return replace(playback, still=None)
    if event == "identify":
        return _identify(playback, compiled, Identify(), at)
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


def apply_at_once(
    playback: Playback, command: PlaybackCommand, now: float, compiled: CompiledShow
) -> SingleMove | None:
    """Return the move that ``apply`` comes to where its frame is known before the playback, else None."""
    if not isinstance(command, SetLight) or command.fade_s:
        return None
    due = next_event(playback)
    if (due is not None and due <= now) or playback.remark or playback.advice:
        return None
    if playback.locked or playback.still is not None or moving(playback, now):
        return None
    return single_move(playback, compiled, command, now)


BLACKOUT_FADE_S = 0.4
PULSE_FADE_S = 0.5
BESIDE_A_STILL = (Blackout, Hold, Lock, Countdown, CancelCountdown, TakeEnd)
"""Commands that leave a still as it is; any other ends it, so that nobody waits for light that is hidden."""


def perform(playback: Playback, command: PlaybackCommand, now: float, compiled: CompiledShow) -> Playback:
    """Return the playback after the command; Refused, with nothing changed, where it cannot be."""
    if playback.locked and row_of(command).lock_refuses(command):
        raise Refused(f"the light is locked, so {in_words(command)} was not done: unlock first")
    if isinstance(command, ShowStill):
        return _show_still(playback, compiled, command, now)
    if playback.still is not None and not isinstance(command, BESIDE_A_STILL):
        playback = replace(playback, still=None)
    match command:
        case Go():
            return _go(playback, compiled, now)
        case Back():
            return _back(playback, compiled, now)
        case Recall():
            cue = compiled.cue(command.cue)
            if cue is None:
                raise Refused(no_cue(command.cue, compiled.cues, compiled.elsewhere))
            return run_cue(playback, compiled, cue, now, command.fade_s)
        case Hold():
            return _hold(playback, command.on, now)
        case Blackout():
            return black_out(playback, compiled, now, command.on, BLACKOUT_FADE_S)
        case Master():
            return dim(playback, compiled, now, "master", command.level, 0.0, urgent=True)
        case Lock():
            return _lock(playback, command.on, now)
        case SetLight():
            return set_light(playback, compiled, command, now)
        case Revert():
            return revert(playback, compiled, command, now)
        case Compare():
            return compare(playback, compiled, command, now)
        case Edits():
            return bring_back(playback, compiled, command, now)
        case Solo() | Without():
            return _view(playback, compiled, command, now)
        case Identify():
            if command.fixtures:
                _refuse_in_a_take(playback)
            return _identify(playback, compiled, command, now)
        case Countdown():
            _refuse_missing_cue(command.command, compiled)
            return replace(playback, countdown=Counting(now + command.seconds, command.command))
        case CancelCountdown():
            if playback.countdown is None:
                raise Refused("no countdown is running")
            return replace(playback, countdown=None)
        case TakeStart():
            if playback.identify:  # a lamp that still pulses would be in this pass and not in the other
                playback = _identify(playback, compiled, Identify(), now)
            return start_take(playback, compiled, command, now)
        case TakeEnd():
            return end_take(playback, command)
        case _:
            raise TypeError(f"playback does not know how to {in_words(command)}")


def _refuse_in_a_take(playback: Playback) -> None:
    if playback.take is not None and playback.take.running:
        raise Refused("a take is running; end it first")


def _refuse_missing_cue(command: PlaybackCommand, compiled: CompiledShow) -> None:
    """What cannot run later is refused now, while somebody is at the desk."""
    number = command.cue if isinstance(command, Recall) else None
    if isinstance(command, TakeStart):
        number = command.chain_from
    if number is not None and compiled.cue(number) is None:
        raise Refused(no_cue(number, compiled.cues, compiled.elsewhere))


def black_out(
    playback: Playback, compiled: CompiledShow, now: float, on: bool | None, fade_s: float
) -> Playback:
    """Return the playback on its way to black or back, toggled for None."""
    dark = not playback.dark if on is None else on
    if dark == playback.dark:
        return playback
    # Into the dark at once, come what may; it is the way back that the flash guard may hold up.
    return replace(
        dim(playback, compiled, now, "blackout", 0.0 if dark else 1.0, fade_s, urgent=dark), dark=dark
    )


def _go(playback: Playback, compiled: CompiledShow, now: float) -> Playback:
    cue = compiled.after(playback.cue)
    if cue is None:
        if playback.cue is None:
            raise Refused("this scene has no cues yet: store what is showing as a cue first")
        raise Refused(f"cue {playback.cue} is the last: there is no cue after it")
    return run_cue(playback, compiled, cue, now)


def _back(playback: Playback, compiled: CompiledShow, now: float) -> Playback:
    if playback.cue is None:
        raise Refused("no cue has run yet, so there is none to go back to")
    cue = compiled.before(playback.cue)
    if cue is None:
        raise Refused(f"cue {playback.cue} is the first: there is no cue before it")
    return run_cue(playback, compiled, cue, now)


def _hold(playback: Playback, on: bool | None, now: float) -> Playback:
    hold = not playback.held if on is None else on
    if hold == playback.held:
        return playback
    return replace(playback, held_at=now) if hold else released(playback, now)


def _show_still(playback: Playback, compiled: CompiledShow, command: ShowStill, now: float) -> Playback:
    """One lamp alone, kept, or the look again; a lock keeps what shows."""
    showing = playback.still
    lamps = compiled.lamps(() if command.fixture is None else (command.fixture,))
    names = tuple(compiled.ids[lamp] for lamp in lamps)
    light = (names, command.output, command.cct_k, command.duv)
    same = showing is not None and light == (showing.fixtures, showing.output, showing.cct_k, showing.duv)
    if command.again and not same:
        raise Refused("another command changed the light meanwhile, so the still is over")
    if command.off:
        return replace(playback, still=None)
    if playback.dark:
        raise Refused("everything is blacked out; come back first: onecrew send blackout off")
    _refuse_in_a_take(playback)
    return replace(playback, still=Still(*light, until=now + KEPT_S, words=command.words))


def _lock(playback: Playback, on: bool | None, now: float) -> Playback:
    """A lock holds an auto-follow; one whose time came meanwhile goes on as the lock is opened."""
    locked = not playback.locked if on is None else on
    follow_at = playback.follow_at
    if playback.locked and not locked and follow_at is not None:
        follow_at = max(follow_at, playback.show_time(now))
    return replace(playback, locked=locked, follow_at=follow_at)


def _view(playback: Playback, compiled: CompiledShow, command: Solo | Without, now: float) -> Playback:
    lamps = compiled.lamps(command.fixtures)
    names = tuple(compiled.ids[lamp] for lamp in lamps)
    if isinstance(command, Solo):
        return show_part(playback, compiled, now, names, playback.without)
    return show_part(playback, compiled, now, playback.solo, names)


def _identify(playback: Playback, compiled: CompiledShow, command: Identify, now: float) -> Playback:
    lamps = compiled.lamps(command.fixtures)
    weight = np.zeros(len(compiled.ids))
    weight[lamps] = 1.0
    anew = now >= playback.pulse.settled_at and not playback.identify
    return replace(
        playback,
        identify=tuple(compiled.ids[lamp] for lamp in lamps),
        identify_until=now + PULSED_S if command.briefly else None,
        pulse=playback.pulse.to(weight, now, now, PULSE_FADE_S),
        pulse_since=now if anew else playback.pulse_since,
    )


def fade_away(playback: Playback, now: float, fade_s: float, compiled: CompiledShow) -> Playback:
    """Return the playback that goes to black within ``fade_s`` from ``now`` and does nothing by itself again.

    It works while locked, held or identifying, and keeps everything else as it is.
    """
    calm = replace(playback, waiting=None, follow_at=None, countdown=None)
    return replace(dim(calm, compiled, now, "blackout", 0.0, fade_s, urgent=True), dark=True)


def stored(playback: Playback, number: str, now: float, compiled: CompiledShow) -> Playback:
    """Return the playback after its look was stored as cue ``number`` of ``compiled``.

    A fade in progress ends where it was stored, and a cue that waits out its delay does not come: what was
    stored is what stays. Where the desk is locked or held the cue still comes, and the fade goes on to the
    cue that is on, which stays the one that is told. Effects go on as they are.
    """
    still = playback.movement.settled_at <= playback.show_time(now)
    under_way = playback.waiting is not None or (not still and moving(playback, now))
    if under_way and not playback.locked and not playback.held:
        playback = replace(playback, by_hand=np.zeros_like(playback.by_hand))  # they are stored
        arrived = perform(playback, Recall(cue=number, fade_s=0.0), now, compiled)
        return replace(arrived, solo=playback.solo, without=playback.without, shown=playback.shown)
    if not still and (playback.locked or playback.held):
        # It goes on to what a replaced look was, which counts as edited from now on.
        return replace(playback, by_hand=playback.by_hand | (number == playback.cue))
    after = compiled.after(number)
    return replace(
        playback,
        cue=number,
        next=after.number if after else None,
        by_hand=np.zeros_like(playback.by_hand),
    )
