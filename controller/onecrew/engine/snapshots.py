"""Snapshots: the desk, its lamps and its outputs at one moment, as plain data for the link.

Built many times a second beside the 44 Hz loop, so it stays plain data, the lamps some at a time;
``show.snapshot.Snapshot`` is its model, and a test holds the two together.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from typing import Any

from onecrew.clock import on_the_wall
from onecrew.engine.desk import Desk
from onecrew.engine.state import State, state_of
from onecrew.fixtures.report import FixtureReport
from onecrew.playback.render import goals
from onecrew.playback.state import Take
from onecrew.show.base import Model
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
    message: tuple[str, int],
    standby: dict[str, Any] | None = None,
) -> tuple[dict[str, Any], Iterator[dict[str, Any]]]:
    """The state of the engine in the shape of ``Snapshot``, but for ``lights``, which come some at a time.

    ``pids`` of the engine and its supervisor; ``message`` is the latest remark and how many there were.
    """
    state = state_of(desk, now)
    playback = state.playback
    fields = {
        "show": state.show.name,
        "path": path,
        "revision": desk.revision,
        "cue": playback.cue,
        "cue_name": state.cue_name,
        "next": playback.next,
        "next_name": state.next.name if state.next is not None else "",
        "fade": _plain(state.fade),
        "held": playback.held,
        "locked": playback.locked,
        "blackout": playback.dark,
        "comparing": playback.comparing,
        "master": float(playback.master.goal),
        "countdown": _plain(state.countdown),
        "auto_follow_left_s": state.auto_follow_left_s,
        "take": _take(playback.take),
        "solo": playback.solo,
        "without": playback.without,
        "identify": playback.identify,
        "still": playback.still.words if playback.still is not None else None,
        "raised": _plain(state.raised),
        "kept_edits": {cue: [name for name, _ in edits] for cue, edits in playback.kept},
        "outputs": [_plain(output) for output in outputs],
        "saved": _plain(saved),
        "remote": remote,
        "logged": _plain(logged),
        "undo": desk.undo_words,
        "redo": desk.redo_words,
        "standby": standby,
        "engine_pid": pids[0],
        "supervisor_pid": pids[1],
        "message": message[0],
        "said": message[1],
    }
    return fields, _lights(state)


def _lights(state: State) -> Iterator[dict[str, Any]]:
    going = goals(state.playback)
    ways = zip(state.playback.asked, going.level.tolist(), going.xy.tolist(), strict=True)
    edited = state.edited
    for part in state.report_parts():
        yield {
            report.id: {
                **_light(report),
                "effect": _plain(light.effect),
                "edited": report.id in edited,
                "goal_level": goal_level,
                "goal_xy": goal_xy,
            }
            for report, (light, goal_level, goal_xy) in zip(part, ways, strict=False)
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


def _take(take: Take | None) -> dict[str, Any] | None:
    if take is None:
        return None
    # Two readings of two clocks never differ by quite the same: unrounded, each state had another beginning.
    since = round(on_the_wall(take.since, time.time, time.monotonic), 1)
    return {
        "setup": take.setup,
        "number": take.number,
        "running": take.running,
        "since": since if take.running else None,
        "good": take.good,
        "note": take.note,
    }


def _plain(model: Model | None) -> dict[str, Any] | None:
    return None if model is None else model.model_dump(mode="json")
