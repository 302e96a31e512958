"""Looks of cues as frames, to ask the output room what the lamps would do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from onecrew.playback.frame import Frame
from onecrew.playback.lights import DUV, MIRED, U, V
from onecrew.playback.score import compile_score
from onecrew.show.profile import Profile
from onecrew.show.show import Cue, Show


def frames_of_cues(show: Show, profiles: Mapping[str, Profile]) -> Iterator[tuple[Cue, Frame]]:
    """Each cue in order with its look as a frame, effects apart."""
    score = compile_score(show, profiles)
    for cue in score.cues:
        _, lights = score.look(cue)
        colour = lights.colour
        yield cue, Frame(lights.level, lights.white, colour[MIRED], colour[DUV], colour[U], colour[V])
