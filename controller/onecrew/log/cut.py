"""Cut: entries on the time of the footage, ready to become captions or markers. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from onecrew.language import saying
from onecrew.log.takes import Take, Timed
from onecrew.log.text import clean
from onecrew.show.light import Light

TOLD = ("take", "cue", "light", "note", "output", "engine")
"""Kinds that say something about the light; edits of the show are not among them."""
LAST_S = 5.0
"""How long the last thing is shown where no end is known."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something to show: seconds of the footage, its kind, what to say, the light it gave in words, and how
    long it took until that light stood."""

    at_s: float
    kind: str
    text: str
    light: str = ""
    fade_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Clip:
    """A stretch of footage with what the light did in it. ``begin_s`` and ``end_s`` are its own time."""

    name: str
    reel: str
    begin_s: float
    end_s: float
    events: tuple[Event, ...]
    comments: tuple[str, ...] = ()
    camera: str = ""
    """Name of the camera's own clip; empty where nobody gave it."""


def clips_of_takes(takes: Sequence[Take], kinds: Sequence[str], zero_t: float, sync_s: float) -> list[Clip]:
    """A clip for each take; what happened at ``zero_t`` of the log stands at ``sync_s`` of the footage."""
    clips = []
    for take, after in zip(takes, [*takes[1:], None], strict=True):
        events = [event_of(timed, zero_t, sync_s) for timed in take.events if timed.entry.kind in kinds]
        begin = take.start.t - zero_t + sync_s
        last = take.end.t if take.end is not None else take.events[-1].t + LAST_S
        last = last if after is None else min(last, after.start.t)
        verdict = {True: "good", False: "bad", None: ""}[take.good]
        comments = [clean(said) for said in (verdict, *take.notes) if said]
        reel = f"{take.setup}_{take.number}"
        end = last - zero_t + sync_s
        clips.append(Clip(take.name, reel, begin, end, tuple(events), tuple(comments), clean(take.clip)))
    return clips


def clip_of(entries: Sequence[Timed], name: str, zero_t: float, sync_s: float) -> Clip:
    """One clip of entries that belong to no take."""
    events = tuple(event_of(timed, zero_t, sync_s) for timed in entries)
    begin = events[0].at_s if events else sync_s
    end = events[-1].at_s + LAST_S if events else sync_s + LAST_S
    return Clip(name, "AX", begin, end, events)


def event_of(timed: Timed, zero_t: float, sync_s: float) -> Event:
    """An entry on the time of the footage."""
    entry = timed.entry
    text = entry.text.removeprefix("go: ").removeprefix("recall: ")
    return Event(timed.t - zero_t + sync_s, entry.kind, clean(text), _light(entry.data), _fade(entry.data))


def _fade(data: Any) -> float:
    """How long it is until the light of a cue or a change stands, in seconds."""
    fade = data.get("fade")
    times = (fade.get("in_s"), fade.get("out_s")) if isinstance(fade, dict) else (data.get("fade_s"),)
    return _seconds(data.get("delay_s")) + max(map(_seconds, times))


def _seconds(value: object) -> float:
    """A time of the log; 0 for what is none."""
    return float(value) if isinstance(value, int | float) and 0.0 <= value <= 86400.0 else 0.0


def _light(data: Any) -> str:
    """The look of a cue, or what was sent at the start of a take, in words."""
    state, look = data.get("state"), data.get("look")
    found: dict[str, Any] = {}
    if isinstance(state, dict):
        for lamp in state.get("lamps", ()):
            found[lamp["fixture"]["id"]] = lamp["light"]
    elif isinstance(look, dict):
        found = look
    said = []
    for name, light in found.items():
        try:
            told = saying.said(Light.model_validate(light))
        except ValueError:
            continue
        if told != "off":
            said.append(f"{name} {told}")
    return clean(", ".join(said)) or ("black" if found or isinstance(look, dict) else "")
