"""Apply: the door for commands."""

from __future__ import annotations

from dataclasses import replace

from onecrew.commands.models import PlaybackCommand
from onecrew.playback.advance import advance
from onecrew.playback.perform import perform
from onecrew.playback.score import Score
from onecrew.playback.state import Playback


def apply(playback: Playback, command: PlaybackCommand, now: float, score: Score) -> Playback:
    """Return the playback after ``command`` at real time ``now`` (s); what was due before happens first.

    Refused, with a sentence, where the present state does not allow it; nothing is changed then.
    """
    playback = advance(playback, now, score)
    if playback.remark:
        playback = replace(playback, remark="")
    return perform(playback, command, now, score)
