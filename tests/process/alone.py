"""One lamp of ``house.SHOW`` alone on the wire, and the light that was there before given back."""

from __future__ import annotations

import os
import signal
import subprocess

from tests.process.house import WAIT_S, House
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


def steady(house: House) -> tuple[int, ...]:
    """The slots that go out when all is still."""
    mark = len(house.ear.packets)
    house.ear.wait(lambda _: len(house.ear.packets) > mark + 1, mark)
    return tuple(house.ear.packets[-1][1].slots)


def at_rest(house: House) -> tuple[int, ...]:
    """Starts an engine with a cue at rest, and returns what leaves of it."""
    house.engine()
    house.send("recall", "1", "in", "0s")
    house.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    return steady(house)


def kill_and_wait(
    process: subprocess.Popen[str], sign: signal.Signals, house: House, before: tuple[int, ...]
) -> None:
    """Ends a process by a signal and waits for the light that was there before it."""
    mark = len(house.ear.packets)
    os.kill(process.pid, sign)
    process.wait(WAIT_S)
    is_back(house, before, mark)


def is_back(house: House, before: tuple[int, ...], mark: int) -> None:
    """Waits for a light, and for the engine to show no still any more."""
    house.ear.wait(lambda packet: tuple(packet.slots) == before, mark)
    house.wait_status(lambda status: status["still"] is None)
