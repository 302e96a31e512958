"""Takes: when the camera runs, and the chain of cues that a take may replay."""

from __future__ import annotations

from dataclasses import replace

from onecrew.commands.models import TakeEnd, TakeStart
from onecrew.errors import Refused
from onecrew.playback.run import run_from_start
from onecrew.playback.score import Score
from onecrew.playback.state import Playback, Take

FIRST_SETUP = "1"
"""Name of the setup of takes that were started without one."""


def start_take(playback: Playback, score: Score, command: TakeStart, now: float) -> Playback:
    """Return the playback with a take running, numbered within its setup, and its chain of cues begun."""
    if playback.take is not None and playback.take.running:
        raise Refused(f"take {playback.take.number} of setup {playback.take.setup} still runs: end it first")
    if command.chain_from is not None:
        cue = score.cue(command.chain_from)
        if cue is None:
            raise Refused(f"there is no cue {command.chain_from} to start the take from")
        playback = run_from_start(playback, score, cue, now)
    last = playback.take.setup if playback.take is not None else FIRST_SETUP
    setup = command.setup or last
    counted = dict(playback.takes)
    counted[setup] = counted.get(setup, 0) + 1
    take = Take(setup=setup, number=counted[setup], running=True, since=now)
    return replace(playback, take=take, takes=tuple(counted.items()))


def end_take(playback: Playback, command: TakeEnd) -> Playback:
    """Return the playback with the take ended and judged. The light goes on as it is, auto-follows too."""
    if playback.take is None or not playback.take.running:
        raise Refused("no take runs")
    take = replace(playback.take, running=False, good=command.good, note=command.note)
    return replace(playback, take=take)
