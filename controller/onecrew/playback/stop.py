"""Stop: all lamps to black, whatever else is going on, before the engine ends."""

from __future__ import annotations

from dataclasses import replace

from onecrew.playback.move import dim
from onecrew.playback.score import Score
from onecrew.playback.state import Playback


def fade_away(playback: Playback, now: float, fade_s: float, score: Score) -> Playback:
    """Return the playback that goes to black within ``fade_s`` from ``now`` and does nothing by itself again.

    It works while locked, held or identifying, and keeps everything else as it is.
    """
    calm = replace(playback, waiting=None, follow_at=None, countdown=None)
    return replace(dim(calm, score, now, "blackout", 0.0, fade_s, urgent=True), dark=True)
