"""Moments: what the desk sends at one moment, in the shape of ``record.moment.Moment``, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from onecrew.engine.desk import Desk
from onecrew.fixtures.report import FixtureReport
from onecrew.playback import describe
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.fades import showing
from onecrew.playback.lights import light_at
from onecrew.playback.state import Playback
from onecrew.show.base import Model
from onecrew.show.light import Light
from onecrew.show.profile import Mode, Profile
from onecrew.show.profile_words import slot_blocks
from onecrew.show.show import Show

SAME = 1e-6
"""Levels that differ by less are one."""


def moment_of(desk: Desk, now: float) -> dict[str, Any]:
    """What is sent at monotonic time ``now``, without the time on the wall."""
    playback, show = desk.playback, desk.show
    fade = describe.fade(playback, now, desk.compiled)
    reports = desk.encoder.report(desk.frame(now), show.camera.white_balance_k)
    lights = lights_of_now(playback, now, desk.compiled)
    return {
        "format": "onecrew-sheet",
        "version": 1,
        "show": show.name,
        "cue": _cue(show, playback.cue),
        "edited": sorted(describe.edited(playback, desk.compiled)),
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
            for fixture, light, report in zip(show.rig.fixtures, lights, reports, strict=True)
        ],
        "set_pieces": [plain(piece) for piece in show.rig.set_pieces],
        "camera": plain(show.camera),
        "room": plain(show.room),
        "kinds": kinds(show, desk.profiles),
    }


def lights_of_now(playback: Playback, now: float, compiled: CompiledShow) -> list[Light]:
    """What every lamp does at ``now`` as a document says it: as asked where it has arrived, else as it shows.

    Master, blackout, solo and without count; an effect stands as an effect; identify is left out.
    """
    time = playback.show_time(now)
    here = showing(playback.movement, time, compiled)
    moving = np.any(playback.movement.end > time, axis=0).tolist()
    shares = playback.shown.at(now) * playback.master.at(now) * playback.blackout.at(now)
    levels = np.clip(here.level * shares, 0.0, 1.0).tolist()
    lights = []
    for lamp, asked in enumerate(playback.asked):
        light = light_at(here, lamp, asked.effect) if moving[lamp] else asked
        if abs(light.level - levels[lamp]) > SAME:
            light = light.model_copy(update={"level": levels[lamp]})
        lights.append(light)
    return lights


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


def _cue(show: Show, number: str | None) -> dict[str, Any] | None:
    cue = show.cue(number) if number is not None else None
    return None if cue is None else {"number": cue.number, "name": cue.name, "note": cue.note}


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
