"""OpenTimelineIO: takes and what the light did in them as a timeline in ``.otio`` JSON, with markers.

Written to the published schemas (opentimelineio.readthedocs.io, "Serialized schema documentation":
Timeline.1, Stack.1, Track.1, Gap.1, Clip.2, Marker.2, RationalTime.1, TimeRange.1). Times are counts of
frames at the exact rate, so that drop-frame labels cannot be lost: there are none. Names keep every letter.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from onecrew.log.cut import Clip, Event
from onecrew.log.timecode import Rate, frame_at, label

COLOURS = {"cue": "YELLOW", "light": "ORANGE", "take": "GREEN", "note": "CYAN"}
"""Colours of markers (the schema's own names) by the kind of entry; anything else is red."""
OURS = "onecrew"
"""Key of our metadata."""


def timeline(clips: Sequence[Clip], title: str, rate: Rate) -> str:
    """The timeline of some clips, each where its own time says, with a gap before it."""
    begun = [frame_at(clip.begin_s, rate) for clip in clips]
    zero = min(begun, default=0)
    children: list[dict[str, Any]] = []
    at = zero
    for clip, first in zip(clips, begun, strict=True):
        if first > at:
            children.append(_item("Gap.1", "", _range(0, first - at, rate)))
        last = max(frame_at(clip.end_s, rate), first + 1)
        children.append(_clip(clip, first, last, rate))
        at = last
    track = {**_item("Track.1", "Takes", None), "kind": "Video", "children": children}
    document = {
        "OTIO_SCHEMA": "Timeline.1",
        "name": title,
        "global_start_time": _time(zero, rate),
        "metadata": {},
        "tracks": {**_item("Stack.1", "tracks", None), "children": [track]},
    }
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _clip(clip: Clip, first: int, last: int, rate: Rate) -> dict[str, Any]:
    """A clip; its media is known by its name alone, the camera's where on record, with its own timecode."""
    made = _item("Clip.2", clip.name, _range(first, last - first, rate))
    made["metadata"] = {
        OURS: {"reel": clip.reel, "camera_clip": clip.camera, "comments": list(clip.comments)}
    }
    made["markers"] = [_marker(event, first, last, rate) for event in clip.events]
    missing: dict[str, Any] = {
        "OTIO_SCHEMA": "MissingReference.1",
        "name": clip.camera or clip.reel,
        "metadata": {},
        "available_range": None,
        "available_image_bounds": None,
    }
    made["media_references"] = {"DEFAULT_MEDIA": missing}
    made["active_media_reference_key"] = "DEFAULT_MEDIA"
    return made


def _marker(event: Event, first: int, last: int, rate: Rate) -> dict[str, Any]:
    """A marker; a fade's range is as long as the fade, within the clip."""
    at = min(max(frame_at(event.at_s, rate), first), last - 1)
    until = min(max(frame_at(event.at_s + event.fade_s, rate), at), last)
    return {
        "OTIO_SCHEMA": "Marker.2",
        "name": event.text,
        "comment": event.light,
        "color": COLOURS.get(event.kind, "RED"),
        "marked_range": _range(at, until - at, rate),
        "metadata": {OURS: {"kind": event.kind, "timecode": label(at, rate), "fade_s": event.fade_s}},
    }


def _item(schema: str, name: str, source_range: dict[str, Any] | None) -> dict[str, Any]:
    return {
        "OTIO_SCHEMA": schema,
        "name": name,
        "source_range": source_range,
        "effects": [],
        "markers": [],
        "enabled": True,
        "metadata": {},
    }


def _range(start: int, length: int, rate: Rate) -> dict[str, Any]:
    return {
        "OTIO_SCHEMA": "TimeRange.1",
        "start_time": _time(start, rate),
        "duration": _time(length, rate),
    }


def _time(frames: int, rate: Rate) -> dict[str, Any]:
    return {"OTIO_SCHEMA": "RationalTime.1", "value": float(frames), "rate": float(rate.fps)}
