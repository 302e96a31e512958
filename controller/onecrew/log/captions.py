"""Captions: what the light did, as WebVTT (W3C) and SubRip text. Each stands until the next one comes."""

from __future__ import annotations

import html
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from onecrew.log.cut import Clip, Event
from onecrew.log.text import clean

TOGETHER_S = 0.04
"""What happens within a frame is one caption."""
SHORTEST_S = 0.001
LAST_S = 2.0
"""The last caption of a clip stands at least as long, if nothing follows."""


@dataclass(frozen=True, slots=True)
class Caption:
    begin_s: float
    end_s: float
    lines: tuple[str, ...]


def captions_of(clips: Sequence[Clip]) -> list[Caption]:
    """The captions of some clips, in order, none of them overlapping another; none before time 0."""
    captions: list[Caption] = []
    groups = [(group, clip) for clip in clips for group in _together(clip.events)]
    for (group, clip), following in zip(groups, [*groups[1:], None], strict=True):
        begin = max(0.0, group[0].at_s)
        end = max(clip.end_s, begin + LAST_S)
        if following is not None:
            next_at = following[0][0].at_s
            end = next_at if following[1] is clip else min(end, next_at)
        if end > 0.0:
            lines = tuple(line for event in group for line in (event.text, event.light) if line)
            captions.append(Caption(begin, max(end, begin + SHORTEST_S), lines))
    return captions


def web_vtt(captions: Sequence[Caption], title: str) -> str:
    """The captions as a WebVTT file. ``&`` and ``<`` are escaped, and ``-->`` is nowhere in a text.

    The title is on one line: a blank one would end its note."""
    blocks = [f"WEBVTT\n\nNOTE {html.escape(clean(title), quote=False)}"]
    for number, caption in enumerate(captions, start=1):
        lines = "\n".join(html.escape(line, quote=False) for line in caption.lines)
        blocks.append(f"{number}\n{_time(caption.begin_s, '.')} --> {_time(caption.end_s, '.')}\n{lines}")
    return "\n\n".join(blocks) + "\n"


def sub_rip(captions: Sequence[Caption]) -> str:
    """The captions as a SubRip (.srt) file. The format has no escapes, so the signs that players
    take for markup (``<i>``, ``{\\an8}``) and times are replaced by likenesses."""
    blocks = []
    for number, caption in enumerate(captions, start=1):
        lines = "\n".join(line.replace("-->", "→").translate(_NO_MARKUP) for line in caption.lines)
        blocks.append(f"{number}\n{_time(caption.begin_s, ',')} --> {_time(caption.end_s, ',')}\n{lines}\n")
    return "\n".join(blocks)


_NO_MARKUP = str.maketrans("<>{}\\", "‹›()/")


def _together(events: Sequence[Event]) -> Iterator[list[Event]]:
    group: list[Event] = []
    for event in events:
        if group and event.at_s - group[0].at_s >= TOGETHER_S:
            yield group
            group = []
        group.append(event)
    if group:
        yield group


def _time(seconds: float, point: str) -> str:
    whole = round(1000 * seconds)
    minutes, milliseconds = divmod(whole, 60_000)
    hours, minute = divmod(minutes, 60)
    second, thousandth = divmod(milliseconds, 1000)
    return f"{hours:02d}:{minute:02d}:{second:02d}{point}{thousandth:03d}"
