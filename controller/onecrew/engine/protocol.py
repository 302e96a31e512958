"""Protocol: the lines that client and engine exchange, one JSON object a line, UTF-8.

=====================  =====================================================================
client → engine        ``{"hello": {"token": …}}`` first, then in any order
                       ``{"id": 7, "command": {"kind": "go"}}``
                       ``{"id": 8, "ask": "profiles", "with": {…}}``
                       ``{"watch": {"rate_hz": 15}}`` to be sent the state as it changes
engine → client        ``{"welcome": {"version": 1}}``
                       ``{"id": 7, "done": true}`` · ``{"id": 7, "refused": "sentence"}``
                       ``{"id": 8, "answer": {…}}``
                       ``{"snapshot": {…}}`` · ``{"show": {…}}``
                       ``{"goodbye": "sentence", "stopped": true}`` before the engine closes the connection
=====================  =====================================================================
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

VERSION = 1
HOST = "127.0.0.1"
LINE_LIMIT = 40 << 20
"""Longest line, bytes: the largest show that ``documents`` reads, written without its line breaks, fits."""
REPLY_S = 10.0
"""How long a client waits for a reply, seconds."""
SLOW_REPLY_S = 40.0
SLOW_TOPICS = frozenset({"rendition"})
"""Questions that the engine works on beside its loop; a client waits ``SLOW_REPLY_S`` for them."""
HELLO_LIMIT = 4096
"""Longest first line: a stranger gets no more memory than this."""


def pack(message: dict[str, Any]) -> bytes:
    """One message as a line."""
    return json.dumps(message, separators=(",", ":"), ensure_ascii=False).encode() + b"\n"


def unpack(line: bytes) -> dict[str, Any]:
    """A line as a message; raises ``ValueError`` with a sentence where it is none."""
    try:
        message = json.loads(line)
    except (ValueError, RecursionError):
        raise ValueError("a line is one JSON object in UTF-8; this one is not") from None
    if not isinstance(message, dict):
        raise ValueError("a line is one JSON object; this one is another kind of value")
    return message


class LineBuffer:
    """Cuts a stream of bytes into lines, never holding more than ``limit`` bytes of an unfinished one."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        self._rest = bytearray()

    def feed(self, data: bytes) -> Iterator[bytes]:
        """Yields the lines completed by ``data``; raises ``ValueError`` when one grows past the limit."""
        self._rest += data
        while (end := self._rest.find(b"\n")) >= 0:
            line = bytes(self._rest[:end])
            del self._rest[: end + 1]
            if len(line) > self.limit:
                break
            yield line
        else:
            if len(self._rest) <= self.limit:
                return
        self._rest.clear()
        raise ValueError(f"a line is at most {self.limit} bytes long; this one is longer")
