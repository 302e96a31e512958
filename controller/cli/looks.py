"""Looks of cues as frames, to ask the output room what the lamps would do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from controller.documents.profile import Profile
from controller.documents.show import Cue, Show
from controller.playback.frame import Frame
from controller.playback.lights import DUV, MIRED, U, V
from controller.playback.score import compile_score


def frames_of_cues(show: Show, profiles: Mapping[str, Profile]) -> Iterator[tuple[Cue, Frame]]:
    """Each cue in order with its look as a frame, effects apart."""
    score = compile_score(show, profiles)
    for cue in score.cues:
        _, lights = score.look(cue)
        colour = lights.colour
        yield cue, Frame(lights.level, lights.white, colour[MIRED], colour[DUV], colour[U], colour[V])
