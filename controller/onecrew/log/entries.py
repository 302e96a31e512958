"""Entries of the take log: one thing that happened, and the line of JSON that says so.

A line is one object, UTF-8, ended by a line feed::

    {"n": 12, "at": "2026-01-05T14:02:11.123Z", "local": "+01:00", "mono": 5123.456789,
     "kind": "cue", "what": "go", "text": "go: cue 3 Ovens on", …}

``n`` rises by one with every entry of a log, across engines. ``at`` is wall-clock time in UTC, ``local`` the
offset of the clock on the wall, ``mono`` the machine's monotonic clock in seconds: lengths are taken from it
as long as the machine was not started anew in between (``boot`` in the entries of kind engine tells).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

HEAD = ("n", "at", "local", "mono", "kind", "what", "text")
KINDS = ("take", "cue", "light", "show", "output", "engine", "note", "match")


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: ``at`` seconds since 1970, ``offset_s`` local time less UTC, ``mono`` monotonic seconds."""

    n: int
    at: float
    offset_s: int
    mono: float
    kind: str
    what: str
    text: str
    data: Mapping[str, Any] = field(default_factory=dict)

    @property
    def local(self) -> datetime:
        """The time on the wall where it happened."""
        return datetime.fromtimestamp(self.at, timezone(timedelta(seconds=self.offset_s)))

    @property
    def local_offset(self) -> str:
        """'+01:00'."""
        return _offset(self.offset_s)

    @property
    def utc(self) -> str:
        """ISO 8601 in UTC with milliseconds."""
        moment = datetime.fromtimestamp(round(self.at, 3), UTC)
        return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def to_line(entry: Entry) -> bytes:
    """The entry as a line of the log, ended by a line feed and with none inside."""
    content = {
        "n": entry.n,
        "at": entry.utc,
        "local": entry.local_offset,
        "mono": round(entry.mono, 6),
        "kind": entry.kind,
        "what": entry.what,
        "text": entry.text,
        **{key: value for key, value in entry.data.items() if key not in HEAD},
    }
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for end in "\x85\u2028\u2029":  # some programs take these for the end of a line
        text = text.replace(end, f"\\u{ord(end):04x}")
    return text.encode("utf-8", "backslashreplace") + b"\n"


def from_line(line: bytes) -> Entry | None:
    """The entry in a line; None for one that is torn, or is no entry."""
    try:
        content = json.loads(line)
        at = datetime.fromisoformat(content["at"])
        if at.tzinfo is None:
            return None
        return Entry(
            n=int(content["n"]),
            at=at.timestamp(),
            offset_s=_seconds(content["local"]),
            mono=float(content["mono"]),
            kind=str(content["kind"]),
            what=str(content["what"]),
            text=str(content["text"]),
            data={key: value for key, value in content.items() if key not in HEAD},
        )
    except (ValueError, LookupError, TypeError, AttributeError, OverflowError, RecursionError):
        return None


def as_json(entry: Entry) -> dict[str, Any]:
    """The entry as the log has it, as plain data."""
    return dict(json.loads(to_line(entry)))


def _offset(seconds: int) -> str:
    minutes = abs(seconds) // 60
    return f"{'-' if seconds < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def _seconds(offset: str) -> int:
    sign = -1 if offset[0] == "-" else 1
    hours, minutes = offset[1:].split(":")
    found = sign * 60 * (60 * int(hours) + int(minutes))
    if abs(found) >= 86400:
        raise ValueError("no place on earth is a day ahead")
    return found
