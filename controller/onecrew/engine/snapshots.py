"""Snapshots: the desk, its lamps and its outputs at one moment, as plain data for the link.

Built many times a second beside the 44 Hz loop, so it stays plain data; ``documents.snapshot.Snapshot`` is
its model, and a test holds the two together.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

from onecrew.engine.desk import Desk
from onecrew.fixtures.report import FixtureReport
from onecrew.playback import describe
from onecrew.playback.state import Take
from onecrew.show.base import Model
from onecrew.show.show import Show
from onecrew.show.snapshot import OutputState, Saved


def snapshot_of(
    desk: Desk,
    now: float,
    *,
    path: str,
    outputs: Sequence[OutputState],
    saved: Saved,
    remote: dict[str, Any],
    logged: Saved,
    pids: tuple[int, int | None],
    message: str,
    standby: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """The state of the engine in the shape of ``Snapshot``; ``pids`` of the engine and its supervisor."""
    playback, show = desk.playback, desk.show
    return {
        "show": show.name,
        "path": path,
        "revision": desk.revision,
        "cue": playback.cue,
        "cue_name": _name(show, playback.cue),
        "next": playback.next,
        "next_name": _name(show, playback.next),
        "fade": _plain(describe.fade(playback, now, desk.compiled)),
        "held": playback.held,
        "locked": playback.locked,
        "blackout": playback.dark,
        "comparing": playback.comparing,
        "master": float(playback.master.goal),
        "countdown": _plain(describe.countdown(playback, now)),
        "auto_follow_left_s": describe.auto_follow_left_s(playback, now),
        "take": _take(playback.take, now),
        "solo": playback.solo,
        "without": playback.without,
        "identify": playback.identify,
        "lights": _lights(desk, now),
        "outputs": [_plain(output) for output in outputs],
        "saved": _plain(saved),
        "remote": remote,
        "logged": _plain(logged),
        "undo": desk.undo_words,
        "redo": desk.redo_words,
        "standby": standby,
        "engine_pid": pids[0],
        "supervisor_pid": pids[1],
        "message": message,
    }


def _lights(desk: Desk, now: float) -> dict[str, dict[str, Any]]:
    changed = describe.edited(desk.playback, desk.compiled)
    going = describe.goals(desk.playback)
    reports = desk.encoder.report(desk.frame(now), desk.show.camera.white_balance_k)
    asked = desk.playback.asked
    return {
        report.id: {
            **_light(report),
            "effect": _plain(light.effect),
            "edited": report.id in changed,
            "goal_level": goal_level,
            "goal_xy": goal_xy,
        }
        for report, light, goal_level, goal_xy in zip(
            reports, asked, going.level.tolist(), going.xy.tolist(), strict=True
        )
    }


def _light(report: FixtureReport) -> dict[str, Any]:
    return {
        "level": report.level,
        "white": _plain(report.white),
        "xy": report.xy,
        "output": report.output,
        "slots": report.slots,
        "swatch": report.swatch,
        "notes": report.notes,
    }


def _take(take: Take | None, now: float) -> dict[str, Any] | None:
    if take is None:
        return None
    return {
        "setup": take.setup,
        "number": take.number,
        "running": take.running,
        "since": time.time() - (now - take.since) if take.running else None,
        "good": take.good,
        "note": take.note,
    }


def _name(show: Show, number: str | None) -> str:
    cue = show.cue(number) if number is not None else None
    return cue.name if cue is not None else ""


def _plain(model: Model | None) -> dict[str, Any] | None:
    return None if model is None else model.model_dump(mode="json")
