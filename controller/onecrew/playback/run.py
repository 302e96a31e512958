"""Run: carry out cues — at once, after their delay, or as the start of a take."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from onecrew.playback.move import everything, move, times_of
from onecrew.playback.score import DARK, Score
from onecrew.playback.state import Playback, Waiting, no_voices, still
from onecrew.playback.watch import fresh_watch
from onecrew.show.show import Cue


def run_cue(playback: Playback, score: Score, cue: Cue, now: float, fade_s: float | None = None) -> Playback:
    """Return the playback with ``cue`` run at ``now`` (real s), at its own times or all at ``fade_s``.

    Edits by hand are dropped, a comparison ends, a hold is released. The delay is waited out while whatever
    fades goes on fading, unless ``fade_s`` overrides it; auto-follow and delay both count from ``now``.
    """
    playback = released(playback, now)
    time = playback.show_time(now)
    after = score.after(cue.number)
    waits = cue.delay_s > 0.0 and fade_s is None
    playback = replace(
        playback,
        cue=cue.number,
        next=after.number if after else None,
        follow_at=None if cue.auto_follow_s is None else time + cue.auto_follow_s,
        waiting=Waiting(cue.number, time + cue.delay_s) if waits else None,
        marked=np.zeros(len(score.ids), dtype=np.bool_),
        aside=None,
    )
    return playback if waits else fade_to(playback, score, cue, now, fade_s)


def fade_to(playback: Playback, score: Score, cue: Cue, now: float, fade_s: float | None = None) -> Playback:
    """Return the playback whose lamps leave at ``now`` for the look of ``cue``."""
    return move(
        playback,
        score,
        now,
        score.target(cue),
        everything(len(score.ids)),
        times_of(cue, fade_s),
        guarded=cue.flash_guard,
    )


def run_from_start(playback: Playback, score: Score, cue: Cue, now: float) -> Playback:
    """Return the playback that opens in the look before ``cue``, complete, and runs ``cue`` from there.

    Whatever showed before leaves no trace, so that every run of a chain is the same, frame for frame. The
    look before is that of the cue before it, black before the first; effects begin their clocks at ``now``.
    """
    playback = released(playback, now)
    n = len(score.ids)
    before = score.before(cue.number)
    lights = score.natural if before is None else score.target(before).lights
    # The flash guard starts anew as well: what it remembers would hold up one pass and not the other.
    playback = replace(
        playback,
        movement=still(score, lights),
        voices=no_voices(n),
        asked=(DARK,) * n if before is None else score.target(before).asked,
        watch=fresh_watch(n),
    )
    if before is not None:
        playback = fade_to(playback, score, before, now, 0.0)
    return run_cue(playback, score, cue, now)


def released(playback: Playback, now: float) -> Playback:
    """Return the playback with its show time running."""
    if playback.held_at is None:
        return playback
    return replace(playback, held_at=None, behind_s=playback.behind_s + (now - playback.held_at))
