"""What the phone page is sent: the part of a snapshot and of a show that fits on a phone. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from onecrew.commands.command import Command
from onecrew.commands.light import SetLight
from onecrew.commands.table import TABLE
from onecrew.plan import saying
from onecrew.plan.forecast import Forecast
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot, TakeState

KINDS = frozenset(kind for kind, row in TABLE.items() if row.phone)
"""What a phone may do: run the show, not change it, and not end the engine."""
TRIM_STOPS = 1.0
"""Furthest step of a trim."""


def is_trim(command: Command) -> bool:
    """Whether a command moves one lamp's light by part of a stop, and does nothing else."""
    return (
        isinstance(command, SetLight)
        and len(command.fixtures) == 1
        and command.model_fields_set <= {"kind", "fixtures", "stops_by"}
        and abs(command.stops_by or 0.0) <= TRIM_STOPS
    )


def state_view(snapshot: Snapshot, wall: float) -> dict[str, Any]:
    """The state at Unix time ``wall``, small enough to be sent ten times a second over a bad network."""
    fade, countdown = snapshot.fade, snapshot.countdown
    return {
        "cue": snapshot.cue,
        "cue_name": snapshot.cue_name,
        "next": snapshot.next,
        "next_name": snapshot.next_name,
        "fade": None if fade is None else [round(fade.progress, 3), round(fade.left_s, 1)],
        "held": snapshot.held,
        "locked": snapshot.locked,
        "blackout": snapshot.blackout,
        "comparing": snapshot.comparing,
        "still": snapshot.still,
        "raised": None if snapshot.raised is None else snapshot.raised.words,
        "solo": snapshot.solo,
        "without": snapshot.without,
        "identify": snapshot.identify,
        "master": round(snapshot.master, 4),
        "countdown": None if countdown is None else [round(countdown.left_s, 1), countdown.command],
        "auto_follow_left_s": None
        if snapshot.auto_follow_left_s is None
        else round(snapshot.auto_follow_left_s, 1),
        "take": None if snapshot.take is None else _take(snapshot.take, wall),
        "lights": [
            [name, round(light.level, 3), light.swatch, light.edited]
            for name, light in snapshot.lights.items()
        ],
        "failing": sum(output.state == "failing" for output in snapshot.outputs),
        "outputs": len(snapshot.outputs),
        "unsaved": "" if snapshot.saved.ok else snapshot.saved.error,
    }


def _take(take: TakeState, wall: float) -> dict[str, Any]:
    """A phone's clock may be wrong, so it is sent how long the camera has been rolling, not since when."""
    elapsed_s = 0 if take.since is None else max(0, int(wall - take.since))
    return {"setup": take.setup, "number": take.number, "running": take.running, "elapsed_s": elapsed_s}


def reading_view(read: Sequence[Forecast]) -> list[dict[str, Any]]:
    """What a light meter would read at each subject, as short lines; without light there are none."""
    return [
        {"subject": found.subject, "lines": _reading_lines(found)}
        for found in read
        if any(lamp.output > 0.0 for lamp in found.lamps)
    ]


def _reading_lines(found: Forecast) -> list[str]:
    lines = [" ".join(filter(None, each)) for each in saying.readings(found)]
    lines += saying.ratios(found)
    if found.missing:
        lines.append(f"relative only: no photometry of {', '.join(found.missing)}")
    return lines


def show_view(show: Show) -> dict[str, Any]:
    """The show's name, its looks in their order, and whether a phone may trim lamps."""
    trim = show.remote.page is not None and show.remote.page.trim
    return {"name": show.name, "cues": [[cue.number, cue.name] for cue in show.cues], "trim": trim}
