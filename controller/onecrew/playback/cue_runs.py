"""A cue runs: its lamps leave for its look, and what comes of it later is noted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from onecrew.playback.compiled_show import DARK, CompiledShow
from onecrew.playback.edits import keep_edits
from onecrew.playback.effect_layers import no_effects
from onecrew.playback.fades import everything, move, showing, times_of
from onecrew.playback.fields import LONG_AGO
from onecrew.playback.flash_guard import no_flashes
from onecrew.playback.state import EFFECT, Playback, Waiting, rest, still
from onecrew.show.show import Cue


def run_cue(
    playback: Playback,
    compiled: CompiledShow,
    cue: Cue,
    now: float,
    fade_s: float | None = None,
    *,
    afresh: bool = False,
) -> Playback:
    """Return the playback with ``cue`` run at ``now`` (real s), at its own times or all at ``fade_s``.

    Edits that nobody stored are kept with their cue, a comparison ends, a hold is released; solo and without
    end as the lamps leave, so that what a cue shows depends on nothing that came before. The delay is waited
    out while whatever fades goes on fading, unless ``fade_s`` overrides it; auto-follow and delay both count
    from ``now``.
    """
    playback = _without_edits(released(playback, now), compiled, cue.number)
    time = playback.show_time(now)
    after = compiled.after(cue.number)
    waits = cue.delay_s > 0.0 and fade_s is None
    rolling = playback.take is not None and playback.take.running
    playback = replace(
        playback,
        cue=cue.number,
        next=after.number if after else None,
        follow_at=None if cue.auto_follow_s is None else time + cue.auto_follow_s,
        waiting=Waiting(cue.number, time + cue.delay_s, afresh, playback.asked) if waits else None,
        still=None,
        ran=(*playback.ran, (cue.number, time)) if rolling else playback.ran,
    )
    return playback if waits else fade_to(playback, compiled, cue, now, fade_s, afresh=afresh)


def end_delay(playback: Playback, compiled: CompiledShow, waiting: Waiting, now: float) -> Playback:
    """Return the playback whose lamps leave for the cue that waited; what was edited meanwhile is kept."""
    cue = compiled.cue(waiting.cue)
    if cue is None:
        return replace(playback, waiting=None)
    after = compiled.after(cue.number)
    playback = replace(
        _without_edits(playback, compiled, cue.number),
        cue=cue.number,  # a look that was stored meanwhile was on until now
        next=after.number if after else None,
        waiting=None,
    )
    return fade_to(playback, compiled, cue, now, afresh=waiting.afresh)


def _without_edits(playback: Playback, compiled: CompiledShow, coming: str) -> Playback:
    """The playback before the light of cue ``coming``, its edits kept with their cue, no comparison on."""
    playback = keep_edits(playback, compiled, coming)
    return replace(playback, by_hand=np.zeros_like(playback.by_hand), aside=None)


def fade_to(
    playback: Playback,
    compiled: CompiledShow,
    cue: Cue,
    now: float,
    fade_s: float | None = None,
    *,
    afresh: bool = False,
) -> Playback:
    """Return the playback whose lamps leave at ``now`` for the look of ``cue``; ``afresh`` as in ``move``."""
    return move(
        _seen_whole(playback, compiled, now),
        compiled,
        now,
        compiled.target(cue),
        everything(len(compiled.ids)),
        times_of(cue, fade_s),
        guarded=cue.flash_guard,
        afresh=afresh,
    )


def _seen_whole(playback: Playback, compiled: CompiledShow, now: float) -> Playback:
    """Solo and without end as a cue runs: what they hid is black, and leaves from there for the cue."""
    time = playback.show_time(now)
    shares = playback.shown.at(now)
    if not playback.solo and not playback.without and (shares == 1.0).all():
        return playback
    movement, here = playback.movement, showing(playback.movement, time, compiled)
    seen = replace(here, level=here.level * shares)
    begin, end = movement.begin.copy(), movement.end.copy()
    begin[:EFFECT], end[:EFFECT] = LONG_AGO, LONG_AGO
    movement = replace(movement, start=seen, goal=seen, begin=begin, end=end)
    return replace(playback, movement=movement, shown=rest(np.ones_like(shares)), solo=(), without=())


def run_chain(
    playback: Playback, compiled: CompiledShow, cue: Cue, now: float, *, from_black: bool
) -> Playback:
    """Return the playback that runs ``cue`` and what follows it, from what shows or from black.

    Effects begin their clocks with the chain, so that from the same light it is the same every time, frame
    for frame; from black it is that whatever showed before.
    """
    playback = released(playback, now)
    n = len(compiled.ids)
    if from_black:
        black = still(compiled, compiled.natural)
        dark = rest(np.zeros(n))
        playback = replace(playback, movement=black, effects=no_effects(n), asked=(DARK,) * n, pulse=dark)
    # The flash guard starts anew as well: what it remembers would hold up one pass and not the other.
    playback = replace(playback, flashes=no_flashes(n))
    return run_cue(playback, compiled, cue, now, afresh=True)


def released(playback: Playback, now: float) -> Playback:
    """Return the playback with its show time running."""
    if playback.held_at is None:
        return playback
    return replace(playback, held_at=None, behind_s=playback.behind_s + (now - playback.held_at))
