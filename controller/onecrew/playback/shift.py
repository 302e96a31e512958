"""Shift: the whole playback moved in time, for a clock that started anew."""

from __future__ import annotations

from dataclasses import replace

from onecrew.playback.glide import Glide
from onecrew.playback.state import Playback
from onecrew.playback.watch import fresh_watch


def shift(playback: Playback, by_s: float, *, remembering: bool = False) -> Playback:
    """Return the playback with all its times later by ``by_s``.

    What the flash guard remembers of the last second is dropped, since a machine that starts anew was off for
    longer; ``remembering`` keeps it, for two clocks that both run on.
    """
    watch = playback.watch
    counting, take = playback.countdown, playback.take
    return replace(
        playback,
        held_at=None if playback.held_at is None else playback.held_at + by_s,
        behind_s=playback.behind_s + by_s,
        blackout=_later(playback.blackout, by_s),
        master=_later(playback.master, by_s),
        shown=_later(playback.shown, by_s),
        breath=_later(playback.breath, by_s),
        breath_since=playback.breath_since + by_s,
        countdown=None if counting is None else replace(counting, at=counting.at + by_s),
        take=None if take is None else replace(take, since=take.since + by_s),
        watch=replace(watch, turns=watch.turns + by_s) if remembering else fresh_watch(len(playback.asked)),
    )


def _later(glide: Glide, by_s: float) -> Glide:
    return replace(glide, begin=glide.begin + by_s, end=glide.end + by_s, settled_at=glide.settled_at + by_s)
