"""Faults inside an engine under test, where the machine does not allow the real ones.

The interpreter loads this by itself when a test puts the folder on PYTHONPATH. A file of a fault's name in
the folder ONECREW_TEST_FAULTS turns it on, its removal off:

- ``disk-full``, ``read-only``: nothing can be made or replaced under the folder that the file names;
- ``network-down``: no datagram leaves;
- ``dies``: an engine dies at its start;
- ``wall-clock``: the wall clock is off by as many seconds as the file says.

ONECREW_TEST_AHEAD moves the monotonic clock, as that of a machine that was started at another time.
"""

import errno
import os
import socket
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

FOLDER = os.environ.get("ONECREW_TEST_FAULTS", "")


def told(fault: str) -> str | None:
    """What the file of a fault says, None while it is off."""
    try:
        return Path(FOLDER, fault).read_text()
    except OSError:
        return None


def on_disk(function: Callable[..., Any], writes: Callable[..., bool]) -> Any:
    """The function, failing as the system does while the disk is full or read-only."""

    def call(path: Any, *arguments: Any, **named: Any) -> Any:
        if writes(*arguments, **named):
            for fault, number in (("disk-full", errno.ENOSPC), ("read-only", errno.EROFS)):
                folder = told(fault)
                if folder and os.fspath(path).startswith(folder):
                    raise OSError(number, os.strerror(number), os.fspath(path))
        return function(path, *arguments, **named)

    return call


def on_network(function: Callable[..., Any]) -> Any:
    def call(self: socket.socket, *arguments: Any) -> Any:
        if self.type == socket.SOCK_DGRAM and told("network-down") is not None:
            raise OSError(errno.ENETUNREACH, os.strerror(errno.ENETUNREACH))
        return function(self, *arguments)

    return call


def on_the_wall(function: Callable[[], Any], unit: Callable[[float], Any]) -> Callable[[], Any]:
    return lambda: function() + unit(float(told("wall-clock") or 0.0))


def ahead_by(function: Callable[[], float], seconds: float) -> Callable[[], float]:
    return lambda: function() + seconds


if "ONECREW_TEST_AHEAD" in os.environ:
    time.monotonic = ahead_by(time.monotonic, float(os.environ["ONECREW_TEST_AHEAD"]))
if FOLDER:
    if told("dies") is not None and "onecrew.engine" in sys.orig_argv:
        os._exit(70)
    os.open = on_disk(os.open, lambda flags, *_, **__: bool(flags & (os.O_CREAT | os.O_WRONLY | os.O_RDWR)))
    os.replace = on_disk(os.replace, lambda *_, **__: True)
    os.mkdir = on_disk(os.mkdir, lambda *_, **__: True)
    socket.socket.send = on_network(socket.socket.send)  # type: ignore[method-assign]
    socket.socket.connect = on_network(socket.socket.connect)  # type: ignore[method-assign]
    time.time = on_the_wall(time.time, float)
    time.time_ns = on_the_wall(time.time_ns, lambda seconds: int(seconds * 1e9))
