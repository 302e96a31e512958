"""Recorded state: what the desk sends at one moment, as plain data in the shape of ``log.recorded_state``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from onecrew.engine.state import State
from onecrew.fixtures.report import FixtureReport
from onecrew.show.base import Model
from onecrew.show.profile import Mode, Profile
from onecrew.show.profile_words import slot_blocks
from onecrew.show.show import Cue, Show


def recorded_state(state: State) -> dict[str, Any]:
    """What is sent at the moment of the state, without the time on the wall."""
    playback, show, cue, fade = state.playback, state.show, state.cue, state.fade
    return {
        "format": "onecrew-sheet",
        "version": 1,
        "show": show.name,
        "scene": show.scene if show.other_scenes else "",
        "cue": _deleted(state) if cue is None else _cue(cue, as_stored=not state.edited),
        "edited": sorted(state.edited),
        "fade": None if fade is None else {"progress": min(fade.progress, 1.0), "left_s": fade.left_s},
        "master": float(playback.master.goal),
        "blackout": playback.dark,
        "held": playback.held,
        "locked": playback.locked,
        "comparing": playback.comparing,
        "solo": list(playback.solo),
        "without": list(playback.without),
        "identify": list(playback.identify),
        "lamps": [
            {"fixture": plain(fixture), "light": plain(light), "sent": _sent(report)}
            for fixture, light, report in zip(show.rig.fixtures, state.lights, state.reports, strict=True)
        ],
        "set_pieces": [plain(piece) for piece in show.rig.set_pieces],
        "camera": plain(show.camera),
        "room": plain(show.room),
        "kinds": kinds(show, state.desk.profiles),
    }


def _deleted(state: State) -> dict[str, Any] | None:
    """The number of the cue that ran and was deleted since; None where none ran."""
    number = state.playback.cue
    return None if number is None else {"number": number, "name": state.cue_name, "note": ""}


def _cue(cue: Cue, *, as_stored: bool) -> dict[str, Any]:
    """The cue; what a match predicted of it is left out where its look was changed by hand."""
    said: dict[str, Any] = {"number": cue.number, "name": cue.name, "note": cue.note}
    if cue.predicted is not None and as_stored:
        said["predicted"] = plain(cue.predicted)
    return said


def kinds(show: Show, profiles: Mapping[str, Profile]) -> dict[str, Any]:
    """Every profile and mode of the rig: its name and its channels in words."""
    found = {}
    for fixture in show.rig.fixtures:
        profile = profiles[fixture.profile]
        mode = profile.mode(fixture.mode)
        if mode is not None:
            found[f"{fixture.profile}/{fixture.mode}"] = _kind(profile, mode)
    return found


def plain(model: Model) -> dict[str, Any]:
    """A document's model as plain data, defaults left out."""
    return dict(model.model_dump(mode="json", exclude_defaults=True))


def _kind(profile: Profile, mode: Mode) -> dict[str, Any]:
    blocks, times = slot_blocks(mode)
    channels = [{"does": does, "slots": slots} for does, slots in blocks]
    return {"name": profile.name, "channels": channels, "segments": times}


def _sent(report: FixtureReport) -> dict[str, Any]:
    white = report.white
    return {
        "level": report.level,
        "output": report.output,
        "xy": list(report.xy),
        "white": None if white is None else {"cct_k": white.cct_k, "duv": white.duv},
        "off_by": report.off_by,
        "slots": list(report.slots),
        "swatch": report.swatch,
        "notes": list(report.notes),
    }
