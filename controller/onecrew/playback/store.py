"""Store: after the look that is showing went into a cue, that cue is the one that shows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from onecrew.commands.models import Recall
from onecrew.playback.apply import apply
from onecrew.playback.render import moving
from onecrew.playback.score import Score
from onecrew.playback.state import Playback


def stored(playback: Playback, number: str, now: float, score: Score) -> Playback:
    """Return the playback after its look was stored as cue ``number`` of ``score``.

    A fade in progress ends where it was stored, unless the desk is locked or held: what was stored is what
    stays. Effects go on as they are.
    """
    still = playback.movement.settled_at <= playback.show_time(now)
    if not still and moving(playback, now) and not playback.locked and not playback.held:
        return apply(playback, Recall(cue=number, fade_s=0.0), now, score)
    after = score.after(number)
    return replace(
        playback,
        cue=number,
        next=after.number if after else None,
        marked=np.zeros_like(playback.marked),
    )
