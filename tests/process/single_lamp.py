"""One lamp of ``sandbox.SHOW`` alone on the wire, and the light that was there before given back."""

from __future__ import annotations

import os
import signal
import subprocess

from tests.process.sandbox import WAIT_S, Sandbox
from tests.tui.test_session import Window
from tests.wire.e131_layout import Packet

WINDOW_FULL = (255, 255)
PENDANT = 20
"""Slot of the pendant, from 0."""


def dark(packet: Packet) -> bool:
    return tuple(packet.slots[:2]) == (0, 0) and packet.slots[PENDANT] == 0


def window_alone(packet: Packet) -> bool:
    return tuple(packet.slots[:2]) == WINDOW_FULL and packet.slots[PENDANT] == 0


def pendant_alone(packet: Packet) -> bool:
    return tuple(packet.slots[:2]) == (0, 0) and packet.slots[PENDANT] == 255


def steady(sandbox: Sandbox) -> tuple[int, ...]:
    """The slots that go out when all is still."""
    mark = len(sandbox.receiver.packets)
    sandbox.receiver.wait(lambda _: len(sandbox.receiver.packets) > mark + 1, mark)
    return tuple(sandbox.receiver.packets[-1][1].slots)


def at_rest(sandbox: Sandbox) -> tuple[int, ...]:
    """Starts an engine with a cue at rest, and returns what leaves of it."""
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    return steady(sandbox)


def kill_and_wait(
    process: subprocess.Popen[str], sign: signal.Signals, sandbox: Sandbox, before: tuple[int, ...]
) -> None:
    """Ends a process by a signal and waits for the light that was there before it."""
    mark = len(sandbox.receiver.packets)
    os.kill(process.pid, sign)
    process.wait(WAIT_S)
    is_back(sandbox, before, mark)


def end_and_wait(window: Window, end: str, sandbox: Sandbox, before: tuple[int, ...]) -> None:
    """Ends a dialog by Esc where that is said, or else kills the screens, and waits for the light before.

    "escape and drop": where something was read, which Esc asks about.
    """
    mark = len(sandbox.receiver.packets)
    if end.startswith("escape"):
        window.type("\x1b")
        if end == "escape and drop":
            window.child.expect("Drop what was read")
            window.type("d")
    else:
        window.child.kill(signal.SIGKILL)
    is_back(sandbox, before, mark)


def is_back(sandbox: Sandbox, before: tuple[int, ...], mark: int) -> None:
    """Waits for a light, and for the engine to show no still any more."""
    sandbox.receiver.wait(lambda packet: tuple(packet.slots) == before, mark)
    sandbox.wait_status(lambda status: status["still"] is None)
