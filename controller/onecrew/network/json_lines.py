"""JSON lines: messages as JSON objects, one a line, UTF-8, over a stream of bytes. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from pydantic_core import from_json

_ENCODER = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False)


def pack(message: dict[str, Any]) -> bytes:
    """One message as a line."""
    return as_json(message) + b"\n"


def as_json(value: Any) -> bytes:
    """A value as JSON in UTF-8, without spaces."""
    return _ENCODER.encode(value).encode()


def unpack(line: bytes) -> dict[str, Any]:
    """A line as a message; raises ``ValueError`` with a sentence where it is none."""
    try:
        message = from_json(line)
    except ValueError:
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
