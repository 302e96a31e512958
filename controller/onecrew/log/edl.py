"""EDL: takes and what the light did in them as an edit decision list of the CMX 3600 kind, with markers.

One event for each take, its source and its record time alike; every change of light is a marker, written as
the comment line ``* COMMENT: timecode text``.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from zlib import crc32

from onecrew.errors import Trouble
from onecrew.log.cut import Clip
from onecrew.log.text import plain_ascii
from onecrew.log.timecode import Rate, frame_at, label

MOST_EVENTS = 999
"""An event's number has three digits."""
LONGEST = 200
"""Letters of a text in one line."""
REEL = 8
"""Letters a reel's name may have."""
CHECKED = 3
"""Of these, hexadecimal digits of a checksum in a name that was cut."""


def edit_list(clips: Sequence[Clip], title: str, rate: Rate) -> str:
    """The EDL of some clips. Raises ``Trouble`` for more clips than an EDL holds."""
    if len(clips) > MOST_EVENTS:
        raise Trouble(
            f"an EDL holds {MOST_EVENTS} events and there are {len(clips)} takes: choose some by --since"
        )
    lines = [f"TITLE: {_text(title)}", f"FCM: {'DROP FRAME' if rate.drop else 'NON-DROP FRAME'}"]
    for number, clip in enumerate(clips, start=1):
        first = frame_at(clip.begin_s, rate)
        last = max(frame_at(clip.end_s, rate), first + 1)
        begin, end = label(first, rate), label(last, rate)
        lines.append("")
        lines.append(f"{number:03d}  {reel(clip.reel):<{REEL}} V     C        {begin} {end} {begin} {end}")
        lines.append(f"* FROM CLIP NAME: {_text(clip.camera or clip.name)}")
        if clip.camera:
            lines += _comments(clip.name)
        for comment in clip.comments:
            lines += _comments(comment)
        for event in clip.events:
            at = min(max(frame_at(event.at_s, rate), first), last - 1)
            lines += _comments(f"{label(at, rate)} {event.text}")
    return "\n".join(lines) + "\n"


def reel(name: str) -> str:
    """A reel's name: capitals, digits, underscores. Of a long one its end stays, which is the take's number.

    Before that stands a checksum of it all: names that begin alike, or have no letters of ASCII, differ.

    >>> reel("12A_3"), reel("kitchen, night_12"), reel("kitchen, late_12")
    ('12A_3', 'KIA80_12', 'KI66C_12')
    """
    plain = plain_ascii(name)
    known = "".join(c if c.isalnum() else "_" for c in plain.upper())
    if len(known) <= REEL and "?" not in plain:
        return known or "AX"
    head, _, tail = known.rpartition("_")
    tail = tail[-REEL:]
    checked = f"{crc32(name.encode('utf-8', 'replace')):08X}"[-CHECKED:]
    return f"{head[: max(0, REEL - 1 - CHECKED - len(tail))]}{checked}_{tail}"[-REEL:]


def _comments(text: str) -> list[str]:
    """As many comment lines as it takes; the first of a marker alone has its timecode."""
    return [f"* COMMENT: {line}" for line in wrap(plain_ascii(text), LONGEST)]


def _text(text: str) -> str:
    return plain_ascii(text)[:LONGEST]
