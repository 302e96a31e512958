"""Looks of cues as frames, to work out what the lamps would do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from onecrew.playback.compiled_show import compile_show
from onecrew.playback.lights import DUV, MIRED, Frame, U, V
from onecrew.show.profile import Profile
from onecrew.show.show import Cue, Show


def frames_of_cues(show: Show, profiles: Mapping[str, Profile]) -> Iterator[tuple[Cue, Frame]]:
    """Each cue in order with its look as a frame, effects apart."""
    compiled = compile_show(show, profiles)
    for cue in compiled.cues:
        lights = compiled.target(cue).lights
        colour = lights.colour
        yield cue, Frame(lights.level, lights.white, colour[MIRED], colour[DUV], colour[U], colour[V])
