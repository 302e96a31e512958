"""A client of the link made of a bare socket, so that the measured time is the engine's."""

from __future__ import annotations

import contextlib
import json
import socket
import threading
import time
from types import TracebackType
from typing import Any, Self


class BareLink:
    """Sends commands without waiting; reads and drops what comes back."""

    def __init__(self, endpoint: dict[str, Any], watch_hz: float | None = None) -> None:
        self._socket = socket.create_connection(("127.0.0.1", endpoint["port"]))
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._say({"hello": {"token": endpoint["token"]}})
        if watch_hz is not None:
            self._say({"watch": {"rate_hz": watch_hz}})
        self.bytes_heard = 0
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def command(self, command: dict[str, Any]) -> float:
        """Says it; returns when it was written, its words being ready."""
        return self._say({"id": 1, "command": command})

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._socket.shutdown(socket.SHUT_RDWR)
        self._reader.join()
        self._socket.close()

    def _say(self, message: dict[str, Any]) -> float:
        line = json.dumps(message).encode() + b"\n"
        written = time.monotonic()
        self._socket.sendall(line)
        return written

    def _read(self) -> None:
        with contextlib.suppress(ConnectionError):  # the engine was ended first
            while data := self._socket.recv(1 << 16):
                self.bytes_heard += len(data)
