"""Takes: numbered within their setup, each with its chain of cues where it has one."""

from __future__ import annotations

from dataclasses import replace

from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.errors import Refused
from onecrew.language.names import no_cue
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.cue_runs import run_chain
from onecrew.playback.state import Playback, Take
from onecrew.show.base import known_as

FIRST_SETUP = "1"
"""Name of the setup of takes that were started without one."""


def start_take(playback: Playback, compiled: CompiledShow, command: TakeStart, now: float) -> Playback:
    """Return the playback with a take running, numbered within its setup, and its chain of cues begun."""
    if playback.take is not None and playback.take.running:
        raise Refused(
            f"take {playback.take.number} of setup {playback.take.setup} is still running: end it first"
        )
    last = playback.take.setup if playback.take is not None else FIRST_SETUP
    counted = dict(playback.takes)
    said = (command.setup or "").strip() or last
    setup = known_as(said, counted) or said  # reels of names that look alike are one file on some disks
    counted[setup] = counted.get(setup, 0) + 1
    take = Take(setup=setup, number=counted[setup], running=True, since=now)
    showing_now = ((playback.cue, playback.show_time(now)),) if playback.cue is not None else ()
    rolling = replace(playback, take=take, takes=tuple(counted.items()), ran=showing_now)
    if command.chain_from is None:
        return rolling
    cue = compiled.cue(command.chain_from)
    if cue is None:
        raise Refused(no_cue(command.chain_from, compiled.cues, compiled.elsewhere))
    return run_chain(replace(rolling, ran=()), compiled, cue, now, from_black=command.from_black)


def end_take(playback: Playback, command: TakeEnd) -> Playback:
    """Return the playback with the take ended and judged. The light goes on as it is, auto-follows too."""
    if playback.take is None or not playback.take.running:
        raise Refused("no take is running")
    take = replace(playback.take, running=False, good=command.good, note=command.note)
    return replace(playback, take=take)
