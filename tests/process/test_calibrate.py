"""A calibration against a real engine: however it ends, no lamp is left alone at full."""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.process.house import WAIT_S, House
from tests.wire.e131_layout import Packet

PENDANT = 20
"""Slot of the pendant, from 0."""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    folder = tmp_path / "house"
    folder.mkdir()
    house = House(folder)
    yield house
    house.close()


def calibrate(house: House) -> subprocess.Popen[str]:
    """Starts ``onecrew calibrate`` with a pipe to type into, and waits for the lamp to be alone at full."""
    mark = len(house.ear.packets)
    process = house.start("calibrate", str(house.show), "window", typed=True)
    house.ear.wait(window_alone, mark)
    return process


def window_alone(packet: Packet) -> bool:
    return tuple(packet.slots[:2]) == (255, 255) and packet.slots[PENDANT] == 0


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM])
def test_killed_what_is_on_the_wire_is_what_was_before(house: House, sign: signal.Signals) -> None:
    house.engine()
    house.send("recall", "1", "in", "0s")
    house.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    house.send("set", "window", "12%")  # not stored: it must be there again too
    house.wait_status(lambda status: abs(status["lights"]["window"]["level"] - 0.12) < 0.001)
    mark = len(house.ear.packets)
    house.ear.wait(lambda _: len(house.ear.packets) > mark + 1, mark)
    before = tuple(house.ear.packets[-1][1].slots)
    process = calibrate(house)
    mark = len(house.ear.packets)
    os.kill(process.pid, sign)
    process.wait(WAIT_S)
    house.ear.wait(lambda packet: tuple(packet.slots) == before, mark)
    house.wait_status(lambda status: status["still"] is None)


def test_killed_with_an_engine_of_its_own_it_leaves_black(house: House) -> None:
    process = calibrate(house)
    mark = len(house.ear.packets)
    os.kill(process.pid, signal.SIGKILL)
    process.wait(WAIT_S)
    house.ear.wait(lambda packet: not any(packet.slots[:2]) and packet.slots[PENDANT] == 0, mark)
